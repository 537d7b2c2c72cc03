"""A journal outlives the grammars and the lists of known words that it was written with."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Mapping
from types import FunctionType

import pytest
from bench_job import PASSPHRASE, bent_dxf
from fact_rows import dump_facts
from pydantic import BaseModel

from ledger.acts import ACTS
from ledger.acts.bends import RecordBendData, ReferGroup, RemoveBend
from ledger.acts.connections import RecordBolt, RecordConnection, RemoveConnection, RequireClearance
from ledger.acts.dimensions import CalculateDimension, RecordDimension
from ledger.acts.drawing_folders import RecordDrawingFolders
from ledger.acts.file_names import RecordFileNames
from ledger.acts.hardware import RecordOnHand
from ledger.acts.instruments import RecordInstrument
from ledger.acts.orders import CancelOrder
from ledger.acts.parts import NewRevision, RecordHole, RecordOperation
from ledger.acts.pieces import MeasurePiece
from ledger.acts.questions import AnswerQuestion, AskQuestion, LinkQuestion
from ledger.acts.removal import RemoveClearance, RemoveOfPart
from ledger.acts.schedule import RecordDay, RecordWait
from ledger.acts.survey import RecordDistance, RecordPoint, RemoveDistance
from ledger.acts.trials import RecordTrial
from ledger.acts.vendors import RecordVendor
from ledger.domain.errors import BadInput
from ledger.job import Job
from ledger.store import facts as read
from ledger.store.tables import ConnectionFact, PartFact

# Readers of one line that are asked when a job is read, not by replay, and what only looks like a reader.
NO_GRAMMAR = {"read_act", "read_body", "read_row", "read_as"}
KNOWN_WORDS = (
    "fastener",
    "process",
    "instrument",
    "class_limits",
    "limits_of",
    "sized_class",
    "ordered_words",
)


def every_kind(bench):
    """A journal with an entry of every kind: two plates, a bent one, a surveyed pier, signed, permitted and locked."""
    job, do = bench.job, bench.do
    job.write_part("WALL", {"title": "wall", "material": "S235", "thickness": "1/8 in"}, by="Mira")
    job.write_part("WALL", {"thickness": "3 mm", "coating_thickness": "60 um", "masked": "holes"}, by="Mira")
    job.write_part("WALL", {"density": "2.7 g/cm3"}, by="Mira")
    job.take_profile("WALL", "WALL.dxf", bent_dxf(points=((20.0, 50.0), (60.0, 50.0))), by="Mira")
    bend = {"angle": "90 deg", "direction": "up", "radius": "1/8 in", "k_factor": "0.40"}
    job.bend("WALL", ["B1", "B2"], by="Mira", **bend)
    do(RemoveBend, number="WALL", label="B2", reason="it stays flat")
    do(RecordBendData, vendor="Kerf & Son", material="S235", thickness="3 mm", radius="3 mm", k_factor=".42")
    do(RecordTrial, number="WALL", result="fits", note="feet tight")
    do(RecordVendor, name="Kerf & Son", processes=("laser",), lead_days=10, days_off=("2027-05-01",))
    do(RecordOnHand, item="bolt", size="M8", length="1-1/4 in", count=12)
    do(RecordDrawingFolders, folders=("drawings", "//server/plates"))
    do(RecordDay, day="2027-05-01")
    do(RecordWait, number="WALL", after=("BASE",))
    do(RecordOperation, number="WALL", labels=("H1",), operation="tapped", thread="M8")
    job.name_group("WALL", "feet", ("H1", "H2"), by="Mira")
    do(ReferGroup, number="WALL", name="feet", reference="H2")
    do(RemoveOfPart, number="WALL", what="operation", name="H1", reason="not meant")
    surveyed(bench)
    do(RecordDimension, number="WALL", name="rise", nominal="37.5 deg", limits="±0.5")
    do(RecordDimension, number="WALL", name="face", nominal="2 in2", limits="±0.1 in2")
    do(RecordDimension, number="WALL", name="wide", nominal="100 mm", limits="±5", measured_on="width")
    do(
        CalculateDimension,
        number="WALL",
        name="half",
        formula="200 mm/2 + 3/16 in",
        measured_on="radius 1.5 2",
    )
    asked(bench)
    connected(bench)
    signed(bench)


def surveyed(bench):
    do = bench.do
    bench.job.write_part("PIER", {"title": "pier", "form": "site"}, by="Mira")
    do(RecordHole, number="PIER", label="S1", x="-3/8 in", y="0 mm", diameter="1/2 in", uncertainty="1 mm")
    for label in ("P1", "P2"):
        do(RecordPoint, number="PIER", label=label, at=("1 ft 2 in", "-5 mm"), uncertainty="2 mm", side="")
    do(RecordPoint, number="PIER", label="P3", diameter="16 mm", side="left of P1 P2")
    tool = {"tool": "tape", "standard": "0.2 mm", "resolution": "1 mm", "calibrated": "2026-01-10"}
    do(RecordInstrument, name="long tape", day="2026-03-02", **tool)
    sure = {"standard": "0.7 mm", "uncertainty": "1.4 mm", "instrument": "tape", "readings": ("60 in",)}
    do(RecordDistance, number="PIER", a="P1", b="P2", value="60 in", **sure)
    do(RecordDistance, number="PIER", a="P1", b="P3", value="900 mm", **sure)
    do(RemoveDistance, number="PIER", a="P3", b="P1", reason="the hook slipped")


def asked(bench):
    do = bench.do
    do(AskQuestion, number="WALL", ident="Q1", text="which finish?", needed_by="2026-05-01")
    do(LinkQuestion, number="WALL", ident="Q1", holds_up=("BASE",), depends_on=("TURN",))
    do(AnswerQuestion, number="WALL", ident="Q1", answer="zinc")


def connected(bench):
    do, plies = bench.do, ({"part": "WALL"}, {"part": "BASE"})
    beside = {"connection_kind": "beside", "plies": plies, "position": "10 0 90", "gap": ">= 1/8 in"}
    do(RecordConnection, name="WALL-BASE", **beside)
    do(RequireClearance, connection="WALL-BASE", name="gap", required="2..5 mm")
    bench.job.measure("WALL-BASE", "gap", "2.8 ±0.1 mm feeler", by="Mira")
    do(RemoveClearance, connection="WALL-BASE", name="gap", reason="not meant")
    do(RemoveConnection, name="WALL-BASE", reason="another way")
    bench.connection(fastener="1/2-13 UNC")
    bench.connection()
    do(RecordBolt, connection="TURN-BASE", length="1-3/4 in", washers=2)
    do(RequireClearance, connection="TURN-BASE", name="gap", required=">= 1 mm")
    bench.job.measure("TURN-BASE", "gap", "1.8 1.9 1.8 mm feeler", by="Mira")
    bench.job.freeze("TURN-BASE", "BASE", by="Mira")


def signed(bench):
    job = bench.job
    bench.policy(odds="98.50 %")
    bench.do(AskQuestion, number="WALL", ident="Q9", text="which way up?")
    job.undo(job.last_of("Mira").seq, by="Mira")
    job.enroll("Ada", ("drawn",), PASSPHRASE)
    job.change_roles("Ada", (), "gone to another firm")
    bench.do(RecordFileNames, pattern="{number}_{material}")
    job.undo(job.last_of("Mira").seq, by="Mira")
    key = job.change_key("Jonas", new=PASSPHRASE, reason="another workstation", by="Mira")
    job.change_key("Jonas", retires=key[:16], reason="it was lost", by="Mira")
    bench.do(AskQuestion, number="WALL", ident="Q2", text="which side?")
    where = {"code": "question_open", "place": "Q2", "reason": "either", "until": "2027-01-01"}
    job.permit("WALL", "Mira", **where)
    job.withdraw_permit(len(list(job.journal())), "Jonas", "it matters")
    bench.do(CalculateDimension, number="TURN", name="half", formula="width/2")
    bench.lock("BASE", "TURN")
    bench.do(NewRevision, number="BASE", reason="wider")
    for ident in ("O1", "O2"):
        job.record_order(ident=ident, vendor="Kerf & Son", parts={"BASE": 2, "TURN": 1}, by="Mira")
    job.record_receipt(ident="O1", parts={"BASE": 1}, state="scratched", by="Mira")
    at = {"name": "H1", "value": "1/2 in", "x": "20.1 mm", "y": "-3/8 in"}
    bench.do(MeasurePiece, part="BASE", piece=1, uncertainty="0.002 in", instrument="caliper", features=(at,))
    bench.do(CancelOrder, ident="O2", reason="sent twice")
    job.keep_evidence("O1", {"scratch.jpg": b"a picture"}, by="Mira")


def facts_of(job):
    with job.store.reading() as facts:
        return dump_facts(facts)


def followed_again(job):
    """The facts when every table is dropped and the journal followed from its first entry."""
    with job.store.writing() as facts:
        job.store.rebuild_in(facts)
    return facts_of(job)


def refusing(*_args, **_fields):
    raise BadInput("today's grammar reads nothing")


def is_grammar(found):
    found = inspect.unwrap(found) if callable(found) else found
    if not isinstance(found, FunctionType) or not found.__module__.startswith("ledger."):
        return False
    name = found.__name__
    reads = name.startswith(("read_", "positive_")) and found.__module__.startswith(
        ("ledger.domain", "ledger.standards", "ledger.survey", "ledger.acts")
    )
    return (reads or name in KNOWN_WORDS) and name not in NO_GRAMMAR


def modules():
    return [m for name, m in sorted(sys.modules.items()) if name.startswith("ledger.")]


@pytest.fixture
def no_grammar(monkeypatch):
    """Called, nothing is read any more: no quantity, joint, role, fastener, unit; and no field is validated."""

    def forbid():
        refused = set()
        for module in modules():
            for name, found in list(vars(module).items()):
                if hasattr(found, "cache_clear"):
                    found.cache_clear()
                if is_grammar(found):
                    refused.add(found.__name__)
                    monkeypatch.setattr(module, name, refusing)
                elif name in ("UNIT_NAMES", "MM_PER") and isinstance(found, Mapping):
                    monkeypatch.setattr(module, name, {})
                elif (
                    isinstance(found, type)
                    and issubclass(found, BaseModel)
                    and "ledger.acts" in found.__module__
                ):
                    monkeypatch.setattr(found, "__init__", refusing)
                    monkeypatch.setattr(found, "model_validate", refusing)
        assert len(refused) > 20
        return refused

    return forbid


def test_a_journal_of_every_kind_is_followed_without_any_grammar(bench, no_grammar):
    every_kind(bench)
    kinds = {entry.kind for entry in bench.job.journal()}
    assert kinds == {kind for kind, _version in ACTS}
    before = facts_of(bench.job)
    assert {"read_length", "read_amount", "read_bounds", "read_position", "fastener"} <= no_grammar()
    assert followed_again(bench.job) == before
    assert [f for f in bench.job.verify() if f.severity == "stop"] == []


def records_of(job):
    """Every part at every revision and every connection, as the facts say it."""
    with job.store.reading() as facts:
        parts = tuple(read.part(facts, row) for row in read.rows(facts, PartFact))
        return parts, tuple(read.connection(facts, row) for row in read.rows(facts, ConnectionFact))


def test_a_body_holds_every_quantity_as_written_and_exactly(bench):
    every_kind(bench)
    found = {}
    for entry in bench.job.journal():
        found.setdefault(entry.kind, []).append(entry.act)
    assert found["record_part"][2]["thickness"] == {"written": "1/8 in", "mm": "3.175"}
    assert found["record_part"][2]["coating_thickness"] is None
    assert found["record_bend"][0]["angle"] == {"written": "90 deg", "deg": "90"}
    assert found["record_hole"][0]["x"] == {"written": "-3/8 in", "mm": "-9.525"}
    assert found["record_point"][0]["at"][0] == {"written": "1 ft 2 in", "mm": "355.6"}
    assert found["record_distance"][0]["readings"] == [{"written": "60 in", "mm": "1524"}]
    rise, face = (a for a in found["record_dimension"] if a["name"] in ("rise", "face"))
    assert rise["limits"] == {"written": "±0.5", "lower_mm": "-0.5", "upper_mm": "0.5"}
    assert face["nominal"] == {"written": "2 in2", "mm2": "1290.32"}
    assert found["record_bolt"][0]["length"] == {"written": "1-3/4 in", "mm": "44.45"}
    required = {"written": "2..5 mm", "least_mm": "2", "most_mm": "5"}
    assert found["require_clearance"][0]["required"] == required
    wide, half = (
        a["measured_on"]
        for a in found["record_dimension"] + found["calculate_dimension"]
        if a["name"] in ("wide", "half") and a["number"] == "WALL"
    )
    assert (wide["written"], wide["kind"]) == ("width", "width")
    assert (half["written"], half["place_mm"]) == ("radius 1.5 2", ["1.5", "2.0"])
    masked, dense = (found["change_part"][k][n] for k, n in ((0, "masked"), (1, "density")))
    assert masked == {"written": "holes", "places": ["holes"], "labels": []}
    assert dense == {"written": "2.7 g/cm3", "kg_m3": "2700.0"}
    side = {"written": "left of P1 P2", "hand": 1, "of": ["P1", "P2"]}
    assert [a["side"] for a in found["record_point"]] == [None, None, side]
    pose = {"x_mm": "10", "y_mm": "0", "angle_deg": "90", "turned_over": False}
    beside = next(a for a in found["record_connection"] if a["name"] == "WALL-BASE")
    assert beside["position"] == {"written": "10 0 90", **pose}
    assert beside["gap"] == {"written": ">= 1/8 in", "least_mm": "3.175", "most_mm": None}
    (half,) = (f for p in found["lock"][0]["parts"] for f in p["fixed"])
    assert half["nominal"] == {"written": "100 mm", "mm": "100"}


def test_facts_are_read_without_any_grammar(bench, no_grammar):
    every_kind(bench)
    before = records_of(bench.job)
    no_grammar()
    assert records_of(bench.job) == before


def test_a_grammar_that_refuses_everything_refuses_a_new_act(bench, no_grammar):
    no_grammar()
    with pytest.raises(BadInput, match="reads nothing"):
        bench.do(RecordDimension, number="BASE", name="depth", nominal="12 mm")


def test_a_job_is_opened_without_any_grammar(bench, no_grammar):
    every_kind(bench)
    before = facts_of(bench.job)
    bench.job.close()
    no_grammar()
    with Job(bench.place, lambda _name: PASSPHRASE, bench.clock) as job:
        assert followed_again(job) == before
