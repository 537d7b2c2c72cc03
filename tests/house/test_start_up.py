"""
What a command does not need is not loaded: a person waits for every library that is.

Each command runs in a process of its own, in a job where that is asked for, and says which libraries it has loaded.
"""

from __future__ import annotations

import subprocess
import sys

import pytest
from small_job import MovingClock, small_job

HEAVY = {
    "numpy",
    "scipy",
    "shapely",
    "ezdxf",
    "pint",
    "reportlab",
    "sqlmodel",
    "textual",
    "cryptography",
    "jinja2",
}
# Which of them a command may load.
MAY_LOAD = {
    "--version": set(),
    "--help": set(),
    "checks": {"numpy", "shapely"},  # it lists rules, which know what they calculate with
    "people": {"sqlmodel"},
    "journal": {"sqlmodel"},
    "seal": {"sqlmodel"},
    "undo --by Mira": {"sqlmodel"},
}

RUN = """
import sys
from tui.start import main
sys.argv = ["fitup", *sys.argv[1:]]
try:
    main()
except SystemExit:
    pass
print("loaded", *sorted({m.partition(".")[0] for m in sys.modules}), file=sys.stderr)
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    home = tmp_path_factory.mktemp("job")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FITUP_KEYS", str(home / "keys"))
        patch.setenv("FITUP_CACHE", str(home / "cache"))
        small_job(str(home / "fitup.db"), MovingClock()).close()
        yield home


def loaded(folder, command):
    done = subprocess.run(
        [sys.executable, "-c", RUN, *command.split()],
        cwd=folder,
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    assert done.stdout.strip()
    return HEAVY & set(done.stderr.split("loaded ")[-1].split())


@pytest.mark.parametrize("command", MAY_LOAD)
def test_a_command_loads_no_library_that_it_does_not_need(folder, command):
    assert loaded(folder, command) <= MAY_LOAD[command]


def test_a_library_that_is_loaded_is_seen(folder):
    assert "sqlmodel" in loaded(folder, "people")
