"""What an earlier program kept is told apart from what this one would say, whichever of its files changed."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import ledger

PROGRAM = Path(ledger.__file__).parent
ROOMS = ("cases", "checks", "domain", "fit", "judge", "profile", "standards", "survey")


@pytest.fixture(scope="module")
def copied(tmp_path_factory):
    folder = tmp_path_factory.mktemp("program")
    shutil.copytree(PROGRAM, folder / "ledger", ignore=shutil.ignore_patterns("__pycache__"))
    return folder


def builds(folder, changed):
    """The build of the program in a folder, and with each of these files changed, one at a time."""
    asks = f"""
from ledger.judge.build import build
from pathlib import Path
print(build.__wrapped__())
for path in map(Path, {[str(p) for p in changed]!r}):
    whole = path.read_bytes()
    path.write_bytes(whole + b"\\n")
    print(build.__wrapped__())
    path.write_bytes(whole)
"""
    said = subprocess.run(
        [sys.executable, "-c", asks], cwd=folder, capture_output=True, text=True, check=True
    )
    return said.stdout.split()


def test_a_change_to_any_room_that_a_verdict_depends_on_is_another_build(copied):
    changed = [min((copied / "ledger" / room).rglob("*.py")) for room in ROOMS]
    tables = [min((copied / "ledger" / "standards").rglob("*.toml"))]
    before, *after = builds(copied, [*changed, *tables])
    assert len({before, *after}) == 1 + len(changed) + len(tables)
