"""Rings of bolted parts in a real job: every pair GO, the whole judged at each of its parts."""

from __future__ import annotations

import json
import math

import pytest
from bench_job import Bench, plate_dxf

from ledger.acts.connections import RecordConnection
from ledger.acts.parts import NameGroup
from ledger.cli import main
from ledger.domain.errors import BadInput
from ledger.domain.shape import Contour, Hole, Stroke
from ledger.profile.write import write_dxf

UP_MM = 24.0
PARTS = {  # the corner at which each plate of a triangle is bolted to the next, and the places of its holes
    "BASE": {"left": ((20.0, 20.0), (80.0, 20.0)), "right": ((320.0, 20.0), (380.0, 20.0))},
    "STRUT": {"low": ((320.0, 20.0), (380.0, 20.0)), "high": ((20.0, 220.0), (80.0, 220.0))},
    "POST": {"low": ((20.0, 20.0), (80.0, 20.0)), "high": ((20.0, 220.0), (80.0, 220.0))},
}
CONNECTIONS = {
    "POST-BASE": (("POST", "low"), ("BASE", "left")),
    "STRUT-BASE": (("STRUT", "low"), ("BASE", "right")),
    "STRUT-POST": (("STRUT", "high"), ("POST", "high")),
}


def drawn(number, up_mm=0.0):
    groups = PARTS[number]
    points = [(x, y + (up_mm if name == "high" else 0.0)) for name, of in groups.items() for x, y in of]
    return plate_dxf(points, width=400.0, height=280.0)


def named(bench, number, name, up_mm=0.0):
    at = {(x, y + up_mm) for x, y in PARTS[number][name]}
    holes = bench.job.part(number).holes
    labels = tuple(h.label for h in holes if (round(h.centre[0], 6), round(h.centre[1], 6)) in at)
    bench.do(NameGroup, number=number, name=name, labels=labels)


def triangle(folder, clock, up_mm=0.0):
    """Three plates bolted in a ring; the strut's upper holes are so much too high."""
    bench = Bench.started(folder, clock)
    for number, groups in PARTS.items():
        bench.plate(number, drawn(number, up_mm if number == "STRUT" else 0.0))
        for name in groups:
            named(bench, number, name, up_mm if (number, name) == ("STRUT", "high") else 0.0)
    for name, plies in CONNECTIONS.items():
        rows = tuple({"part": part, "group": group} for part, group in plies)
        bench.do(
            RecordConnection, name=name, connection_kind="bolted", plies=rows, joint="through", fastener="M12"
        )
    return bench


@pytest.fixture
def misfit(tmp_path, clock):
    bench = triangle(tmp_path, clock, up_mm=UP_MM)
    yield bench
    bench.job.close()


def test_a_ring_that_does_not_close_stops_each_of_its_parts_though_every_pair_fits(misfit):
    for number in PARTS:
        (verdict,) = misfit.job.verdicts([number])
        (found,) = [s for s in verdict.stops if s.code == "ring_open"]
        assert "short by" in found.message
        assert found.where == "BASE A/POST A/STRUT A"
        assert float(found.value) > 0
        assert not {s.code for s in verdict.stops} & {"offset", "no_common_pattern"}


