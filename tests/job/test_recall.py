"""What is out, looked at once more: after a new measurement of the structure; nothing locked is altered."""

from __future__ import annotations

import json

import pytest
from bench_job import CORNERS, plate_dxf

from ledger.acts.parts import NameGroup, NewRevision, RecordHole
from ledger.acts.questions import AskQuestion
from ledger.cli import main


def studs(bench, moved=0.0):
    for k, (x, y) in enumerate(CORNERS, 1):
        at = {"x": f"{x + (moved if k == 2 else 0)} mm", "y": f"{y} mm"}
        bench.do(RecordHole, number="PIER", label=f"S{k}", diameter="12 mm", uncertainty="0.1 mm", **at)


@pytest.fixture
def out(bench):
    """BASE stands on a pier, TURN on BASE; all are locked."""
    bench.job.write_part("PIER", {"title": "pier", "form": "site"}, by="Mira")
    studs(bench)
    plies = ({"part": "BASE", "group": "bolts"}, {"part": "PIER"})
    bench.connection(name="BASE-PIER", plies=plies, joint="stud", fastener="M12")
    bench.lock("BASE", "PIER", "TURN")
    return bench


def test_as_long_as_nothing_was_measured_again_nothing_is_recalled(out, capsys):
    assert out.job.recalls() == ()
    assert main(["--job", out.place, "recall"]) == 0
    assert "every locked part would be GO again" in capsys.readouterr().out


def test_a_structure_measured_again_recalls_what_stands_on_it_and_nothing_else(out, capsys):
    before = [row for row in out.job.revisions("BASE") if row.locked]
    out.do(NewRevision, number="PIER", reason="measured again")
    studs(out, moved=4.0)
    (found,) = out.job.recalls() or ()
    assert (found.part, found.revision) == ("BASE", "A")
    assert {s.code for s in found.stops} >= {"offset"}
    assert [row for row in out.job.revisions("BASE") if row.locked] == before
    (verdict,) = out.job.verdicts(["BASE"])
    assert verdict.go
    assert main(["--job", out.place, "--json", "recall"]) == 1
    assert [r["part"] for r in json.loads(capsys.readouterr().out)["recalled"]] == ["BASE"]
    assert main(["--job", out.place, "next"]) == 0
    assert capsys.readouterr().out.startswith("BASE A was GO, would be NO-GO: ")
    assert out.job.verify() == ()


def test_measured_again_as_good_as_before_recalls_nothing(out):
    out.do(NewRevision, number="PIER", reason="measured again")
    studs(out, moved=0.05)
    assert out.job.recalls() == ()


def test_what_is_still_being_drawn_recalls_nothing_that_is_out(out):
    out.plate("ARM", plate_dxf(((26.0, 20.0), *CORNERS[1:])))
    labels = tuple(h.label for h in out.job.part("ARM").holes)
    out.do(NameGroup, number="ARM", name="feet", labels=labels)
    plies = ({"part": "ARM", "group": "feet"}, {"part": "TURN", "group": "bolts"})
    out.connection(name="ARM-TURN", plies=plies)
    out.do(AskQuestion, number="ARM", ident="Q1", text="which way up?", holds_up=("ARM-TURN",))
    assert "offset" in out.codes("ARM")
    assert out.job.recalls() == ()


def test_where_more_is_out_than_is_looked_at_beside_something_else_it_is_said(out, capsys, monkeypatch):
    assert out.job.recalls(1) is None
    assert out.job.recalls(2) == ()
    monkeypatch.setattr("ledger.domain.recall.MOST_AT_ONCE", 1)
    assert main(["--job", out.place, "next"]) == 0
    assert "were not looked at again: fitup recall" in capsys.readouterr().out
