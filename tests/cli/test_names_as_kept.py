"""A name is the same however it was typed, and what is no name is refused before anything is written."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from ledger.cli import main
from ledger.job import Job

ROOT = Path(__file__).parents[2]
SPELLINGS = ["élan  low ", " e\u0301lan low", "\u00a0élan low", "e\u0301lan \t low"]


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)

    def command(*words):
        code = main(["--job", "fitup.db", *words, "--json"])
        return code, json.loads(capsys.readouterr().out)

    Job.start("fitup.db", "Pier mount", lambda _name: "").close()
    return command


@pytest.mark.parametrize("spelling", SPELLINGS)
def test_a_dimension_and_its_part_are_found_by_any_spelling_of_their_names(run, spelling):
    assert run("part", " PIER ")[0] == 0
    for size in ("300 mm", "310 mm"):
        code, said = run("dimension", "PIER\u00a0", spelling, size)
        assert (code, said["value"]) == (0, size)
    with Job("fitup.db", lambda _name: "") as job:
        assert [d.name for d in job.part("PIER").dimensions] == ["élan low"]


@pytest.mark.parametrize(
    "words",
    [
        ["part", "\udcff"],
        ["show", "\udcff"],
        ["dimension", "PIER", "\udcff", "300 mm"],
        ["dimension", "PIER", "len", "300 mm\udcff"],
        ["part", "a\x1bb"],
        ["--job", "x" * 5000, "parts"],
        ["--job", "x" * 5000, "start", "T"],
        ["look", "y" * 5000],
    ],
)
def test_what_cannot_be_a_name_is_refused_and_nothing_is_written(run, words):
    with Job("fitup.db", lambda _name: "") as job:
        before = len(list(job.journal()))
    code, said = run(*words)
    assert code in (2, 3)
    assert said["error"]["exit"] == code
    with Job("fitup.db", lambda _name: "") as job:
        assert len(list(job.journal())) == before


def test_every_exit_code_stands_in_the_readme():
    codes = {"0", "1", "70", "130"} | set(
        re.findall(r"exit_code = (\d+)", (ROOT / "ledger/domain/errors.py").read_text(encoding="utf-8"))
    )
    (line,) = [
        t
        for t in (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
        if t.startswith("| exit codes")
    ]
    assert codes <= set(re.findall(r"\b(\d+) ", line))


def test_a_part_opposite_to_another_is_of_the_opposite_hand_and_bolted_means_through(run):
    assert run("part", "ARM-L")[0] == 0
    assert run("part", "ARM-R", "--opposite-of", "ARM-L")[0] == 0
    assert run("connect", "ARM-L-ARM-R", "bolted", "ARM-L", "ARM-R", "--fastener", "M12")[0] == 0
    with Job("fitup.db", lambda _name: "") as job:
        assert (job.part("ARM-R").hand, job.part("ARM-R").opposite_of) == ("opposite", "ARM-L")
        assert job.connection_view("ARM-L-ARM-R").connection.joint == "through"
