"""Bends are recorded by their lines, follow them, and are refused where they cannot be folded."""

from __future__ import annotations

import json

import pytest
from bench_shop import folded_dxf

from ledger.acts.base import make
from ledger.acts.bends import DropBend, RecordBend, StateFolding
from ledger.acts.dimensions import RecordDimension
from ledger.acts.parts import NewRevision
from ledger.cli import main
from ledger.domain.digest import own
from ledger.domain.errors import BadInput, UnknownName
from ledger.standards.bending import bent_in


@pytest.fixture
def folded(bench):
    bench.shop.write_part("WALL", {"thickness": "3 mm", "material": "S235", "process": "laser"}, by="Mira")
    bench.shop.take_profile("WALL", "WALL.dxf", folded_dxf(), by="Mira")
    return bench


def say(bench, *labels, **fields):
    whole = {"angle": "90 deg", "direction": "up", "radius": "3 mm", **fields}
    return bench.shop.bend("WALL", labels, by="Mira", **whole)


def test_a_bend_follows_its_line_when_another_is_drawn_before_it(folded):
    say(folded, "B1", k_factor="0.44")
    folded.shop.take_profile("WALL", "WALL.dxf", folded_dxf((10.0, 30.0)), by="Mira")
    part = folded.shop.part("WALL")
    assert part.bend_lines["B1"].vertices[0][1] == 30.0
    assert part.bend("B1").k_factor is not None
    assert "bend_lost" not in folded.codes("WALL")


def test_a_bend_whose_line_is_gone_stops_until_it_is_dropped(folded):
    say(folded, "B1", "B2")
    folded.shop.take_profile("WALL", "WALL.dxf", folded_dxf((30.0,)), by="Mira")
    assert "bend_lost" in folded.codes("WALL")
    folded.do(DropBend, number="WALL", label="B2", reason="one fold less")
    assert "bend_lost" not in folded.codes("WALL")


def test_a_new_revision_keeps_its_bends(folded):
    say(folded, "B1")
    before = folded.shop.part("WALL").bends
    folded.shop.write_part("WALL", {"quantity": 1, "stands_alone": True}, by="Mira")
    folded.lock("WALL")
    folded.do(NewRevision, number="WALL", reason="wider")
    assert folded.shop.part("WALL").bends == before


def test_a_sign_off_does_not_survive_a_bend(folded):
    folded.shop.write_part("WALL", {"quantity": 1, "stands_alone": True}, by="Mira")
    folded.sign_all("WALL")
    assert "role_missing" not in folded.codes("WALL")
    say(folded, "B1")
    assert "role_missing" in folded.codes("WALL")


def test_unknown_bend_lines_are_refused_with_those_there_are(folded):
    with pytest.raises(UnknownName, match=r"B1, B2"):
        say(folded, "B9")
    with pytest.raises(UnknownName, match=r"B1, B2"):
        folded.do(RecordDimension, number="WALL", name="leg", nominal="50 mm", bound="leg B7 10 10")


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
def test_what_cannot_be_folded_is_refused(folded, wrong):
    with pytest.raises(BadInput):
        say(folded, "B1", **wrong)
    assert folded.shop.part("WALL").bends == ()


def test_lines_that_are_not_those_of_the_drawing_are_refused(folded):
    lines = (("0", "31", "200", "31"),)
    act = make(RecordBend, number="WALL", labels=("B1",), lines=lines, angle="90 deg", direction="up")
    with pytest.raises(BadInput, match="look at its bend lines again"):
        folded.shop.do(act, by="Mira")


