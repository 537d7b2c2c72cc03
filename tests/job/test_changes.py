"""What changed since somebody signed, and from revision to revision: states are compared, not entries listed."""

from __future__ import annotations

import json

import pytest
from bench_job import CORNERS, plate_dxf
from fact_rows import dump_facts

from ledger.acts.connections import RemoveConnection, RequireClearance
from ledger.acts.dimensions import RecordDimension
from ledger.acts.parts import NameGroup, NewRevision, RecordHole, RecordOperation
from ledger.acts.questions import AnswerQuestion, AskQuestion
from ledger.domain.errors import UnknownName
from ledger.history import revisions as history
from ledger.job import follow
from ledger.store.as_of import facts_at
from ledger.store.replay import sealed_rows

BOTH = ("BASE", "TURN")


def since(bench, number="TURN", person="Mira"):
    return bench.job.changes_since(number, person)


def words(bench, number="TURN"):
    return [c.words for c in since(bench, number).changes]


def take(bench, number, *points, **sizes):
    bench.job.take_profile(number, f"{number}.dxf", plate_dxf(points or CORNERS, **sizes), by="Mira")


def dimension(bench, **fields):
    whole = {"number": "TURN", "name": "width", "nominal": "200 mm", "limits": "±0.2", "measured_on": "width"}
    bench.do(RecordDimension, **{**whole, **fields})


def test_who_never_signed_is_said_to_have_never_signed(bench):
    assert since(bench).words == "Mira never signed TURN before"
    assert not since(bench).signed_before


def test_right_after_a_signature_nothing_has_changed(bench):
    bench.sign_all(*BOTH)
    told = since(bench)
    assert told.changes == ()
    assert told.words == "Mira signed TURN A as drawn on 2026-03-02: nothing changed since"


def test_an_unknown_person_or_part_is_refused_with_the_nearest_names(bench):
    with pytest.raises(UnknownName, match="Mira"):
        since(bench, person="Mara")
    with pytest.raises(UnknownName, match="TURN"):
        since(bench, number="TURM")


FIELDS = [
    ({"title": "turntable"}, "title: plate -> turntable"),
    ({"material": "S355"}, "material: S275 -> S355"),
    ({"thickness": "12 mm"}, "thickness: 10 mm -> 12 mm"),
    ({"coating": "zinc"}, "coating: new, zinc"),
    ({"coating_thickness": "0.07 mm"}, "coating thickness: new, 0.07 mm"),
    ({"process": "plasma"}, "process: laser -> plasma"),
    ({"quantity": 3}, "quantity: 2 -> 3"),
    ({"hand": "as drawn"}, "hand: either -> as drawn"),
    ({"unconnected": True}, "unconnected: no -> yes"),
    ({"note": "deburr"}, "note: new, deburr"),
]


@pytest.mark.parametrize(("fields", "line"), FIELDS, ids=[next(iter(f)) for f, _ in FIELDS])
def test_a_field_of_the_record_is_told_old_and_new(bench, fields, line):
    bench.sign_all(*BOTH)
    bench.job.write_part("TURN", fields, by="Mira")
    assert words(bench) == [line]


ACTS = [
    (lambda b: dimension(b, nominal="200.1 mm"), ["dimension width: 200 mm -> 200.1 mm"]),
    (lambda b: dimension(b, limits="±0.1"), ["limits width: ±0.2 mm -> ±0.1 mm"]),
    (
        lambda b: dimension(b, frozen=True, critical=True),
        ["frozen width: no -> yes", "critical width: no -> yes"],
    ),
    (
        lambda b: dimension(b, name="lip", nominal="3 mm", limits="", measured_on=""),
        ["dimension lip: new, 3 mm, given"],
    ),
    (
        lambda b: b.do(RecordOperation, number="TURN", labels=("H2",), operation="reamed"),
        ["hole operation H2: new, reamed"],
    ),
    (lambda b: b.do(NameGroup, number="TURN", name="left", labels=("H1",)), ["hole group left: new, H1"]),
    (
        lambda b: b.do(AskQuestion, number="TURN", ident="Q1", text="which side?"),
        ["question Q1: new, which side?"],
    ),
    (
        lambda b: b.do(
            RequireClearance, connection="TURN-BASE", name="edge", required=">= 2 mm", critical=True
        ),
        ["clearance required TURN-BASE/edge: new, >= 2 mm, critical"],
    ),
    (lambda b: b.connection(fastener="M10"), ["connection fastener TURN-BASE: M12 -> M10"]),
    (
        lambda b: b.connection("SECOND"),
        ["connection SECOND: new, bolted, joint through, fastener M12, plies TURN:bolts on BASE:bolts"],
    ),
    (
        lambda b: b.do(RemoveConnection, name="TURN-BASE", reason="not meant"),
        [
            "connection TURN-BASE: gone, was bolted, joint through, fastener M12, plies TURN:bolts on BASE:bolts"
        ],
    ),
    (lambda b: b.policy(roles=("drawn",)), ["roles that sign: drawn, checked -> drawn"]),
    (
        lambda b: b.policy(roles=("drawn", "checked"), raised=("hole_moved",)),
        ["warnings that stop: new, hole_moved"],
    ),
]


