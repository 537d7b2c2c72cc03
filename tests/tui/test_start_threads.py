"""Linear algebra runs on one thread, unless the user says otherwise."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tui.start import _THREADS, one_thread

LOOK = """
import os
import sys
import tui.start
assert 'numpy' not in sys.modules
sys.argv = ['fitup', 'checks']
try:
    tui.start.main()
except SystemExit:
    print(os.environ['OPENBLAS_NUM_THREADS'])
"""


def test_one_thread_is_set_where_nothing_is_said():
    said = {}
    one_thread(said)
    assert said == dict.fromkeys(_THREADS, "1")


@pytest.mark.parametrize("name", _THREADS)
def test_any_setting_of_the_users_own_wins(name):
    said = {name: "4"}
    one_thread(said)
    assert said == {name: "4"}


def test_it_is_set_before_numpy_is_loaded():
    clean = {k: v for k, v in os.environ.items() if k not in _THREADS}
    ran = subprocess.run([sys.executable, "-c", LOOK], env=clean, capture_output=True, text=True, check=True)
    assert ran.stdout.splitlines()[-1] == "1"
