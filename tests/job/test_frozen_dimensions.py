"""Held dimensions over revisions: what keeps them, what lets go of them, and where their earlier values stand."""

from __future__ import annotations

import json

import pytest

from ledger.acts.dimensions import RecordDimension
from ledger.acts.parts import NewRevision
from ledger.cli import main

BOTH = ("BASE", "TURN")


@pytest.fixture
def revised(bench):
    """BASE was locked with its pitch frozen at 160 mm; revision B is open."""
    bench.do(RecordDimension, number="BASE", name="pitch", nominal="160 mm", frozen=True)
    bench.lock(*BOTH)
    bench.do(NewRevision, number="BASE", reason="wider")
    return bench


def pitch(bench):
    (found,) = (d for d in bench.job.part("BASE").dimensions if d.name == "pitch")
    return found


def test_letting_go_of_a_dimension_does_not_free_it_in_the_same_revision(revised):
    revised.do(RecordDimension, number="BASE", name="pitch", nominal="160 mm")
    assert "frozen_released" in {f.code for f in revised.job.verdicts(["BASE"])[0].warnings}
    revised.do(RecordDimension, number="BASE", name="pitch", nominal="170 mm")
    assert "frozen_changed" in revised.codes("BASE")
    revised.job.permit("BASE", "Jonas", code="frozen_changed", place="pitch", reason="agreed", up_to="170 mm")
    assert "frozen_changed" not in revised.codes("BASE")


def test_it_is_free_in_the_revision_after_and_says_what_it_was(revised):
    revised.do(RecordDimension, number="BASE", name="pitch", nominal="170 mm")
    assert pitch(revised).marks == ("no longer frozen: 160 mm in A",)
    revised.job.permit("BASE", "Jonas", code="frozen_changed", place="pitch", reason="agreed")
    revised.lock("BASE")
    revised.do(NewRevision, number="BASE", reason="wider still")
    revised.do(RecordDimension, number="BASE", name="pitch", nominal="180 mm")
    assert "frozen_changed" not in revised.codes("BASE")
    assert pitch(revised).marks == ()


def test_its_value_in_every_revision_that_held_it_stands_beside_it(revised):
    revised.do(RecordDimension, number="BASE", name="pitch", nominal="170 mm", frozen=True)
    revised.job.permit("BASE", "Jonas", code="frozen_changed", place="pitch", reason="agreed")
    revised.lock("BASE")
    revised.do(NewRevision, number="BASE", reason="third")
    assert pitch(revised).frozen_before == (("A", "160 mm"), ("B", "170 mm"))
    assert pitch(revised).marks == ("frozen: 160 mm in A, 170 mm in B",)
    assert revised.job.verify() == ()


def test_a_dimension_written_anew_keeps_what_is_not_named(bench, capsys, monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")

    def told(*words):
        code = main(["dimension", "BASE", *words, "--job", bench.place, "--json"])
        said = json.loads(capsys.readouterr().out)
        return said["error"]["message"] if code else pitch(bench.reopen() and bench)

    made = told("pitch", "160 mm", "--limits", "±0.2", "--on", "width", "--frozen", "--critical")
    assert (made.frozen, made.critical, str(made.measured_on or "")) == (True, True, "width")
    made = told("pitch", "161 mm")
    assert (made.frozen, made.critical, str(made.measured_on or ""), made.limits.written) == (
        True,
        True,
        "width",
        "±0.2 mm",
    )
    made = told("pitch", "161 mm", "--no-frozen", "--no-critical", "--on", "", "--limits", "160.8..161.2 mm")
    assert (made.frozen, made.critical, str(made.measured_on or "")) == (False, False, "")
    assert "two sizes" in told("pitch", "162 mm")
    assert told("pitch", "162H9").limits.written == "H9"
