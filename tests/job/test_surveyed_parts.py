"""Surveys from the command line to a fit: points, distances, a network in space, studs never taken for exact."""

from __future__ import annotations

import json
from functools import partial
from itertools import combinations
from math import dist

import pytest
from bench_job import plate_dxf

from ledger.acts.connections import RecordConnection
from ledger.acts.parts import NameGroup
from ledger.acts.survey import RecordPoint, distance_act
from ledger.cli import main
from ledger.domain.errors import BadInput
from ledger.survey.of_part import solution_of

STUDS = {"P1": (0.0, 0.0), "P2": (160.0, 0.0), "P3": (160.0, 60.0), "P4": (0.0, 60.0)}


@pytest.fixture
def said(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FITUP_BY", "Mira")

    def run(*words):
        code = main([*words, "--json"])
        return code, json.loads(capsys.readouterr().out)

    run("start", "Pier mount")
    run("part", "PIER", "--form", "site")
    return run


def measure(job, places, sure="0.4 mm", **more):
    for a, b in combinations(places, 2):
        reading = f"{dist(places[a], places[b]):.1f} ±{sure} tape"
        job.do_made(partial(distance_act, number="PIER", a=a, b=b, reading=reading, **more), by="Mira")


def studs(bench, sure):
    bench.job.write_part("PIER", {"form": "site"}, by="Mira")
    for label in STUDS:
        side = "left of P1 P2" if label == "P3" else ""
        bench.do(RecordPoint, number="PIER", label=label, diameter="12 mm", side=side)
    measure(bench.job, STUDS, sure)
    bench.do(NameGroup, number="PIER", name="studs", labels=tuple(STUDS))
    plies = ({"part": "BASE", "group": "bolts"}, {"part": "PIER", "group": "studs"})
    bench.do(
        RecordConnection, name="B-P", connection_kind="bolted", plies=plies, joint="stud", fastener="M12"
    )


def test_a_survey_by_hand_names_its_points_and_what_they_are_worth(said):
    assert said("point", "PIER", "P1", "P2", "P4")[0] == 0
    assert said("point", "PIER", "P3", "--side", "left of P1 P2")[0] == 0
    for a, b in combinations(STUDS, 2):
        code, made = said("distance", "PIER", a, b, f"{dist(STUDS[a], STUDS[b]):.1f} mm tape")
        assert code == 0
    assert "default uncertainty of a tape" in made["done"]
    code, found = said("survey", "PIER")
    assert (code, found["settled"], found["agrees"], found["redundancy"]) == (0, True, True, 1)
    at = {p["point"]: p["at_mm"] for p in found["points"]}
    for name, place in STUDS.items():
        assert at[name] == pytest.approx(place, abs=0.2)
    said("distance", "PIER", "P1", "P3", "191 ±1 mm tape")
    code, found = said("survey", "PIER")
    assert (code, found["agrees"]) == (1, False)
    assert found["off"]["certain"] is False
    said("distance", "PIER", "P1", "P3", "--remove", "the hook slipped")
    assert len(said("survey", "PIER")[1]["readings"]) == 5


def test_what_is_not_named_of_a_point_stays_as_it_is(said):
    said("point", "PIER", "P1", "P2", "P3", "--diameter", "12 mm")
    said("point", "PIER", "P3", "--side", "left of P1 P2")
    said("point", "PIER", "P3", "--at", "10 mm, 80 mm", "--uncertainty", "0.5 mm")
    said("point", "PIER", "P3", "--diameter", "16 mm")
    (point,) = (p for p in said("show", "PIER")[1]["points"] if p["label"] == "P3")
    assert (point["diameter"], point["side"]) == ("16 mm", "left of P1 P2")
    assert (point["at"], point["uncertainty"]) == (["10 mm", "80 mm"], "0.5 mm")
    code, refused = said("point", "PIER", "P3", "--at", "10 mm, 81 mm")
    assert code == 2, "new coordinates have a doubt of their own"
    assert "with their uncertainty" in refused["error"]["message"]


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("distance", "PIER", "P1", "P1", "10 mm tape"), "to itself"),
        (("distance", "PIER", "P1", "P9", "10 mm tape"), "no point of PIER 'P9'"),
        (("distance", "PIER", "P1", "P2", "10 ±0 mm tape"), "claims to be exact"),
        (("distance", "PIER", "P1", "P2", "10 kg tape"), "a mass"),
        (("distance", "PIER", "P1", "P2", "--remove", "why"), "no distance of PIER"),
        (("point", "PIER", "P 3"), "has a space"),
        (("point", "PIER", "P3", "--at", "1 mm"), "two, or three in space"),
        (("point", "PIER", "P3", "--at", "1 mm, 2 mm"), "with their uncertainty"),
        (("point", "PIER", "P3", "P4", "--at", "1 mm, 2 mm"), "name one"),
        (("survey", "PIER"), "no distances yet"),
    ],
)
def test_what_no_survey_is_made_of_is_refused(said, words, why):
    said("point", "PIER", "P1", "P2")
    code, found = said(*words)
    assert code == 2
    assert why in found["error"]["message"]