def test_the_ring_is_told_with_its_margins_and_the_move_that_closes_it(misfit, capsys):
    assert main(["assembly", "--job", misfit.place, "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    (ring,) = told["rings"]
    assert [p["part"] for p in ring["parts"]] == ["BASE", "POST", "STRUT"]
    assert ring["short_mm"] > 0
    assert ring["margin_mm"] < 0
    assert {m["connection"] for m in ring["margins"]} == set(CONNECTIONS)
    assert all(m["in_the_whole_mm"] <= m["by_itself_mm"] for m in ring["margins"])
    move = ring["moves"][0]
    assert len(move["holes"]) == 2
    assert main(["assembly", "--job", misfit.place]) == 1
    text = capsys.readouterr().out
    assert "BASE, POST, STRUT: DOES NOT CLOSE" in text
    assert f"move {', '.join(move['holes'])} of {move['part']} by" in text


def test_a_mended_drawing_closes_the_ring(misfit):
    misfit.job.take_profile("STRUT", "STRUT.dxf", drawn("STRUT"), by="Mira")
    named(misfit, "STRUT", "high")
    (ring,) = misfit.job.assembly()
    assert ring.closes
    assert ring.closure.state == "closes"
    assert not {"ring_open", "not_run"} & misfit.codes("STRUT")


def test_a_part_outside_the_ring_is_not_looked_at_again(misfit):
    misfit.plate("LID", plate_dxf())
    misfit.job.verdicts([*PARTS])
    outcomes = misfit.job.judging.outcomes
    looked = outcomes.looked
    misfit.job.write_part("LID", {"title": "another"}, by="Mira")
    misfit.job.verdicts([*PARTS])
    assert outcomes.looked == looked


def test_a_job_without_rings_says_so(tmp_path, clock, capsys):
    bench = Bench.started(tmp_path, clock)
    bench.two_plates()
    assert main(["assembly", "--job", bench.place]) == 0
    assert "no ring of bolted parts" in capsys.readouterr().out
    bench.job.close()


@pytest.fixture
def sound(tmp_path, clock):
    bench = triangle(tmp_path, clock)
    yield bench
    bench.job.close()


def test_a_dimension_across_a_ring_has_its_range_and_what_it_is_made_of(sound, capsys):
    holes = {tuple(round(v, 6) for v in h.centre): h.label for h in sound.job.part("STRUT").holes}
    base = {tuple(round(v, 6) for v in h.centre): h.label for h in sound.job.part("BASE").holes}
    start, end = f"BASE:{base[20.0, 20.0]}", f"STRUT:{holes[20.0, 220.0]}"
    command = ["dimension", "TOP", "--from", start, "--to", end, "--along", "y", "--job", sound.place]
    assert main([*command, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["value_mm"] == pytest.approx(200.0, abs=1e-5)
    assert told["low_mm"] < 198.5
    assert told["high_mm"] > 201.5
    assert {c["of"] for c in told["contributions"]} >= {"play of POST-BASE, STRUT-BASE, STRUT-POST"}
    halves = [c["up_mm"] - c["down_mm"] for c in told["contributions"]]
    assert halves == sorted(halves, reverse=True)
    assert told["root_sum_square_mm"] <= (told["high_mm"] - told["low_mm"]) / 2
    assert main(command) == 0
    assert "TOP: 200.000 mm from" in capsys.readouterr().out


def test_a_height_across_parts_is_the_sum_of_what_lies_between(sound, capsys):
    sound.job.write_part(
        "POST", {"thickness": "8 mm", "coating": "zinc", "coating_thickness": "0.1 mm"}, by="Mira"
    )
    found = sound.job.dimension_across("BASE:left", "POST:high", "z")
    assert found.value == pytest.approx(8.2)
    assert [c.name for c in found.contributions] == ["thickness of POST"]
    assert found.low < 8.2 < found.high


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["TOP", "--from", "BASE:left", "--to", "BASE:right"], "both places are in BASE"),
        (["TOP", "--from", "BASE:left", "--to", "LID:bolts"], "not bolted to each other"),
        (["TOP", "--from", "BASE:left", "--to", "STRUT:H99"], "H99"),
        (["TOP", "--from", "BASE", "--to", "STRUT:high"], "expected a part and its hole"),
        (["TOP", "--from", "BASE:left", "--to", "STRUT:high", "--along", "w"], "expected x, y or z"),
        (["TOP", "--from", "BASE:left"], "required"),
        (["BASE", "width"], "expected NAME = NOMINAL"),
    ],
)
def test_what_is_no_dimension_across_parts_is_refused_with_a_word(sound, capsys, words, said):
    sound.plate("LID", plate_dxf())
    assert main(["dimension", *words, "--job", sound.place]) == 2
    assert said in capsys.readouterr().err


@pytest.fixture
def upright(tmp_path, clock):
    """An arm on the wall of a gusset that is bent up and stands on a base; all 10 mm thick."""
    bench = Bench.started(tmp_path, clock)
    foot, wall = ((40.0, 40.0), (160.0, 40.0)), ((40.0, 130.0), (160.0, 130.0))
    outline = Contour(((0.0, 0.0, 0.0), (200.0, 0.0, 0.0), (200.0, 160.0, 0.0), (0.0, 160.0, 0.0)))
    holes = tuple(Hole("", (p,), 13.5) for p in (*foot, *wall))
    line = Stroke(((0.0, 80.0, 0.0), (200.0, 80.0, 0.0)), "BEND")
    bench.plate("BASE", plate_dxf(foot))
    bench.plate("GUSSET", write_dxf(outline, holes, (), bends=[line]))
    bench.plate("ARM", plate_dxf(((40.0, 20.0), (160.0, 20.0), (100.0, 300.0)), height=330.0))
    for number, name, points in (
        ("GUSSET", "foot", foot),
        ("GUSSET", "wall", wall),
        ("ARM", "wall", ((40.0, 20.0), (160.0, 20.0))),
        ("ARM", "axis", ((100.0, 300.0),)),
    ):
        at = {tuple(p) for p in points}
        labels = tuple(
            h.label for h in bench.job.part(number).holes if tuple(round(v, 6) for v in h.centre) in at
        )
        bench.do(NameGroup, number=number, name=name, labels=labels)
    for name, upper, lower in (
        ("GUSSET-BASE", ("GUSSET", "foot"), ("BASE", "bolts")),
        ("ARM-GUSSET", ("ARM", "wall"), ("GUSSET", "wall")),
    ):
        plies = tuple({"part": part, "group": group} for part, group in (upper, lower))
        bench.do(
            RecordConnection,
            name=name,
            connection_kind="bolted",
            plies=plies,
            joint="through",
            fastener="M12",
        )
    yield bench
    bench.job.close()


def test_how_high_an_axis_is_above_the_structure_is_followed_over_a_bend(upright):
    upright.job.bend(
        "GUSSET", ["B1"], by="Mira", angle="90 deg", direction="up", radius="10 mm", k_factor="0.4"
    )
    taken = math.pi / 2 * (10 + 0.4 * 10)
    found = upright.job.dimension_across("BASE:bolts", "ARM:axis", "z")
    assert found.value == pytest.approx(10 + 10 + (130 - 80 - taken / 2) + (300 - 20), abs=1e-6)
    assert found.low < found.value - 1 < found.value + 1 < found.high
    assert {"bend B1 of GUSSET", "thickness of GUSSET"} <= {c.name for c in found.contributions}
    assert found.note
    out = upright.job.dimension_across("BASE:bolts", "ARM:axis", "y")
    assert out.value == pytest.approx(
        (80 - 40) + 10 - taken / 2 - 10, abs=1e-6
    )  # ARM's drawn face is the inner one
    straight = upright.job.dimension_across("BASE:bolts", "ARM:axis")
    assert straight.value == pytest.approx(math.hypot(found.value, out.value), abs=1e-6)


def test_a_bend_that_nothing_is_known_of_is_asked_for(upright):
    with pytest.raises(BadInput, match=r"B1 of GUSSET has no bend data: fitup bend GUSSET B1"):
        upright.job.dimension_across("BASE:bolts", "ARM:axis", "z")