@pytest.mark.parametrize(("act", "lines"), ACTS)
def test_what_an_act_changed_is_told(bench, act, lines):
    bench.sign_all(*BOTH)
    act(bench)
    assert words(bench) == lines


def test_an_answer_is_told_and_a_question_that_stands_is_not(bench):
    bench.sign_all(*BOTH)
    bench.do(AskQuestion, number="TURN", ident="Q1", text="which side?")
    bench.do(AnswerQuestion, number="TURN", ident="Q1", answer="the brushed one")
    bench.job.sign(["TURN"], "drawn", "Mira", {})
    assert words(bench) == []
    bench.do(AnswerQuestion, number="TURN", ident="Q1", answer="the other one")
    assert words(bench) == ["answer to Q1: the brushed one -> the other one"]


def test_a_clearance_measured_and_measured_again_is_told(bench):
    bench.do(RequireClearance, connection="TURN-BASE", name="edge", required=">= 2 mm")
    bench.job.measure("TURN-BASE", "edge", "2.8 ±0.1 mm feeler", by="Jonas")
    bench.sign_all(*BOTH)
    bench.job.measure("TURN-BASE", "edge", "2.6 ±0.1 mm feeler", by="Jonas")
    (line,) = words(bench)
    assert line.startswith("clearance measured TURN-BASE/edge: 2.8 mm ±0.1 mm feeler, Jonas")
    assert "-> 2.6 mm ±0.1 mm feeler, Jonas" in line


def test_a_frozen_face_is_told(bench):
    bench.sign_all(*BOTH)
    bench.job.freeze("TURN-BASE", "BASE", by="Mira")
    (change,) = since(bench).changes
    assert (change.what, change.name, change.before) == ("frozen interface", "TURN-BASE/BASE", "")


def test_a_hole_moved_a_hole_resized_and_nothing_else_is_told(bench):
    bench.sign_all(*BOTH)
    take(bench, "TURN", (20.5, 20.0), *CORNERS[1:])
    assert [c.what for c in since(bench).changes] == ["drawing", "hole moved"]
    moved = since(bench).changes[1]
    assert (moved.before, moved.after) == ("(20.000, 20.000) mm", "(20.500, 20.000) mm")
    assert bench.job.part("TURN").hole(moved.name).centre == (20.5, 20.0)
    take(bench, "TURN", diameter=14.0)
    sizes = [c for c in since(bench).changes if c.what == "hole size"]
    assert {c.name for c in sizes} == {"H1", "H2", "H3", "H4"}
    assert (sizes[0].before, sizes[0].after) == ("13.500 mm", "14.000 mm")


def test_a_hole_that_went_and_one_that_came_are_told(bench):
    bench.sign_all(*BOTH)
    take(bench, "TURN", *CORNERS[:3], (100.0, 50.0))
    told = {(c.what, c.before, c.after) for c in since(bench).changes if c.what == "hole"}
    assert ("hole", "round 13.500 mm at (20.000, 80.000) mm", "") in told
    assert ("hole", "", "round 13.500 mm at (100.000, 50.000) mm") in told


