"""Whatever is taken back leaves the facts exactly as they were, and the journal one entry longer."""

from __future__ import annotations

import pytest
from bench_shop import folded_dxf, plate_dxf

from ledger.acts import ACTS
from ledger.acts.base import make
from ledger.acts.bends import DropBend, ReferGroup, StateFolding
from ledger.acts.dimensions import CalculateDimension, RecordDimension
from ledger.acts.dropping import DropClearance, DropOfPart
from ledger.acts.instruments import RecordInstrument
from ledger.acts.mates import DropMate, FreezeFace, RequireClearance, StateBolt
from ledger.acts.parts import FinishHole, NameGroup, NewRevision, RecordHole
from ledger.acts.questions import AnswerQuestion, AskQuestion, LinkQuestion
from ledger.acts.release import SetPolicy
from ledger.acts.survey import DropDistance, RecordDistance, RecordPoint
from ledger.acts.taking_back import NAMED, TakeBack
from ledger.domain.errors import BadInput
from ledger.store.replay import dump_facts

NEVER = {"open_shop", "enrol_person", "keep_packet", "take_back"}


def facts_of(shop):
    with shop.store.reading() as facts:
        return dump_facts(facts)


def change_part(bench):
    bench.shop.write_part("BASE", {"material": "1.4301", "quantity": None}, by="Mira")


def record_part(bench):
    bench.shop.write_part("CLAMP", {"title": "clamp"}, by="Mira")


def take_profile(bench):
    moved = plate_dxf(((20.0, 20.0), (180.0, 20.0), (180.0, 80.0)))
    bench.shop.take_profile("BASE", "BASE.dxf", moved, by="Mira")


def new_revision(bench):
    bench.lock("BASE", "TURN")
    before = facts_of(bench.shop)
    bench.do(NewRevision, number="BASE", reason="wider")
    return before


def record_hole(bench):
    bench.shop.write_part("PIER", {"form": "site"}, by="Mira")
    before = facts_of(bench.shop)
    bench.do(RecordHole, number="PIER", label="S1", x="0 mm", y="0 mm", diameter="12 mm", uncertainty="1 mm")
    return before


def answer_question(bench):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    before = facts_of(bench.shop)
    bench.do(AnswerQuestion, number="BASE", ident="Q1", answer="zinc")
    return before


def link_question(bench):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    before = facts_of(bench.shop)
    bench.do(LinkQuestion, number="BASE", ident="Q1", blocks=("TURN",), due="2026-05-01")
    return before


def record_clearance(bench):
    bench.do(RequireClearance, mate="TURN-BASE", name="gap", required=">= 1 mm")
    before = facts_of(bench.shop)
    bench.shop.measure("TURN-BASE", "gap", "1.8 ±0.1 mm feeler", by="Mira")
    return before


def drop_mate(bench):
    record_clearance(bench)
    bench.shop.freeze("TURN-BASE", "BASE", by="Mira")
    before = facts_of(bench.shop)
    bench.do(DropMate, name="TURN-BASE", reason="another way")
    return before


def record_point(bench):
    bench.shop.write_part("PIER", {"form": "site"}, by="Mira")
    before = facts_of(bench.shop)
    bench.do(RecordPoint, number="PIER", label="P1")
    return before


def record_instrument(bench):
    tool = {"name": "caliper 7", "tool": "caliper", "calibrated": "2026-01-10", "day": "2026-03-02"}
    bench.do(RecordInstrument, **tool)
    before = facts_of(bench.shop)
    bench.do(RecordInstrument, **{**tool, "calibrated": "2026-02-10", "standard": "0.02 mm"})
    return before


def record_distance(bench):
    record_point(bench)
    bench.do(RecordPoint, number="PIER", label="P2")
    before = facts_of(bench.shop)
    sure = {"standard": "0.7 mm", "uncertainty": "1.4 mm", "instrument": "tape", "readings": ("1532 mm",)}
    bench.do(RecordDistance, number="PIER", a="P1", b="P2", value="1532 mm", **sure)
    return before


def drop_distance(bench):
    record_distance(bench)
    before = facts_of(bench.shop)
    bench.do(DropDistance, number="PIER", a="P2", b="P1", reason="the hook slipped")
    return before


def record_bend(bench):
    bench.shop.take_profile("BASE", "BASE.dxf", folded_dxf(), by="Mira")
    before = facts_of(bench.shop)
    bench.shop.bend("BASE", ["B1", "B2"], by="Mira", angle="90 deg", direction="up", radius="3 mm")
    return before


def drop_bend(bench):
    record_bend(bench)
    before = facts_of(bench.shop)
    bench.do(DropBend, number="BASE", label="B1", reason="it stays flat")
    return before


def refer_group(bench):
    bench.do(NameGroup, number="BASE", name="foot", labels=("H1", "H2"))
    before = facts_of(bench.shop)
    bench.do(ReferGroup, number="BASE", name="foot", reference="H4")
    return before


def drop_of_part(bench):
    bench.do(NameGroup, number="BASE", name="foot", labels=("H1", "H2"))
    bench.do(ReferGroup, number="BASE", name="foot", reference="H4")
    before = facts_of(bench.shop)
    bench.do(DropOfPart, number="BASE", what="group", name="foot", reason="not meant")
    return before


def drop_clearance(bench):
    record_clearance(bench)
    before = facts_of(bench.shop)
    bench.do(DropClearance, mate="TURN-BASE", name="gap", reason="not meant")
    return before


