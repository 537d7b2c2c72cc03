"""Whatever is undone leaves the facts exactly as they were, and the journal one entry longer."""

from __future__ import annotations

import pytest
from bench_job import bent_dxf, plate_dxf
from fact_rows import dump_facts

from ledger.acts import ACTS
from ledger.acts.base import make
from ledger.acts.bends import RecordBendData, ReferGroup, RemoveBend
from ledger.acts.connections import FreezeInterface, RecordBolt, RemoveConnection, RequireClearance
from ledger.acts.dimensions import CalculateDimension, RecordDimension
from ledger.acts.drawing_folders import RecordDrawingFolders
from ledger.acts.file_names import RecordFileNames
from ledger.acts.hardware import RecordOnHand
from ledger.acts.instruments import RecordInstrument
from ledger.acts.orders import CancelOrder
from ledger.acts.parts import NameGroup, NewRevision, RecordHole, RecordOperation
from ledger.acts.pieces import MeasurePiece
from ledger.acts.questions import AnswerQuestion, AskQuestion, LinkQuestion
from ledger.acts.removal import RemoveClearance, RemoveOfPart
from ledger.acts.schedule import RecordDay, RecordWait
from ledger.acts.survey import RecordDistance, RecordPoint, RemoveDistance
from ledger.acts.trials import RecordTrial
from ledger.acts.undo import Subjects, Undo, undoable
from ledger.acts.vendors import RecordVendor
from ledger.domain.errors import BadInput

NEVER = {"open_job", "keep_packet", "undo"}


def facts_of(job):
    with job.store.reading() as facts:
        return dump_facts(facts)


def change_part(bench):
    bench.job.write_part("BASE", {"material": "1.4301", "quantity": None}, by="Mira")


def record_part(bench):
    bench.job.write_part("CLAMP", {"title": "clamp"}, by="Mira")


def take_profile(bench):
    moved = plate_dxf(((20.0, 20.0), (180.0, 20.0), (180.0, 80.0)))
    bench.job.take_profile("BASE", "BASE.dxf", moved, by="Mira")


def new_revision(bench):
    bench.lock("BASE", "TURN")
    before = facts_of(bench.job)
    bench.do(NewRevision, number="BASE", reason="wider")
    return before


def record_hole(bench):
    bench.job.write_part("PIER", {"form": "site"}, by="Mira")
    before = facts_of(bench.job)
    bench.do(RecordHole, number="PIER", label="S1", x="0 mm", y="0 mm", diameter="12 mm", uncertainty="1 mm")
    return before


def answer_question(bench):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    before = facts_of(bench.job)
    bench.do(AnswerQuestion, number="BASE", ident="Q1", answer="zinc")
    return before


def link_question(bench):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    before = facts_of(bench.job)
    bench.do(LinkQuestion, number="BASE", ident="Q1", holds_up=("TURN",), needed_by="2026-05-01")
    return before


def record_clearance(bench):
    bench.do(RequireClearance, connection="TURN-BASE", name="gap", required=">= 1 mm")
    before = facts_of(bench.job)
    bench.job.measure("TURN-BASE", "gap", "1.8 ±0.1 mm feeler", by="Mira")
    return before


def remove_connection(bench):
    record_clearance(bench)
    bench.job.freeze("TURN-BASE", "BASE", by="Mira")
    before = facts_of(bench.job)
    bench.do(RemoveConnection, name="TURN-BASE", reason="another way")
    return before


def record_point(bench):
    bench.job.write_part("PIER", {"form": "site"}, by="Mira")
    before = facts_of(bench.job)
    bench.do(RecordPoint, number="PIER", label="P1")
    return before


def record_instrument(bench):
    tool = {"name": "caliper 7", "tool": "caliper", "calibrated": "2026-01-10", "day": "2026-03-02"}
    bench.do(RecordInstrument, **tool)
    before = facts_of(bench.job)
    bench.do(RecordInstrument, **{**tool, "calibrated": "2026-02-10", "standard": "0.02 mm"})
    return before


def record_distance(bench):
    record_point(bench)
    bench.do(RecordPoint, number="PIER", label="P2")
    before = facts_of(bench.job)
    sure = {"standard": "0.7 mm", "uncertainty": "1.4 mm", "instrument": "tape", "readings": ("1532 mm",)}
    bench.do(RecordDistance, number="PIER", a="P1", b="P2", value="1532 mm", **sure)
    return before


def remove_distance(bench):
    record_distance(bench)
    before = facts_of(bench.job)
    bench.do(RemoveDistance, number="PIER", a="P2", b="P1", reason="the hook slipped")
    return before


def record_bend(bench):
    bench.job.take_profile("BASE", "BASE.dxf", bent_dxf(), by="Mira")
    before = facts_of(bench.job)
    bench.job.bend("BASE", ["B1", "B2"], by="Mira", angle="90 deg", direction="up", radius="3 mm")
    return before