def test_an_outline_is_told_with_its_sizes(bench):
    bench.sign_all(*BOTH)
    take(bench, "TURN", width=201.0)
    (outline,) = [c for c in since(bench).changes if c.what == "outline"]
    assert outline.before.startswith("200.000 x 100.000 mm")
    assert outline.after.startswith("201.000 x 100.000 mm")


def test_other_bytes_of_the_same_geometry_are_a_change_of_the_drawing_alone(bench):
    bench.sign_all(*BOTH)
    bench.job.take_profile(
        "TURN", "TURN.dxf", plate_dxf().replace(b"0\nEOF", b"999\nagain\n0\nEOF"), by="Mira"
    )
    assert [c.what for c in since(bench).changes] == ["drawing"]


def test_a_measured_hole_that_is_better_known_is_told(bench):
    bench.job.write_part("PIER", {"form": "site", "unconnected": True}, by="Mira")
    hole = {"number": "PIER", "label": "S1", "x": "-150 mm", "y": "0 mm", "diameter": "16 mm"}
    bench.do(RecordHole, **hole, uncertainty="0.5 mm")
    bench.job.sign(["PIER"], "drawn", "Mira", {})
    bench.do(RecordHole, **hole, uncertainty="0.2 mm")
    assert words(bench, "PIER") == ["hole known by S1: measured ±0.5 mm -> measured ±0.2 mm"]


def test_what_the_partner_shows_is_told_and_its_own_business_is_not(bench):
    bench.sign_all(*BOTH)
    bench.job.write_part("BASE", {"note": "deburr", "title": "base"}, by="Mira")
    assert words(bench) == []
    bench.job.write_part("BASE", {"thickness": "12 mm"}, by="Mira")
    assert words(bench) == ["partner's thickness TURN-BASE/BASE: 10 mm -> 12 mm"]


def test_a_thing_changed_and_changed_back_is_no_change(bench):
    bench.sign_all(*BOTH)
    bench.job.write_part("TURN", {"material": "S355"}, by="Mira")
    bench.job.write_part("TURN", {"material": "S275"}, by="Mira")
    assert words(bench) == []


def test_each_person_is_asked_about_their_own_last_signature(bench):
    bench.job.sign(BOTH, "drawn", "Mira", {})
    bench.job.write_part("TURN", {"note": "deburr"}, by="Mira")
    bench.job.sign(["TURN"], "checked", "Jonas", {})
    bench.job.write_part("TURN", {"material": "S355"}, by="Mira")
    assert [c.what for c in since(bench, person="Mira").changes] == ["material", "note"]
    assert [c.what for c in since(bench, person="Jonas").changes] == ["material"]


def test_nothing_is_told_exactly_while_the_subject_stands(bench):
    bench.sign_all(*BOTH)
    signed = [v.subject for v in bench.job.verdicts(BOTH)]
    for act in (
        lambda: bench.job.write_part("TURN", {"note": "deburr"}, by="Mira"),
        lambda: bench.job.write_part("BASE", {"process": "plasma"}, by="Mira"),
        lambda: take(bench, "BASE", width=202.0),
        lambda: bench.do(NameGroup, number="BASE", name="bolts", labels=("H2", "H1", "H3", "H4")),
        lambda: bench.policy(roles=("drawn", "checked", "approved")),
    ):
        act()
        for number, before in zip(BOTH, signed, strict=True):
            now = {v.part: v.subject for v in bench.job.verdicts(BOTH)}[number]
            assert bool(since(bench, number).changes) == (now != before)


def test_revisions_are_compared_as_they_were_locked(bench):
    bench.lock(*BOTH)
    bench.do(NewRevision, number="TURN", reason="wider")
    assert [c.words for c in bench.job.changes_between("TURN").changes] == ["revision: A -> B"]
    bench.job.write_part("TURN", {"material": "S355"}, by="Mira")
    bench.do(RequireClearance, connection="TURN-BASE", name="edge", required=">= 2 mm")
    told = bench.job.changes_between("TURN", "A", "B")
    assert [c.what for c in told.changes] == ["revision", "material", "clearance required"]
    assert told.words == "TURN A to B: 3 changed"
    with pytest.raises(UnknownName, match="A, B"):
        bench.job.changes_between("TURN", "A", "C")