def test_a_network_in_space_is_solved_and_its_height_kept(bench):
    places = {
        "P1": (0.0, 0.0, 0.0), "P2": (900.0, 0.0, 0.0), "P3": (900.0, 600.0, 0.0),
        "P4": (100.0, 650.0, 80.0), "P5": (400.0, 300.0, 500.0),
    }  # fmt: skip
    bench.job.write_part("PIER", {"form": "site"}, by="Mira")
    for label in places:
        side = {"P3": "", "P4": "above P1 P2 P3", "P5": "above P1 P2 P3"}.get(label, "")
        bench.do(RecordPoint, number="PIER", label=label, side=side)
    measure(bench.job, places, "0.2 mm")
    found = solution_of(bench.job.part("PIER"))
    assert found.network.dim == 3
    assert found.point("P5").at_mm == pytest.approx(places["P5"], abs=0.5)
    assert not {"network_free", "network_mirrored", "network_impossible"} & bench.codes("PIER")


def test_a_plate_goes_on_surveyed_studs_with_their_doubt_as_position_tolerance(bench):
    dxf = plate_dxf(tuple((x + 20, y + 20) for x, y in STUDS.values()), diameter=16.0)
    bench.job.take_profile("BASE", "BASE.dxf", dxf, by="Mira")
    studs(bench, "0.4 mm")
    sure = {f.code: f for f in bench.job.connection_view("B-P").findings}
    assert "fits" in sure
    for a, b in combinations(STUDS, 2):
        reading = f"{dist(STUDS[a], STUDS[b]):.1f} ±6 mm tape"
        made = partial(distance_act, number="PIER", a=a, b=b, reading=reading)
        bench.job.do_made(made, by="Mira")
    rough = {f.code for f in bench.job.connection_view("B-P").findings}
    assert "odds_too_low" in rough


def test_an_impossible_network_is_a_finding_and_the_part_is_still_read(bench):
    bench.job.write_part("PIER", {"form": "site"}, by="Mira")
    for label, side in (("P1", ""), ("P2", ""), ("P3", "left of P1 P2"), ("P4", "")):
        bench.do(RecordPoint, number="PIER", label=label, diameter="12 mm", side=side)
    measure(bench.job, {k: v for k, v in STUDS.items() if k != "P4"})
    assert len(bench.job.part("PIER").holes) == 3
    in_space = {"at": ("0 mm", "60 mm", "5 mm"), "uncertainty": "1 mm"}
    bench.do(RecordPoint, number="PIER", label="P4", diameter="12 mm", **in_space)
    assert bench.job.part("PIER").holes == ()
    assert "network_impossible" in bench.codes("PIER")
    with pytest.raises(BadInput, match="needs 3 other points of the network"):
        solution_of(bench.job.part("PIER"))
    assert bench.job.verify() == ()
    assert bench.job.report()
