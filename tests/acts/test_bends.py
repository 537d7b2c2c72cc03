"""Bends are recorded by their lines, follow them, and are refused where they cannot be bent."""

from __future__ import annotations

import json

import pytest
from bench_job import bent_dxf

from ledger.acts.base import make
from ledger.acts.bends import RecordBend, RecordBendData, RemoveBend
from ledger.acts.dimensions import RecordDimension
from ledger.acts.parts import NewRevision
from ledger.cli import main
from ledger.domain.digest import own
from ledger.domain.errors import BadInput, UnknownName
from ledger.standards.bending import bent_in


@pytest.fixture
def bent_part(bench):
    bench.job.write_part("WALL", {"thickness": "3 mm", "material": "S235", "process": "laser"}, by="Mira")
    bench.job.take_profile("WALL", "WALL.dxf", bent_dxf(), by="Mira")
    return bench


def say(bench, *labels, **fields):
    whole = {"angle": "90 deg", "direction": "up", "radius": "3 mm", **fields}
    return bench.job.bend("WALL", labels, by="Mira", **whole)


def test_a_bend_follows_its_line_when_another_is_drawn_before_it(bent_part):
    say(bent_part, "B1", k_factor="0.44")
    bent_part.job.take_profile("WALL", "WALL.dxf", bent_dxf((10.0, 30.0)), by="Mira")
    part = bent_part.job.part("WALL")
    assert part.bend_lines["B1"].vertices[0][1] == 30.0
    assert part.bend("B1").k_factor is not None
    assert "bend_lost" not in bent_part.codes("WALL")


def test_a_bend_whose_line_is_gone_stops_until_it_is_dropped(bent_part):
    say(bent_part, "B1", "B2")
    bent_part.job.take_profile("WALL", "WALL.dxf", bent_dxf((30.0,)), by="Mira")
    assert "bend_lost" in bent_part.codes("WALL")
    bent_part.do(RemoveBend, number="WALL", label="B2", reason="one bend less")
    assert "bend_lost" not in bent_part.codes("WALL")


def test_a_new_revision_keeps_its_bends(bent_part):
    say(bent_part, "B1")
    before = bent_part.job.part("WALL").bends
    bent_part.job.write_part("WALL", {"quantity": 1, "unconnected": True}, by="Mira")
    bent_part.lock("WALL")
    bent_part.do(NewRevision, number="WALL", reason="wider")
    assert bent_part.job.part("WALL").bends == before


def test_a_sign_off_does_not_survive_a_bend(bent_part):
    bent_part.job.write_part("WALL", {"quantity": 1, "unconnected": True}, by="Mira")
    bent_part.sign_all("WALL")
    assert "role_missing" not in bent_part.codes("WALL")
    say(bent_part, "B1")
    assert "role_missing" in bent_part.codes("WALL")


def test_unknown_bend_lines_are_refused_with_those_there_are(bent_part):
    with pytest.raises(UnknownName, match=r"B1, B2"):
        say(bent_part, "B9")
    with pytest.raises(UnknownName, match=r"B1, B2"):
        bent_part.do(RecordDimension, number="WALL", name="leg", nominal="50 mm", measured_on="leg B7 10 10")


@pytest.mark.parametrize(
    "wrong",
    [
        {"angle": "0 deg"},
        {"angle": "180 deg"},
        {"radius": "0 mm"},
        {"k_factor": "0.51"},
        {"k_factor": "0"},
        {"k_factor": "0.4", "deduction": "5 mm"},
        {"direction": "sideways"},
        {"tolerance": "0 mm"},
    ],
)
def test_what_cannot_be_bent_is_refused(bent_part, wrong):
    with pytest.raises(BadInput):
        say(bent_part, "B1", **wrong)
    assert bent_part.job.part("WALL").bends == ()


def test_lines_that_are_not_those_of_the_drawing_are_refused(bent_part):
    lines = (("0", "31", "200", "31"),)
    act = make(RecordBend, number="WALL", labels=("B1",), lines=lines, angle="90 deg", direction="up")
    with pytest.raises(BadInput, match="look at its bend lines again"):
        bent_part.job.do(act, by="Mira")


