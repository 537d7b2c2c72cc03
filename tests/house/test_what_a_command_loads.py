"""What a command loads: no more of the heavy libraries than its own work needs, so that it answers soon."""

from __future__ import annotations

import subprocess
import sys

import pytest
from small_job import small_job

from ledger.store.journal import now

HEAVY = {
    *("ezdxf", "scipy", "shapely", "numpy", "sqlmodel", "sqlalchemy"),
    *("textual", "reportlab", "jinja2", "PIL", "pint", "rich", "segno"),
}
DATABASE = {"sqlmodel", "sqlalchemy"}
RUN = """
import sys
from ledger.cli import main
code = main(sys.argv[1:])
print(code, *sys.modules, file=sys.stderr)
"""


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    place = str(tmp_path_factory.mktemp("job") / "fitup.db")
    small_job(place, now).close()
    return place


@pytest.mark.parametrize(
    ("command", "may"),
    [
        ("checks", {"numpy", "shapely"}),
        ("people", DATABASE),
        ("root", DATABASE),
        ("seal", DATABASE),
        ("journal", DATABASE),
        ("part P7 --material S235JR --by Mira", DATABASE),
        ("undo --by Mira", DATABASE),
    ],
)
def test_a_command_loads_only_what_it_needs(command, may, job):
    words = command.split() if command == "checks" else ["--job", job, *command.split()]
    ran = subprocess.run([sys.executable, "-c", RUN, *words], capture_output=True, text=True, check=True)
    code, *loaded = ran.stderr.split("\n")[-2].split()
    assert code == "0", ran.stderr
    assert {name.partition(".")[0] for name in loaded} & HEAVY <= may