def remove_bend(bench):
    record_bend(bench)
    before = facts_of(bench.job)
    bench.do(RemoveBend, number="BASE", label="B1", reason="it stays flat")
    return before


def refer_group(bench):
    bench.do(NameGroup, number="BASE", name="foot", labels=("H1", "H2"))
    before = facts_of(bench.job)
    bench.do(ReferGroup, number="BASE", name="foot", reference="H4")
    return before


def remove_of_part(bench):
    bench.do(NameGroup, number="BASE", name="foot", labels=("H1", "H2"))
    bench.do(ReferGroup, number="BASE", name="foot", reference="H4")
    before = facts_of(bench.job)
    bench.do(RemoveOfPart, number="BASE", what="group", name="foot", reason="not meant")
    return before


def remove_clearance(bench):
    record_clearance(bench)
    before = facts_of(bench.job)
    bench.do(RemoveClearance, connection="TURN-BASE", name="gap", reason="not meant")
    return before


def ordered(bench):
    bench.lock("BASE", "TURN")
    bench.do(RecordVendor, name="Kerf & Son", processes=("laser",), lead_days=10)
    parts = {"BASE": 2, "TURN": None}
    return lambda: bench.job.record_order(ident="O1", vendor="Kerf & Son", parts=parts, by="Mira")


def record_order(bench):
    order = ordered(bench)
    before = facts_of(bench.job)
    order()
    return before


def cancel_order(bench):
    ordered(bench)()
    before = facts_of(bench.job)
    bench.do(CancelOrder, ident="O1", reason="too late")
    return before


def record_receipt(bench):
    ordered(bench)()
    before = facts_of(bench.job)
    bench.job.record_receipt(ident="O1", parts={"BASE": 1, "TURN": 2}, state="one bent", by="Mira")
    return before


def record_wait(bench):
    bench.do(RecordWait, number="TURN", after=("BASE",))


def measure_piece(bench):
    ordered(bench)()
    bench.job.record_receipt(ident="O1", parts={"BASE": 2}, by="Mira")
    before = facts_of(bench.job)
    features = ({"name": "H1", "value": "13.4 mm", "x": "20 mm", "y": "20 mm"},)
    bench.do(
        MeasurePiece, part="BASE", piece=1, uncertainty="0.05 mm", instrument="caliper", features=features
    )
    return before


DONE = {
    "record_drawing_folders": lambda b: b.do(RecordDrawingFolders, folders=("drawings",)),
    "keep_evidence": lambda b: b.job.keep_evidence("BASE", {"photo.jpg": b"a picture"}, by="Mira"),
    "measure_piece": measure_piece,
    "record_day": lambda b: b.do(RecordDay, day="2027-05-01"),
    "record_wait": record_wait,
    "record_order": record_order,
    "cancel_order": cancel_order,
    "record_receipt": record_receipt,
    "remove_of_part": remove_of_part,
    "remove_clearance": remove_clearance,
    "refer_group": refer_group,
    "record_bend": record_bend,
    "remove_bend": remove_bend,
    "record_instrument": record_instrument,
    "record_point": record_point,
    "record_distance": record_distance,
    "remove_distance": remove_distance,
    "record_part": record_part,
    "change_part": change_part,
    "new_revision": new_revision,
    "take_profile": take_profile,
    "record_hole": record_hole,
    "record_operation": lambda b: b.do(
        RecordOperation, number="BASE", labels=("H1",), operation="tapped", thread="M12"
    ),
    "record_trial": lambda b: b.do(RecordTrial, number="BASE", result="fits", note="S2 is tight"),
    "name_group": lambda b: b.do(NameGroup, number="BASE", name="bolts", labels=("H1", "H2")),
    "record_dimension": lambda b: b.do(RecordDimension, number="BASE", name="width", nominal="8 in"),
    "calculate_dimension": lambda b: b.do(
        CalculateDimension, number="BASE", name="half", formula="width/2 + 3/16 in"
    ),
    "ask_question": lambda b: b.do(AskQuestion, number="BASE", ident="Q1", text="which finish?"),
    "answer_question": answer_question,
    "link_question": link_question,
    "record_connection": lambda b: b.connection(fastener="M10"),
    "remove_connection": remove_connection,
    "require_clearance": lambda b: b.do(
        RequireClearance, connection="TURN-BASE", name="gap", required=">= 1 mm"
    ),
    "record_clearance": record_clearance,
    "freeze_interface": lambda b: b.job.freeze("TURN-BASE", "BASE", by="Mira"),
    "record_bolt": lambda b: b.do(RecordBolt, connection="TURN-BASE", length="40 mm", washers=2),
    "record_bend_data": lambda b: b.do(
        RecordBendData, vendor="Kerf & Son", material="S275", thickness="10 mm", radius="12 mm"
    ),
    "record_vendor": lambda b: b.do(RecordVendor, name="Kerf & Son", processes=("laser",), lead_days=10),
    "record_on_hand": lambda b: b.do(RecordOnHand, item="nut", size="M12", count=40),
    "record_file_names": lambda b: b.do(RecordFileNames, pattern="{number}_{material}"),
}


