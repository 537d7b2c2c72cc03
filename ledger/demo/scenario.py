"""
The scenario: a telescope mount on an existing concrete pier. Every figure here is invented for the demo.

The *pier* has four cast-in studs, measured with a tape. On it lie the base plate, the turntable plate and a bought
bearing flange; a bent gusset carries two fork arms of opposite hands side by side, and a tie plate joins them above: a
ring of four parts, each pair of which fits. One arm carries a hub; a cover has an opening that an arm passes through
edge-on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ledger.domain.shape import Contour, Hole, Point, Stroke

STUDS = (
    ("S1", "-150.6 mm", "-149.5 mm"),
    ("S2", "149.8 mm", "-150.4 mm"),
    ("S3", "150.5 mm", "150.2 mm"),
    ("S4", "-149.7 mm", "149.9 mm"),
)
ARM_HOLES: tuple[Point, ...] = ((-40.0, 20.0), (40.0, 20.0), (40.0, 80.0), (-40.0, 80.0))
TIE_HOLES: tuple[Point, ...] = ((-30.0, 210.0), (30.0, 210.0), (30.0, 250.0), (-30.0, 250.0))
HUB_HOLES: tuple[Point, ...] = ((-35.0, 395.0), (35.0, 395.0), (35.0, 465.0), (-35.0, 465.0))
AXIS: Point = (0.0, 430.0)
APART_MM = 200.0  # the arms, middle to middle, on the gusset
SLIP: Point = (3.0, 0.0)  # how far one hub hole of the right-hand arm is out, on purpose
TOO_FAR_MM = 9.4  # how much farther apart the tie plate is drawn for them, on purpose


@dataclass(frozen=True, slots=True)
class Drawing:
    """What one plate's DXF is to show."""

    outline: Contour
    holes: tuple[Hole, ...]
    openings: tuple[Contour, ...] = ()
    bends: tuple[Stroke, ...] = ()


def drawings() -> dict[str, Drawing]:
    """The drawing of every part that is cut, by number."""
    return {
        "BASE": Drawing(
            _rectangle(-210, -210, 210, 210, 20),
            _round(22, _square(150)) + _round(13.5, _circle(120, 6)) + _round(60, ((0.0, 0.0),)),
        ),
        "TURN": Drawing(_disc(160), _turntable_holes()),
        "GUSSET": Drawing(
            _rectangle(-170, -52, 170, 100, 0),
            _round(9, gusset_side(-1) + gusset_side(1)) + _round(12, gusset_feet()),
            bends=(_bend(),),
        ),
        "ARM-L": Drawing(_arm(1), _arm_holes(HUB_HOLES)),
        "ARM-R": Drawing(_arm(-1), _arm_holes(slipped())),
        "TIE": Drawing(_rectangle(-170, 190, 170, 270, 10), _round(9, tie_side(-1) + tie_side(1))),
        "HUB": Drawing(_rectangle(-50, 380, 50, 480, 10), _round(6.6, HUB_HOLES) + _round(30, (AXIS,))),
        "COVER": Drawing(
            _rectangle(-150, -150, 150, 150, 10),
            _round(6.6, _square(135)),
            openings=(_rectangle(-70, -15, 70, 15, 3),),
        ),
    }


def at(holes: tuple[Hole, ...], points: tuple[Point, ...]) -> tuple[str, ...]:
    """The labels of the holes at these points, in their order."""
    return tuple(min(holes, key=lambda h: math.dist(h.centre, p)).label for p in points)


def base_studs() -> tuple[Point, ...]:
    """Where the base plate's stud holes are."""
    return _square(150)


def bolt_circle() -> tuple[Point, ...]:
    """The bolt circle that the base plate and the turntable plate share."""
    return _circle(120, 6)


def flange_circle() -> tuple[Point, ...]:
    """The bolt circle of the bearing flange."""
    return _circle(80, 4)


def gusset_feet() -> tuple[Point, ...]:
    """The gusset's foot holes, in its own drawing."""
    return ((-40.0, -30.0), (40.0, -30.0))


def gusset_side(side: int) -> tuple[Point, ...]:
    """The gusset's holes for the left-hand (-1) or the right-hand arm (1)."""
    return _beside(ARM_HOLES, side * APART_MM / 2)


def tie_side(side: int) -> tuple[Point, ...]:
    """The tie plate's holes for the left-hand (-1) or the right-hand arm (1)."""
    return _beside(TIE_HOLES, side * (APART_MM + TOO_FAR_MM) / 2)


def slipped() -> tuple[Point, ...]:
    """The hub holes of the right-hand arm, one of them out."""
    first, *others = HUB_HOLES
    return ((first[0] + SLIP[0], first[1] + SLIP[1]), *others)


def turntable_feet() -> tuple[Point, ...]:
    """Where the gusset stands on the turntable plate."""
    return ((-40.0, 140.0), (40.0, 140.0))


def _turntable_holes() -> tuple[Hole, ...]:
    return (
        _round(13.5, bolt_circle())
        + _round(6.8, flange_circle())
        + _round(8.5, turntable_feet())
        + _round(50, ((0.0, 0.0),))
    )


def _round(diameter: float, points: tuple[Point, ...]) -> tuple[Hole, ...]:
    return tuple(Hole("", (p,), float(diameter)) for p in points)


def _square(half: float) -> tuple[Point, ...]:
    return ((-half, -half), (half, -half), (half, half), (-half, half))


def _circle(radius: float, count: int) -> tuple[Point, ...]:
    turns = (2 * math.pi * k / count for k in range(count))
    return tuple((round(radius * math.cos(t), 6), round(radius * math.sin(t), 6)) for t in turns)


def _beside(points: tuple[Point, ...], x: float) -> tuple[Point, ...]:
    return tuple((px + x, py) for px, py in points)


def _arm_holes(hub: tuple[Point, ...]) -> tuple[Hole, ...]:
    return _round(9, ARM_HOLES) + _round(9, TIE_HOLES) + _round(6.6, hub) + _round(30, (AXIS,))


def _disc(radius: float) -> Contour:
    return Contour(((-radius, 0.0, 1.0), (radius, 0.0, 1.0)))


def _rectangle(left: float, low: float, right: float, high: float, corner: float) -> Contour:
    if not corner:
        return Contour(((left, low, 0.0), (right, low, 0.0), (right, high, 0.0), (left, high, 0.0)))
    r, quarter = corner, math.tan(math.pi / 8)
    return Contour(
        (
            (left + r, low, 0.0),
            (right - r, low, quarter),
            (right, low + r, 0.0),
            (right, high - r, quarter),
            (right - r, high, 0.0),
            (left + r, high, quarter),
            (left, high - r, 0.0),
            (left, low + r, quarter),
        )
    )


def _arm(side: int) -> Contour:
    """120 wide, 500 high, the top round, a notch low on one side: so the hands differ."""
    notch = ((60.0, 0.0, 0.0), (60.0, 120.0, 0.0), (50.0, 130.0, 0.0), (50.0, 180.0, 0.0), (60.0, 190.0, 0.0))
    ring = Contour(((-60.0, 0.0, 0.0), *notch, (60.0, 440.0, 1.0), (-60.0, 440.0, 0.0)))
    if side > 0:
        return ring
    return Contour(tuple((-x, y, -b) for x, y, b in ring.vertices)).reversed()


def _bend() -> Stroke:
    return Stroke(((-170.0, 0.0, 0.0), (170.0, 0.0, 0.0)), "BEND")
