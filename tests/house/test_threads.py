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
print(os.environ['OPENBLAS_NUM_THREADS'], *{pool['num_threads'] for pool in threadpoolctl.threadpool_info()})
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


LATE = """
import numpy
import threadpoolctl
from ledger.domain.one_thread import on_one_thread
from ledger.survey import blame, solve
from ledger.survey.network import Network, Tie

seen = []

def threads(*args, real=solve.weighed):
    seen.append({pool['num_threads'] for pool in threadpoolctl.threadpool_info()})
    return real(*args)

solve.weighed = threads
ties = [Tie(a, b, mm, 0.5) for a, b, mm in (('A', 'B', 300.0), ('B', 'C', 400.0), ('A', 'C', 500.0), ('A', 'D', 400.0),
        ('B', 'D', 500.0), ('C', 'D', 330.0))]
blame.off_readings(solve.solve(Network(tuple('ABCD'), tuple(ties), dim=2)))
print(max(seen[0] | seen[-1]), max(pool['num_threads'] for pool in threadpoolctl.threadpool_info()))
"""


@pytest.mark.parametrize(
    ("said", "within", "after"), [({}, "1", "3"), ({"FITUP_TEST_THREADS": "3"}, "3", "3")]
)
def test_a_program_that_had_numpy_first_solves_on_one_thread_and_has_its_own_again(said, within, after):
    """Threads that the program set for itself stay where it said so."""
    clean = {k: v for k, v in os.environ.items() if k not in THREADS} | said
    first = "import numpy, os, threadpoolctl\nthreadpoolctl.threadpool_limits(3)\n"
    first += "if 'FITUP_TEST_THREADS' in os.environ: os.environ['OMP_NUM_THREADS'] = '3'\n"
    ran = subprocess.run(
        [sys.executable, "-c", first + LATE],
        env=clean,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=True,
    )
    assert ran.stdout.strip() == f"{within} {after}"


def test_a_child_of_the_reader_has_one_thread_whatever_its_parent_has(monkeypatch):
    for name in THREADS:
        monkeypatch.setenv(name, "4")
    assert {_surroundings(Path())[name] for name in THREADS} == {"1"}
