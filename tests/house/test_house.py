"""The house holds: imports go down only, each room stands alone, and help is quick."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOMS = (
    "domain.gate",
    "standards.fasteners",
    "profile.read",
    "fit.pattern",
    "store.journal",
    "acts",
    "checks",
    "packet.build",
    "cases",
    "shop",
    "cli",
    "demo.walk",
)
HEAVY = ("ezdxf", "scipy", "shapely", "sqlalchemy", "textual", "pint", "numpy", "pydantic", "cryptography")


def modules_after(code: str) -> set[str]:
    said = subprocess.run(
        [sys.executable, "-c", code + "\nimport sys; print(' '.join(sys.modules))"],
        capture_output=True,
        text=True,
        check=True,
    )
    return {name.partition(".")[0] for name in said.stdout.split()}


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_imports_in_a_fresh_process(room):
    assert "ledger" in modules_after(f"import ledger.{room}")


@pytest.mark.parametrize("room", ["domain.gate", "fit.pattern", "checks"])
def test_geometry_and_checks_reach_no_file_and_no_database(room):
    loaded = modules_after(f"import ledger.{room}\nfrom ledger.checks import all_checks; all_checks()")
    assert loaded.isdisjoint({"ezdxf", "sqlmodel", "sqlalchemy", "textual"})


def test_help_loads_nothing_heavy():
    code = "import sys; sys.argv = ['fitup', '--help']\nfrom tui.start import main\n"
    code += "try: main()\nexcept SystemExit: pass"
    assert modules_after(code).isdisjoint(HEAVY)


def test_the_readmes_table_is_that_of_the_checks_that_exist():
    from ledger.checks import readme_table

    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    shown = readme.partition("readme_table -->\n")[2].partition("\n<!-- end of checks")[0]
    assert shown == readme_table()


def test_the_readmes_keys_are_those_of_the_screens():
    from tui.actions import keys_table

    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    shown = readme.partition("keys_table -->\n")[2].partition("<!-- end of keys")[0]
    assert shown == keys_table()
