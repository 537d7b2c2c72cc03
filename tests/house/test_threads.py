"""Linear algebra runs on one thread, unless the user says otherwise."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from ledger import THREADS, one_thread
from ledger.profile.child import _surroundings

COMMAND = """
import os
import sys
sys.argv = ['fitup', 'checks']
import tui.start
assert 'numpy' not in sys.modules
try:
    tui.start.main()
except SystemExit:
    pass
"""
ASKED = """
import os
import threadpoolctl
import numpy
print(os.environ['OPENBLAS_NUMTHREADS'], *{pool['num_threads'] for pool in threadpoolctl.threadpool_info()})
"""


def test_one_thread_is_set_where_nothing_is_said():
    said = {}
    one_thread(said)
    assert said == dict.fromkeys(THREADS, "1")


@pytest.mark.parametrize("name", THREADS)
def test_any_setting_of_the_users_own_wins(name):
    said = {name: "4"}
    one_thread(said)
    assert said == {name: "4"}


@pytest.mark.parametrize(
    "door", [COMMAND, "from ledger.job import Job", "import ledger.survey.solve", "import tui.app"]
)
def test_it_is_set_before_numpy_is_loaded_by_whichever_door(door):
    clean = {k: v for k, v in os.environ.items() if k not in THREADS}
    ran = subprocess.run(
        [sys.executable, "-c", door + "\n" + ASKED],
        env=clean,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=True,
    )
    assert ran.stdout.splitlines()[-1] == "1 1"


def test_a_child_of_the_reader_has_one_thread_whatever_its_parent_has(monkeypatch):
    for name in THREADS:
        monkeypatch.setenv(name, "4")
    assert {_surroundings(Path())[name] for name in THREADS} == {"1"}