DONE = {
    "drop_of_part": drop_of_part,
    "drop_clearance": drop_clearance,
    "refer_group": refer_group,
    "record_bend": record_bend,
    "drop_bend": drop_bend,
    "record_instrument": record_instrument,
    "record_point": record_point,
    "record_distance": record_distance,
    "drop_distance": drop_distance,
    "record_part": record_part,
    "change_part": change_part,
    "new_revision": new_revision,
    "take_profile": take_profile,
    "record_hole": record_hole,
    "finish_hole": lambda b: b.do(FinishHole, number="BASE", labels=("H1",), finish="tapped", thread="M12"),
    "name_group": lambda b: b.do(NameGroup, number="BASE", name="bolts", labels=("H1", "H2")),
    "record_dimension": lambda b: b.do(RecordDimension, number="BASE", name="width", nominal="8 in"),
    "calculate_dimension": lambda b: b.do(
        CalculateDimension, number="BASE", name="half", formula="width/2 + 3/16 in"
    ),
    "ask_question": lambda b: b.do(AskQuestion, number="BASE", ident="Q1", text="which finish?"),
    "answer_question": answer_question,
    "link_question": link_question,
    "declare_mate": lambda b: b.mate(fastener="M10"),
    "drop_mate": drop_mate,
    "require_clearance": lambda b: b.do(RequireClearance, mate="TURN-BASE", name="gap", required=">= 1 mm"),
    "record_clearance": record_clearance,
    "freeze_face": lambda b: b.shop.freeze("TURN-BASE", "BASE", by="Mira"),
    "state_bolt": lambda b: b.do(StateBolt, mate="TURN-BASE", length="40 mm", washers=2),
    "state_folding": lambda b: b.do(
        StateFolding, vendor="Kerf & Son", material="S275", thickness="10 mm", radius="12 mm"
    ),
    "set_policy": lambda b: b.do(SetPolicy, roles=("drawn", "approved"), raised=("fits",)),
}


@pytest.mark.parametrize("kind", NAMED)
def test_an_act_taken_back_leaves_the_facts_as_they_were(bench, kind):
    at_first = facts_of(bench.shop)
    before = DONE[kind](bench)
    before = before if isinstance(before, dict) else at_first
    last = bench.shop.last_of("Mira")
    assert last.kind == kind
    assert facts_of(bench.shop) != before
    bench.shop.take_back(last.seq, by="Mira")
    assert facts_of(bench.shop) == before
    assert bench.shop.verify() == ()
    assert [w.kind for w in bench.shop.journal()][-2:] == [kind, "take_back"]


def test_every_unsigned_act_can_be_taken_back_or_is_named_here():
    assert {kind for (kind, _v), act in ACTS.items() if not act.signed} == set(NAMED) | NEVER


def test_taking_back_twice_goes_on_to_the_act_before(bench):
    before = facts_of(bench.shop)
    for text in ("which finish?", "which side?"):
        bench.do(AskQuestion, number="BASE", ident=text[:7], text=text)
    for _ in range(2):
        bench.shop.take_back(bench.shop.last_of("Mira").seq, by="Mira")
    assert facts_of(bench.shop) == before


def test_what_someone_else_built_on_is_not_taken_back(bench):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    act = make(AnswerQuestion, number="BASE", ident="Q1", answer="zinc")
    bench.shop.do(act, by="Jonas")
    with pytest.raises(BadInput, match="Jonas has recorded something about BASE since"):
        bench.shop.take_back(bench.shop.last_of("Mira").seq, by="Mira")
    bench.shop.take_back(bench.shop.last_of("Jonas").seq, by="Jonas")
    bench.shop.take_back(bench.shop.last_of("Mira").seq, by="Mira")
    assert bench.shop.part("BASE").questions == ()


def test_nothing_of_a_locked_revision_is_taken_back(bench):
    bench.do(RecordDimension, number="BASE", name="width", nominal="200 mm", limits="±0.3", bound="width")
    bench.lock("BASE", "TURN")
    with pytest.raises(BadInput, match=r"has recorded something about BASE since|is locked"):
        bench.shop.take_back(bench.shop.last_of("Mira").seq, by="Mira")
    assert bench.shop.verify() == ()


def test_an_older_entry_is_not_taken_back_out_of_turn(bench):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    first = bench.shop.last_of("Mira").seq
    bench.do(AskQuestion, number="TURN", ident="Q1", text="which finish?")
    with pytest.raises(BadInput, match="not the last one"):
        bench.shop.take_back(first, by="Mira")


@pytest.mark.parametrize(
    "forged",
    [
        {"gone": (), "back": ({"table": "fact_part", "row": {"number": "BASE"}},)},
        {"about": "shop"},
        {"name": "TURN"},
    ],
)
def test_a_counter_act_that_says_more_than_it_undoes_is_refused(bench, forged):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    with bench.shop.store.reading() as facts:
        honest = TakeBack.of(facts, bench.shop.last_of("Mira").seq)
    with pytest.raises(BadInput):
        bench.shop.do(make(TakeBack, **{**honest.model_dump(), **forged}), by="Mira")


def test_a_seat_that_recorded_nothing_is_told_so(bench):
    with pytest.raises(BadInput, match="nothing that can be taken back"):
        bench.shop.last_of("Nobody")


def test_a_frozen_face_is_known_before_it_is_undone(bench):
    bench.do(FreezeFace, mate="TURN-BASE", part="BASE", face="0" * 64)
    assert bench.shop.mates()[0].frozen_faces
    bench.shop.take_back(bench.shop.last_of("Mira").seq, by="Mira")
    assert not bench.shop.mates()[0].frozen_faces
