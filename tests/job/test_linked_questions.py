"""What questions block and wait for, rings of waiting, and what is to be decided first."""

from __future__ import annotations

import pytest

from ledger.acts.connections import RequireClearance
from ledger.acts.questions import AnswerQuestion, AskQuestion, LinkQuestion
from ledger.domain.errors import BadInput, UnknownName


def ask(bench, number, ident, **links):
    bench.do(AskQuestion, number=number, ident=ident, text=f"{ident}?", **links)


def stops(bench, number):
    (verdict,) = bench.job.verdicts([number])
    return {s.where: s.message for s in verdict.stops if s.code == "question_open"}


@pytest.mark.both
def test_a_question_blocks_the_parts_and_the_connections_it_names(bench):
    bench.plate("ARM")
    ask(bench, "ARM", "Q1", holds_up=("TURN-BASE",))
    assert stops(bench, "TURN") == {"ARM/Q1": "Q1 of ARM, which holds this up, is still to be decided: Q1?"}
    assert set(stops(bench, "BASE")) == {"ARM/Q1"}
    bench.do(AnswerQuestion, number="ARM", ident="Q1", answer="yes")
    assert stops(bench, "TURN") == {}


def test_what_it_waits_for_is_told_until_it_is_known(bench):
    bench.do(RequireClearance, connection="TURN-BASE", name="gap", required=">= 1 mm")
    ask(bench, "BASE", "Q2")
    ask(bench, "BASE", "Q1", depends_on=("Q2", "TURN-BASE/gap", "TURN"), needed_by="2026-02-01")
    said = stops(bench, "BASE")["Q1"]
    assert said == (
        "still to be decided (by 2026-02-01, which is past): Q1?; it depends on Q2, TURN-BASE/gap, TURN"
    )
    bench.do(AnswerQuestion, number="BASE", ident="Q2", answer="yes")
    bench.job.measure("TURN-BASE", "gap", "5 ±0.1 mm feeler", by="Mira")
    assert stops(bench, "BASE")["Q1"].endswith("it depends on TURN")


def test_a_ring_of_waiting_is_refused_with_its_names(bench):
    ask(bench, "BASE", "Q1")
    ask(bench, "TURN", "Q2", depends_on=("BASE/Q1",))
    with pytest.raises(BadInput, match="it would depend on itself: Q1 of BASE -> Q2 of TURN -> Q1 of BASE"):
        bench.do(LinkQuestion, number="BASE", ident="Q1", depends_on=("TURN/Q2",))
    with pytest.raises(BadInput, match="Q1 of BASE -> TURN -> Q2 of TURN -> Q1 of BASE"):
        bench.do(LinkQuestion, number="BASE", ident="Q1", depends_on=("TURN",))
    with pytest.raises(BadInput, match="it would depend on itself: Q3 of BASE -> BASE -> Q3 of BASE"):
        ask(bench, "BASE", "Q3", depends_on=("BASE",))
    with pytest.raises(BadInput, match="it would depend on itself"):
        bench.do(LinkQuestion, number="BASE", ident="Q1", depends_on=("Q1",))


@pytest.mark.parametrize(
    ("links", "why"),
    [
        ({"holds_up": ("TRUN",)}, "no part or connection 'TRUN'.*TURN"),
        ({"depends_on": ("BASE/Q9",)}, "no question, part or clearance 'BASE/Q9'"),
        ({"needed_by": "soon"}, "expected YYYY-MM-DD"),
    ],
)
def test_what_is_not_there_is_refused(bench, links, why):
    with pytest.raises((BadInput, UnknownName), match=why):
        ask(bench, "BASE", "Q1", **links)


def test_what_others_wait_for_comes_first_and_frees_what_they_stop(bench):
    for number in ("ARM", "LID"):
        bench.plate(number)
    ask(bench, "BASE", "Q1")
    ask(bench, "TURN", "Q2", depends_on=("BASE/Q1",), holds_up=("ARM", "LID"))
    found = [s for s in bench.job.first_steps() if s.finding.code == "question_open"]
    assert (found[0].finding.where, found[0].depends_on) == ("Q1", ())
    assert set(found[0].frees) == {"ARM", "BASE", "LID", "TURN"}
    assert found[1].depends_on == ("Q1",)
    assert set(found[1].stops) == {"ARM", "LID", "TURN"}


def test_a_question_without_links_reads_the_same_as_ever(bench):
    ask(bench, "BASE", "Q1")
    (asked,) = bench.job.part("BASE").questions
    assert asked.to_json() == {"ident": "Q1", "text": "Q1?", "answer": ""}
    assert bench.job.verify() == ()
