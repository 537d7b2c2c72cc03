"""What is proven of room in space holds wherever the bolts let the parts be."""

from __future__ import annotations

import math

import numpy as np
from case_builders import arguments_of
from many_cases import hold, many_cases

from ledger.assembly.solids import gap_mm, placed
from ledger.assembly.space import laid
from ledger.cases.surroundings import BuiltPart
from ledger.domain.pose import Pose

ROOM_MM = 1.5  # two holes of 13.5 mm and M12
CORNERS = [(15.0, 30.0), (105.0, 30.0), (15.0, 90.0), (105.0, 90.0)]
HOLES = [f"{x:g} {y:g} 13.5" for x, y in CORNERS]


def bracket(edge, tall, way):
    return {
        "plate": f"0 0 {edge + tall} 120", "thickness": "6 mm", "bends": [f"{edge} 0, {edge} 120"],
        "bend_lines": [f"B1 {way} deg up, R 6 mm, K 0.44"], "holes": HOLES,
        "groups": {"foot": ["H1", "H2", "H3", "H4"]}, "group": "foot",
    }  # fmt: skip


def two_brackets(seed):
    """Two brackets on a base, the second somewhere beside the first, its wall towards it or away."""
    random = np.random.default_rng(seed)
    x, turned = float(random.uniform(60, 240)), bool(random.integers(2))
    place = f"{x + 120:g} 120 180" if turned else f"{x:g} 0 0"
    there = [(x + 120 - a, 120 - b) if turned else (x + a, b) for a, b in CORNERS]
    base = {
        "plate": "-50 -50 600 200", "thickness": "10 mm", "holes": HOLES + [f"{a:g} {b:g} 13.5" for a, b in there],
        "groups": {"left": ["H1", "H2", "H3", "H4"], "right": ["H5", "H6", "H7", "H8"]}, "group": "left",
    }  # fmt: skip
    walls = [int(random.choice([60, 90, 120])) for _ in range(2)]
    data = {
        "a": bracket(140, 150, walls[0]), "b": base, "connection": {"position": "0 0 0"},
        "more": [{"connection": {"position": place}, "plies": [
            {"number": "WEB", **bracket(140, 150, walls[1])}, {"number": "BASE", "group": "right"},
        ]}],
    }  # fmt: skip
    return arguments_of(data)[BuiltPart].build, random


def shifted(piece, random):
    """The piece where its four bolts let it be as well: turned and shifted in the face, near to as far as it goes."""
    while True:
        angle, (x, y) = random.normal(0, 0.02), random.normal(0, 1.0, 2)
        about = laid(Pose(math.degrees(angle), float(x), float(y)), 0.0)
        flange = piece.frame.after(piece.body.frame_at(CORNERS))
        moves = [about.place(np.array([*c, 0.0])) - np.array([*c, 0.0]) for c in CORNERS]
        if max(float(np.linalg.norm(m)) for m in moves) <= ROOM_MM:
            return placed(piece.body.solid, flange.after(about).after(flange.back).after(piece.frame))


def what_is_proven_holds(seed):
    build, random = two_brackets(seed)
    pieces = build.places.pieces
    assert set(pieces) == {"BASE", "TURN", "WEB"}, build.places.left
    met = [m for m in build.meetings if {m.one.name, m.other.name} == {"TURN", "WEB"}]
    word = "clear" if not met else "collide" if met[0].collides else None
    for _ in range(10):
        one, other = (shifted(pieces[n], random) for n in ("TURN", "WEB"))
        shares = not (one ^ other).is_empty() and (one ^ other).volume() > 1e-6
        if word == "clear":
            assert gap_mm(one, other, 1.0) > 0
        elif word == "collide":
            assert shares
    return word


@many_cases(suite=24, bench=1000)
def test_what_is_proven_of_two_brackets_holds_wherever_their_bolts_let_them_be(seeds):
    hold(what_is_proven_holds, seeds, clear="0.9", collide="0.9")


def test_both_are_proven_of_some():
    words = {what_is_proven_holds(seed) for seed in range(24)}
    assert {"clear", "collide"} <= words


def test_a_part_whose_same_holes_are_bolted_twice_stands_in_two_places():
    again = arguments_of(
        {
            "a": bracket(140, 150, 90), "connection": {"position": "0 0 0"},
            "b": {
                "plate": "-50 -50 600 200", "thickness": "10 mm",
                "holes": HOLES + [f"{x + 250:g} {y:g} 13.5" for x, y in CORNERS],
                "groups": {"left": ["H1", "H2", "H3", "H4"], "right": ["H5", "H6", "H7", "H8"]}, "group": "left",
            },
            "more": [{"connection": {"position": "250 0 0"}, "plies": [
                {"number": "TURN", "group": "foot"}, {"number": "BASE", "group": "right"},
            ]}],
        }
    )[BuiltPart].build  # fmt: skip
    pieces = again.places.pieces
    assert set(pieces) == {"BASE", "TURN", "TURN (2)"}, again.places.left
    assert pieces["TURN (2)"].frame.shift[0] - pieces["TURN"].frame.shift[0] == 250
    assert again.places.left == {}