def test_the_command_records_shows_and_drops_bends(folded, capsys):
    base = ["--shop", folded.place, "--by", "Mira", "--json", "bend", "WALL"]
    folded.shop.close()
    assert main([*base, "B1", "--as", "90 deg up, R 3 mm, K 0.44"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["bends"][0]["allowance_mm"] == pytest.approx(6.786, abs=5e-4)
    assert main(base) == 0
    rows = json.loads(capsys.readouterr().out)["bends"]
    assert [(r["label"], r["stated"] is not None) for r in rows] == [("B1", True), ("B2", False)]
    assert main([*base, "B2", "--as", "45 deg down"]) == 0
    (row,) = json.loads(capsys.readouterr().out)["bends"]
    assert row["assumed"] == ["R 3.84 mm", "K 0.407"]
    assert main([*base, "B9", "--as", "45 deg down"]) == 2
    assert "B1, B2" in capsys.readouterr().out
    assert main([*base, "B2", "--drop", "it stays flat"]) == 0
    capsys.readouterr()
    assert main([*base, "B2"]) == 2
    assert main([*base, "--as", "90 deg up"]) == 2


@pytest.fixture
def sent(folded):
    """The folded plate, drawn for one vendor."""
    folded.shop.take_profile("WALL", "WALL.dxf", folded_dxf(), vendor="Kerf & Son", by="Mira")
    return folded


def folds(bench, **fields):
    whole = {"vendor": "Kerf & Son", "material": "S235", "thickness": "3 mm", **fields}
    bench.do(StateFolding, **whole)
    part = bench.shop.part("WALL")
    return bent_in(part, part.bend("B1"))


def test_what_the_vendor_folds_with_goes_before_what_is_usual_and_behind_what_is_stated(sent):
    say(sent, "B1", radius="")
    part = sent.shop.part("WALL")
    assert bent_in(part, part.bend("B1")).assumed == ("R 3.84 mm", "K 0.407")
    found = folds(sent, radius="2.6 mm", k_factor="0.38")
    assert (found.radius_mm, found.k, found.assumed) == (2.6, pytest.approx(0.38), ())
    assert found.vendors == ("R 2.6 mm of Kerf & Son", "K 0.38 of Kerf & Son")
    say(sent, "B1", radius="4 mm", k_factor="0.45")
    found = folds(sent, radius="2.6 mm", k_factor="0.38")
    assert (found.radius_mm, found.k, found.vendors) == (4.0, pytest.approx(0.45), ())


@pytest.mark.parametrize("other", [{"vendor": "Plate Works"}, {"material": "6061"}, {"thickness": "4 mm"}])
def test_what_another_vendor_stock_or_thickness_is_folded_with_does_not_count(sent, other):
    say(sent, "B1", radius="")
    assert folds(sent, radius="2.6 mm", **other).assumed


def test_a_vendor_who_says_it_again_is_believed_the_last_time(sent):
    say(sent, "B1", radius="")
    folds(sent, radius="2.6 mm", thickness="3.0 mm")
    assert folds(sent, radius="2.8 mm").radius_mm == 2.8
    assert len(sent.shop.foldings()) == 1


def test_a_sign_off_does_not_survive_what_the_vendor_folds_with(sent):
    sent.shop.write_part("WALL", {"quantity": 1, "stands_alone": True}, by="Mira")
    say(sent, "B1")
    sent.sign_all("WALL")
    assert "role_missing" not in sent.codes("WALL")
    folds(sent, k_factor="0.38")
    assert "role_missing" in sent.codes("WALL")


@pytest.mark.parametrize(
    "wrong",
    [{}, {"k_factor": "0.6"}, {"radius": "0 mm"}, {"radius": "3 mm", "thickness": ""}, {"radius": "3"}],
)
def test_a_vendor_who_says_nothing_that_can_be_folded_is_refused(sent, wrong):
    with pytest.raises(BadInput):
        folds(sent, **wrong)


def test_a_locked_revision_keeps_what_the_vendor_folded_with_before(sent):
    sent.shop.write_part("WALL", {"quantity": 1, "stands_alone": True}, by="Mira")
    say(sent, "B1", radius="")
    folds(sent, radius="2.6 mm", k_factor="0.38")
    sent.lock("WALL")
    before = own(sent.shop.part("WALL"))
    assert folds(sent, radius="2.9 mm", k_factor="0.41").radius_mm == 2.6
    assert own(sent.shop.part("WALL")) == before
    sent.do(NewRevision, number="WALL", reason="other tools")
    part = sent.shop.part("WALL")
    assert bent_in(part, part.bend("B1")).radius_mm == 2.9
    assert sent.shop.verify() == ()


def test_the_command_records_and_shows_what_vendors_fold_with(sent, capsys):
    base = ["--shop", sent.place, "--by", "Mira", "--json", "folding"]
    sent.shop.close()
    assert main([*base, "Kerf & Son", "--material", "S235", "--thickness", "3 mm", "--k", "0.38"]) == 0
    capsys.readouterr()
    assert main(base) == 0
    (row,) = json.loads(capsys.readouterr().out)["foldings"]
    assert (row["vendor"], row["k_factor"], row["radius"]) == ("Kerf & Son", "0.38", "")
    assert main([*base, "Kerf & Son", "--material", "S235"]) == 2