def test_the_command_records_shows_and_drops_bends(bent_part, capsys):
    base = ["--job", bent_part.place, "--by", "Mira", "--json", "bend", "WALL"]
    bent_part.job.close()
    assert main([*base, "B1", "--as", "90 deg up, R 3 mm, K 0.44"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["bends"][0]["allowance_mm"] == pytest.approx(6.786, abs=5e-4)
    assert main(base) == 0
    rows = json.loads(capsys.readouterr().out)["bends"]
    assert [(r["label"], r["entered"] is not None) for r in rows] == [("B1", True), ("B2", False)]
    assert main([*base, "B2", "--as", "45 deg down"]) == 0
    (row,) = json.loads(capsys.readouterr().out)["bends"]
    assert row["assumed"] == ["R 3.84 mm", "K 0.407"]
    assert main([*base, "B9", "--as", "45 deg down"]) == 2
    assert "B1, B2" in capsys.readouterr().out
    assert main([*base, "B2", "--remove", "it stays flat"]) == 0
    capsys.readouterr()
    assert main([*base, "B2"]) == 2
    assert main([*base, "--as", "90 deg up"]) == 2


@pytest.fixture
def sent(bent_part):
    """The bent plate, drawn for one vendor."""
    bent_part.job.take_profile("WALL", "WALL.dxf", bent_dxf(), vendor="Kerf & Son", by="Mira")
    return bent_part


def bend_lines(bench, **fields):
    whole = {"vendor": "Kerf & Son", "material": "S235", "thickness": "3 mm", **fields}
    bench.do(RecordBendData, **whole)
    part = bench.job.part("WALL")
    return bent_in(part, part.bend("B1"))


def test_what_the_vendor_bend_lines_with_goes_before_what_is_usual_and_behind_what_is_stated(sent):
    say(sent, "B1", radius="")
    part = sent.job.part("WALL")
    assert bent_in(part, part.bend("B1")).assumed == ("R 3.84 mm", "K 0.407")
    found = bend_lines(sent, radius="2.6 mm", k_factor="0.38")
    assert (found.radius_mm, found.k, found.assumed) == (2.6, pytest.approx(0.38), ())
    assert found.vendors == ("R 2.6 mm of Kerf & Son", "K 0.38 of Kerf & Son")
    say(sent, "B1", radius="4 mm", k_factor="0.45")
    found = bend_lines(sent, radius="2.6 mm", k_factor="0.38")
    assert (found.radius_mm, found.k, found.vendors) == (4.0, pytest.approx(0.45), ())


@pytest.mark.parametrize("other", [{"vendor": "Plate Works"}, {"material": "6061"}, {"thickness": "4 mm"}])
def test_what_another_vendor_stock_or_thickness_is_bent_with_does_not_count(sent, other):
    say(sent, "B1", radius="")
    assert bend_lines(sent, radius="2.6 mm", **other).assumed


def test_a_vendor_who_says_it_again_is_believed_the_last_time(sent):
    say(sent, "B1", radius="")
    bend_lines(sent, radius="2.6 mm", thickness="3.0 mm")
    assert bend_lines(sent, radius="2.8 mm").radius_mm == 2.8
    assert len(sent.job.bend_data()) == 1


def test_a_sign_off_does_not_survive_what_the_vendor_bend_lines_with(sent):
    sent.job.write_part("WALL", {"quantity": 1, "unconnected": True}, by="Mira")
    say(sent, "B1")
    sent.sign_all("WALL")
    assert "role_missing" not in sent.codes("WALL")
    bend_lines(sent, k_factor="0.38")
    assert "role_missing" in sent.codes("WALL")


@pytest.mark.parametrize(
    "wrong",
    [{}, {"k_factor": "0.6"}, {"radius": "0 mm"}, {"radius": "3 mm", "thickness": ""}, {"radius": "3"}],
)
def test_a_vendor_who_says_nothing_that_can_be_bent_is_refused(sent, wrong):
    with pytest.raises(BadInput):
        bend_lines(sent, **wrong)


def test_a_locked_revision_keeps_what_the_vendor_bent_with_before(sent):
    sent.job.write_part("WALL", {"quantity": 1, "unconnected": True}, by="Mira")
    say(sent, "B1", radius="")
    bend_lines(sent, radius="2.6 mm", k_factor="0.38")
    sent.lock("WALL")
    before = own(sent.job.part("WALL"))
    assert bend_lines(sent, radius="2.9 mm", k_factor="0.41").radius_mm == 2.6
    assert own(sent.job.part("WALL")) == before
    sent.do(NewRevision, number="WALL", reason="other tools")
    part = sent.job.part("WALL")
    assert bent_in(part, part.bend("B1")).radius_mm == 2.9
    assert sent.job.verify() == ()


def test_the_command_records_and_shows_what_vendors_bend_line_with(sent, capsys):
    base = ["--job", sent.place, "--by", "Mira", "--json", "bend-data"]
    sent.job.close()
    assert main([*base, "Kerf & Son", "--material", "S235", "--thickness", "3 mm", "--k", "0.38"]) == 0
    capsys.readouterr()
    assert main(base) == 0
    (row,) = json.loads(capsys.readouterr().out)["bend_data"]
    assert (row["vendor"], row["k_factor"], row["radius"]) == ("Kerf & Son", "0.38", "")
    assert main([*base, "Kerf & Son", "--material", "S235"]) == 2