def test_the_first_revision_has_none_before_it(bench):
    assert bench.job.changes_between("TURN").words == "TURN A is the first revision: there is none before it"


@pytest.mark.both
def test_the_story_of_a_part_holds_the_same_as_each_question_alone(bench):
    bench.lock(*BOTH)
    bench.do(NewRevision, number="TURN", reason="wider")
    bench.job.write_part("TURN", {"material": "S355"}, by="Mira")
    told = bench.job.changes_told("TURN")
    assert told.steps[0] == bench.job.changes_between("TURN")
    assert [s.later for s in told.steps] == ["B", "A"]
    assert told.since == tuple(since(bench, person=name) for name in ("Jonas", "Mira"))


def test_entries_of_other_parts_are_left_out_and_none_that_counts_is(bench):
    bench.job.write_part("OTHER", {"title": "of no concern", "unconnected": True}, by="Mira")
    bench.do(RecordDimension, number="OTHER", name="width", nominal="9 mm")
    bench.job.write_part("ARM", {"hand": "as drawn"}, by="Mira")
    bench.job.write_part("TURN", {"hand": "opposite", "opposite_of": "ARM"}, by="Mira")
    bench.job.undo(bench.job.last_of("Mira").seq, by="Mira")
    bench.lock(*BOTH)
    bench.do(NewRevision, number="BASE", reason="thicker")
    bench.plate("TWIN", form="cut")
    last = len(list(bench.job.journal()))
    with bench.job.store.reading() as facts:
        concerns = history._concerning(facts, "TURN")
        seen = []
        for expected in (lambda _row: True, concerns):
            steps = facts_at(facts, follow, range(12, last + 1), expected)
            seen.append([history._state(then, "TURN", ("TURN",)) for _seq, then in steps])
        assert seen[0] == seen[1]
        left = {json.loads(r.body)["act"].get("number") for r in sealed_rows(facts) if not concerns(r)}
    assert left == {"OTHER", "TWIN"}


@pytest.mark.both
def test_facts_as_they_were_are_those_that_were_there(bench):
    with bench.job.store.reading() as facts:
        seq, then = len(list(sealed_rows(facts))), dump_facts(facts)
    bench.job.write_part("TURN", {"material": "S355"}, by="Mira")
    with bench.job.store.reading() as facts:
        for _, past_facts in facts_at(facts, follow, [seq]):
            assert dump_facts(past_facts) == then
        assert dump_facts(facts) != then


def test_looking_back_writes_nothing(bench):
    bench.sign_all(*BOTH)
    bench.job.write_part("TURN", {"material": "S355"}, by="Mira")
    entries = len(list(bench.job.journal()))
    bench.job.changes_told("TURN")
    assert len(list(bench.job.journal())) == entries
    assert bench.job.part("TURN").material == "S355"
    assert bench.job.verify() == ()


def test_a_frozen_face_is_told_of_no_other_connection(bench):
    bench.connection("SECOND")
    bench.sign_all(*BOTH)
    bench.job.freeze("SECOND", "BASE", by="Mira")
    assert [c.name for c in since(bench).changes] == ["SECOND/BASE"]


def open_roles(bench, *numbers):
    return {
        s.where: s.message for v in bench.job.verdicts(numbers) for s in v.stops if s.code == "role_missing"
    }


def test_a_verdict_says_what_changed_since_each_signature(bench):
    bench.sign_all(*BOTH)
    assert open_roles(bench, *BOTH) == {}
    bench.job.write_part("TURN", {"thickness": "15 mm"}, by="Mira")
    roles = open_roles(bench, *BOTH)
    assert roles.keys() == {"drawn", "checked"}
    assert all(m.startswith("changed since ") and m.endswith(" (thickness)") for m in roles.values())
    take(bench, "TURN", (21, 20), *CORNERS[1:])
    assert all("(thickness, " in m for m in open_roles(bench, *BOTH).values())


def test_a_part_that_nobody_signed_has_no_changes_told(bench):
    bench.job.write_part("TURN", {"thickness": "15 mm"}, by="Mira")
    assert open_roles(bench, "TURN")["drawn"] == 'no "drawn" signature for this revision as it stands'
