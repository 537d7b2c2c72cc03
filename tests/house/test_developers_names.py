"""Every module, folder and test that DEVELOPERS.md names is there."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
ROOMS = (ROOT, ROOT / "ledger", ROOT / "tui")
TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
NAMED = sorted(set(re.findall(r"(?<![\w/.])(?:[\w-]+/)*\w+\.py\b|\b(?:ledger|tests|tui)/[\w/]+\b", TEXT)))


@pytest.mark.parametrize("name", [n for n in NAMED if "NAME" not in n])
def test_what_developers_are_sent_to_is_there(name):
    assert any((room / name).exists() for room in ROOMS)


def test_many_are_named():
    assert len(NAMED) > 40


def test_every_line_of_who_can_do_what_names_its_test():
    section = TEXT.partition("## Who can do what")[2].partition("\n## ")[0]
    lines = [line.strip(" |").split(" | ") for line in section.splitlines() if line.startswith("| ")][1:]
    assert len(lines) > 30
    assert [line for line in lines if len(line) != 4 or not re.match(r"`(?:tests/|test_)", line[3])] == []


def test_every_test_that_developers_names_exists():
    named = set(re.findall(r"`(test_\w+)`", TEXT))
    tests = (p.read_text(encoding="utf-8") for p in (ROOT / "tests").rglob("test_*.py"))
    there = {name for text in tests for name in re.findall(r"^ *def (test_\w+)", text, re.MULTILINE)}
    assert len(named) > 20
    assert named <= there | {p.stem for p in (ROOT / "tests").rglob("test_*.py")}
