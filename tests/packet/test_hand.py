"""What the vendor is told of the face of a plate: *same turned over* only where the drawing proves it."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from packet_samples import bent, plate, rectangle, taken
from sheet_samples import ISSUE, words

from ledger.domain.pose import Pose
from ledger.domain.record import Operation
from ledger.domain.shape import Contour, Hole, Profile
from ledger.papers.cut_list import cut_list
from ledger.papers.hand import face_text, same_turned_over
from ledger.papers.notes import vendor_notes
from ledger.papers.sheet import vendor_sheet

L_SHAPE = Contour(tuple((x, y, 0.0) for x, y in ((0, 0), (200, 0), (200, 60), (60, 60), (60, 120), (0, 120))))
CORNER = Contour(((10.0, 10.0, 0.0), (90.0, 10.0, 0.0), (90.0, 30.0, 0.0)))
ROUND = Contour(((0.0, 0.0, 1.0), (100.0, 0.0, 1.0)))


def part(outline, holes=(), **fields):
    round_holes = tuple(Hole(f"H{k}", ((x, y),), d) for k, (x, y, d) in enumerate(holes, 1))
    profile = Profile(outline, holes=round_holes, outlines=(outline,), openings=fields.pop("openings", ()))
    return plate(taken=taken(profile), operations=fields.pop("operations", ()), **fields)


FOUR = [(30.0, 30.0, 14.0), (270.0, 30.0, 14.0), (270.0, 170.0, 14.0), (30.0, 170.0, 14.0)]
BOX = rectangle(300.0, 200.0)
PAIR = (Operation("H1", "tapped", "M16"), Operation("H2", "tapped", "M16"))
DIAGONAL = (Operation("H1", "tapped", "M16"), Operation("H3", "tapped", "M16"))

SAME = [
    ("box", part(BOX)),
    ("four holes", part(BOX, FOUR)),
    ("round plate", part(ROUND)),
    ("both holes of a side tapped", part(BOX, FOUR, operations=PAIR)),
    ("square with diagonal holes", part(rectangle(100.0, 100.0), [(20.0, 20.0, 9.0), (80.0, 80.0, 9.0)])),
    ("window in the middle", part(BOX, openings=(rectangle(300.0, 200.0),))),
]
APART = [
    ("L", part(L_SHAPE)),
    ("one hole off", part(BOX, [*FOUR[:3], (30.0, 169.0, 14.0)])),
    ("one hole larger", part(BOX, [*FOUR[:3], (30.0, 170.0, 14.5)])),
    ("diagonal holes", part(BOX, [FOUR[0], FOUR[2]])),
    ("one tapped hole", part(BOX, FOUR, operations=PAIR[:1])),
    ("two threads", part(BOX, FOUR, operations=(PAIR[0], Operation("H2", "tapped", "M14")))),
    ("diagonal threads", part(BOX, FOUR, operations=DIAGONAL)),
    ("countersunk", part(BOX, FOUR, operations=tuple(Operation(f"H{k}", "countersunk") for k in range(1, 5)))),
    ("window off the middle", part(BOX, openings=(CORNER,))),
    ("bend and mark", replace(part(BOX), taken=taken(bent(part(BOX).profile)))),
    ("etched", part(BOX, etched="PL-101")),
]  # fmt: skip


@pytest.mark.parametrize("one", [p for _, p in SAME], ids=[n for n, _ in SAME])
def test_a_plate_that_lies_on_itself_turned_over_is_called_the_same(one):
    assert same_turned_over(one)
    assert "same turned over" in face_text(one)


@pytest.mark.parametrize("one", [p for _, p in APART], ids=[n for n, _ in APART])
def test_no_other_plate_is_called_the_same_on_any_paper(one):
    assert not same_turned_over(one)
    sheet = words(vendor_sheet(one, ISSUE))
    assert "same" not in sheet
    assert "the face shown is the top face" in sheet
    assert b"either" not in cut_list([one], {})
    assert b"hand      as drawn" in vendor_notes([one], {one.number: "file.dxf"})


def test_what_is_the_same_stays_so_however_the_drawing_lies():
    luck = random.Random(5)
    for _name, one in SAME + APART:
        profile = one.profile
        pose = Pose(
            luck.uniform(0, 360), luck.uniform(-500, 500), luck.uniform(-500, 500), luck.random() < 0.5
        )
        holes = tuple(replace(h, core=tuple(map(pose.place, h.core))) for h in profile.holes)
        outline = pose.place_contour(profile.outline)
        openings = tuple(map(pose.place_contour, profile.openings))
        moved = replace(profile, outline=outline, outlines=(outline,), holes=holes, openings=openings)
        assert same_turned_over(replace(one, taken=replace(one.taken, profile=moved))) == same_turned_over(
            one
        )


@pytest.mark.parametrize("hand", ["as drawn", "opposite"])
def test_what_the_user_said_of_the_hand_is_what_the_sheet_says(hand):
    said = face_text(part(BOX, hand=hand, opposite_of="PL-100" if hand == "opposite" else ""))
    assert said.startswith(hand)
