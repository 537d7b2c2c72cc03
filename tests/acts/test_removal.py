"""What is removed from the record is gone; what others speak of, or a lock holds, is not removed."""

from __future__ import annotations

import json

import pytest
from bench_job import plate_dxf

from ledger.acts.bends import ReferGroup
from ledger.acts.connections import RequireClearance
from ledger.acts.dimensions import CalculateDimension, RecordDimension
from ledger.acts.parts import NameGroup, NewRevision, RecordHole, RecordOperation
from ledger.acts.removal import RemoveClearance, RemoveOfPart
from ledger.acts.survey import RecordDistance, RecordPoint
from ledger.cli import main
from ledger.domain.errors import BadInput, UnknownName


def remove(bench, what, name, number="BASE", reason="not meant"):
    bench.do(RemoveOfPart, number=number, what=what, name=name, reason=reason)


@pytest.fixture
def pier(bench):
    """A site part with a measured hole, and three points with a distance and a side between them."""
    bench.job.write_part("PIER", {"form": "site"}, by="Mira")
    bench.do(RecordHole, number="PIER", label="S1", x="0 mm", y="0 mm", diameter="12 mm", uncertainty="1 mm")
    for label, side in (("P1", ""), ("P2", ""), ("P3", "left of P1 P2")):
        bench.do(RecordPoint, number="PIER", label=label, side=side, diameter="12 mm")
    sure = {"standard": "0.7 mm", "uncertainty": "1.4 mm", "instrument": "tape", "readings": ("300 mm",)}
    bench.do(RecordDistance, number="PIER", a="P2", b="P3", value="300 mm", **sure)
    return bench


def test_a_finish_whose_hole_is_gone_stops_until_it_is_dropped(bench):
    corner = next(h.label for h in bench.job.part("BASE").holes if h.centre == (180.0, 80.0))
    bench.do(RecordOperation, number="BASE", labels=(corner,), operation="plain")
    moved = plate_dxf(((20.0, 20.0), (180.0, 20.0), (20.0, 80.0), (150.0, 50.0)))
    bench.job.take_profile("BASE", "BASE.dxf", moved, by="Mira")
    lost = next(f.where for f in bench.job.verdicts(["BASE"])[0].stops if "hole operation" in f.message)
    remove(bench, "operation", lost)
    assert not any("hole operation" in f.message for f in bench.job.verdicts(["BASE"])[0].stops)
    assert bench.job.verify() == ()


def test_a_dimension_goes_unless_a_formula_names_it(bench):
    bench.do(RecordDimension, number="BASE", name="W", nominal="200 mm")
    bench.do(CalculateDimension, number="TURN", name="half", formula="[W] of [BASE] / 2")
    with pytest.raises(BadInput, match="named by dimension half of TURN"):
        remove(bench, "dimension", "W")
    remove(bench, "dimension", "half", number="TURN")
    remove(bench, "dimension", "W")
    assert not {d.name for d in bench.job.part("BASE").dimensions} & {"W", "half"}


def test_a_dimension_that_was_held_when_it_was_locked_stays_in_that_revision(bench):
    bench.do(RecordDimension, number="BASE", name="pitch", nominal="160 mm", frozen=True)
    bench.lock("BASE", "TURN")
    bench.do(NewRevision, number="BASE", reason="wider")
    bench.do(RecordDimension, number="BASE", name="pitch", nominal="160 mm")
    with pytest.raises(BadInput, match="frozen at 160 mm"):
        remove(bench, "dimension", "pitch")


@pytest.mark.both
def test_a_group_goes_unless_a_connection_a_dimension_or_a_group_names_it(bench):
    with pytest.raises(BadInput, match="named by connection TURN-BASE"):
        remove(bench, "group", "bolts")
    for name in ("foot", "seal"):
        bench.do(NameGroup, number="BASE", name=name, labels=("H1", "H2"))
    bench.do(ReferGroup, number="BASE", name="foot", reference="seal")
    bench.do(RecordDimension, number="BASE", name="pitch", nominal="160 mm", measured_on="pitch seal")
    with pytest.raises(BadInput, match="named by dimension pitch, group foot"):
        remove(bench, "group", "seal")
    remove(bench, "group", "foot")
    remove(bench, "dimension", "pitch")
    remove(bench, "group", "seal")
    assert [g.name for g in bench.job.part("BASE").groups] == ["bolts"]
    assert bench.job.verify() == ()


def test_a_point_goes_unless_a_distance_a_side_or_a_group_names_it(pier):
    pier.do(NameGroup, number="PIER", name="studs", labels=("P2", "S1"))
    for label, users in (
        ("P1", "the side of P3"),
        ("P2", "group studs, distance P2 P3, the side of P3"),
        ("P3", "distance P2 P3"),
    ):
        with pytest.raises(BadInput, match=f"named by {users}"):
            remove(pier, "point", label, number="PIER")
    with pytest.raises(BadInput, match="named by group studs"):
        remove(pier, "hole", "S1", number="PIER")
    remove(pier, "group", "studs", number="PIER")
    remove(pier, "hole", "S1", number="PIER")
    assert "S1" not in {m.hole.label for m in pier.job.part("PIER").measured_holes}


@pytest.mark.both
def test_a_clearance_goes_with_its_readings(bench):
    bench.do(RequireClearance, connection="TURN-BASE", name="gap", required=">= 1 mm")
    bench.job.measure("TURN-BASE", "gap", "1.8 ±0.1 mm feeler", by="Mira")
    bench.do(RemoveClearance, connection="TURN-BASE", name="gap", reason="it is a weld")
    assert bench.job.connections()[0].clearances == ()
    assert bench.job.verify() == ()


@pytest.mark.parametrize(
    ("fields", "fault"),
    [
        ({"what": "dimension", "name": "nowhere"}, UnknownName),
        ({"what": "outline", "name": "W"}, UnknownName),
        ({"what": "group", "name": "bolts", "reason": ""}, BadInput),
    ],
)
def test_what_is_not_there_or_has_no_reason_is_refused(bench, fields, fault):
    with pytest.raises(fault):
        remove(bench, **fields)


def test_it_is_dropped_on_the_command_line(bench, capsys, monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")
    bench.do(RecordOperation, number="BASE", labels=("H1", "H2"), operation="plain")
    bench.do(RequireClearance, connection="TURN-BASE", name="gap", required=">= 1 mm")
    place = ["--reason", "not meant", "--job", bench.place, "--json"]
    assert main(["remove", "BASE", "operation", "H1", "H2", *place]) == 0
    assert len(json.loads(capsys.readouterr().out)["entries"]) == 2
    assert main(["remove", "TURN-BASE", "clearance", "gap", *place]) == 0
    assert bench.job.part("BASE").operations == ()
    assert bench.job.connections()[0].clearances == ()