@pytest.mark.parametrize("kind", undoable())
def test_an_act_taken_back_leaves_the_facts_as_they_were(bench, kind):
    at_first = facts_of(bench.job)
    before = DONE[kind](bench)
    before = before if isinstance(before, dict) else at_first
    last = bench.job.last_of("Mira")
    assert last.kind == kind
    assert facts_of(bench.job) != before
    bench.job.undo(last.seq, by="Mira")
    assert facts_of(bench.job) == before
    assert bench.job.verify() == ()
    assert [w.kind for w in bench.job.journal()][-2:] == [kind, "undo"]


def test_every_unsigned_act_can_be_taken_back_or_is_named_here():
    assert {kind for (kind, _v), act in ACTS.items() if not act.signed} == set(undoable()) | NEVER


@pytest.mark.both
def test_taking_back_twice_goes_on_to_the_act_before(bench):
    before = facts_of(bench.job)
    for text in ("which finish?", "which side?"):
        bench.do(AskQuestion, number="BASE", ident=text[:7], text=text)
    for _ in range(2):
        bench.job.undo(bench.job.last_of("Mira").seq, by="Mira")
    assert facts_of(bench.job) == before


@pytest.mark.both
def test_taking_back_reads_what_it_needs_and_not_the_whole_journal(bench, monkeypatch):
    """Of a long journal only the entries that hold the name are read, and from its end those of the person."""
    for k in range(40):
        bench.do(AskQuestion, number="TURN", ident=f"Q{k}", text="which finish?")
    bench.job.write_part("BASE", {"material": "1.4301"}, by="Mira")
    bench.do(AskQuestion, number="TURN", ident="Q40", text="which finish?")
    read, take = set(), Subjects.take
    monkeypatch.setattr(Subjects, "take", lambda self, seq, body: (read.add(seq), take(self, seq, body)))
    last = bench.job.last_of("Mira").seq
    assert len(read) == 1
    bench.job.undo(last, by="Mira")
    read.clear()
    bench.job.undo(bench.job.last_of("Mira").seq, by="Mira")
    assert bench.job.part("BASE").material == "S275"
    others = {e.seq for e in bench.job.journal() if e.kind == "ask_question"} - {last}
    assert read
    assert not read & others


def test_what_someone_else_built_on_is_not_taken_back(bench):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    act = make(AnswerQuestion, number="BASE", ident="Q1", answer="zinc")
    bench.job.do(act, by="Jonas")
    with pytest.raises(BadInput, match="Jonas has recorded something about BASE since"):
        bench.job.undo(bench.job.last_of("Mira").seq, by="Mira")
    bench.job.undo(bench.job.last_of("Jonas").seq, by="Jonas")
    bench.job.undo(bench.job.last_of("Mira").seq, by="Mira")
    assert bench.job.part("BASE").questions == ()


@pytest.mark.both
def test_nothing_of_a_locked_revision_is_taken_back(bench):
    bench.do(
        RecordDimension, number="BASE", name="width", nominal="200 mm", limits="±0.3", measured_on="width"
    )
    bench.lock("BASE", "TURN")
    with pytest.raises(BadInput, match=r"has recorded something about BASE since|is locked"):
        bench.job.undo(bench.job.last_of("Mira").seq, by="Mira")
    assert bench.job.verify() == ()


def test_an_older_entry_is_not_taken_back_out_of_turn(bench):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    first = bench.job.last_of("Mira").seq
    bench.do(AskQuestion, number="TURN", ident="Q1", text="which finish?")
    with pytest.raises(BadInput, match="cannot be undone before"):
        bench.job.undo(first, by="Mira")


@pytest.mark.parametrize(
    "forged",
    [
        {"gone": (), "back": ({"table": "fact_part", "row": {"number": "BASE"}},)},
        {"about": "job"},
        {"name": "TURN"},
    ],
)
def test_a_counter_act_that_says_more_than_it_undoes_is_refused(bench, forged):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    with bench.job.store.reading() as facts:
        honest = Undo.of(facts, bench.job.last_of("Mira").seq)
    with pytest.raises(BadInput):
        bench.job.do(make(Undo, **{**honest.model_dump(), **forged}), by="Mira")


def test_a_seat_that_recorded_nothing_is_told_so(bench):
    with pytest.raises(BadInput, match="nothing that can be undone"):
        bench.job.last_of("Nobody")


def test_a_frozen_face_is_known_before_it_is_undone(bench):
    bench.do(FreezeInterface, connection="TURN-BASE", part="BASE", interface="0" * 64)
    assert bench.job.connections()[0].frozen_interfaces
    bench.job.undo(bench.job.last_of("Mira").seq, by="Mira")
    assert not bench.job.connections()[0].frozen_interfaces
