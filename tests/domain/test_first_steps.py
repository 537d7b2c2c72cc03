"""What to do first: the step that frees the most parts, through those that wait on others."""

from __future__ import annotations

from ledger.domain.finding import Finding
from ledger.domain.gate import judge
from ledger.domain.next_steps import first_steps
from ledger.domain.verdict import Policy


def stop(code, where):
    return Finding(code, code, where=where)


def verdict(part, *stops):
    from ledger.domain.verdict import Outcome

    outcome = Outcome("rule", part, "ran", tuple(stops), "")
    return judge(
        part=part,
        revision="A",
        subject="0" * 64,
        outcomes=(outcome,),
        signatures=(),
        permits=(),
        policy=Policy(),
    )


def test_what_others_wait_on_goes_before_what_only_one_part_lacks():
    found = first_steps(
        [
            verdict("ARM", stop("partner_open", "ARM-BASE/BASE"), stop("material_missing", "material")),
            verdict("COVER", stop("partner_open", "COVER-ARM/ARM")),
            verdict("BASE", stop("question_open", "Q1")),
        ]
    )
    assert [(s.finding.code, s.frees) for s in found] == [
        ("question_open", ("ARM", "BASE", "COVER")),
        ("material_missing", ("ARM", "COVER")),
    ]
    assert [s.alone for s in found] == [("BASE",), ("ARM",)]


def test_a_matter_of_a_connection_is_one_step_for_both_its_parts():
    gap = stop("not_measured", "ARM-BASE/rim")
    (step,) = first_steps([verdict("ARM", gap), verdict("BASE", gap)])
    assert step.stops == ("ARM", "BASE")


def test_the_same_matter_on_two_parts_is_two_steps():
    found = first_steps([verdict(n, stop("material_missing", "material")) for n in ("ARM", "BASE")])
    assert [s.part for s in found] == ["ARM", "BASE"]


def test_parts_that_wait_on_each_other_end():
    (step,) = first_steps(
        [
            verdict("A", stop("partner_open", "A-B/B"), stop("question_open", "Q1")),
            verdict("B", stop("partner_open", "A-B/A")),
        ]
    )
    assert step.frees == ("A", "B")


def test_signatures_alone_are_no_steps():
    assert first_steps([verdict("A")]) == ()
