"""
A dimension across parts that are bent: from connection to connection in space.

Every part is laid on the one before it, face on face as the connection says, where the pair fits best; from one of its
connections to the next it is followed over its bends. The range is sought at the corners of what each thickness, bend,
connection and place may be out, the play of a connection as a shift and a turn that contain it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Final

import numpy as np

from ledger.assembly.heights import Layer
from ledger.assembly.space import HERE, Bend, Frame, crossed, in_order, laid, nudged
from ledger.assembly.stack_up import Contribution, Input, Spread, ordered, root_sum_square, spread_of
from ledger.cases.across import Along, Spot, layers_of, place_of, thickness_of
from ledger.cases.answers import NotRun
from ledger.cases.bodies import bends_of, coat_of
from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.cases.rings import Leg
from ledger.domain.bend import ends_of
from ledger.domain.pose import Pose
from ledger.domain.record import Part
from ledger.domain.shape import Hole, Point
from ledger.fit.candidates import tabulate
from ledger.fit.joint import Real
from ledger.standards.bending import off_per_bend

_BOTH: Final = 2
_NOTE: Final = (
    "over bends the play of a connection is taken as a shift and a turn that contain it: never too small"
)
_AXES: Final = {"x": 0, "y": 1, "z": 2}
Got = Callable[[str, str], float]  # what an input is, by the thing and what of it


def is_bent(legs: Sequence[Leg], start: tuple[Part, Point], end: tuple[Part, Point]) -> bool:
    """Whether the way goes over a bend of some part."""
    return any(crossed(a, b, bends_of(part)) for part, a, b in _stretches(legs, start, end))


def across_bends(
    legs: Sequence[Leg], start: Spot, end: Spot, along: Along, parts: tuple[Part, Part]
) -> Spread:
    """The dimension in space with its range and contributions. Raises NotRun, UnknownName."""
    (p, off_p), (q, off_q) = place_of(parts[0], start), place_of(parts[1], end)
    stretches = _stretches(legs, (parts[0], p), (parts[1], q))
    inputs = [*_inputs(legs, stretches)]
    keys = [key for key, _ in inputs]

    def value(x: Sequence[float]) -> float:
        known = dict(zip(keys, x, strict=True))
        way = _way(legs, stretches, lambda of, what: known.get((of, what), 0.0))
        return float(way[_AXES[along]]) if along else float(np.linalg.norm(way))

    found = spread_of(value, [x for _, x in inputs])
    own = (
        Contribution(f"place of {start.words}", -off_p, off_p),
        Contribution(f"place of {end.words}", -off_q, off_q),
    )
    every = (*_by_name(found.contributions), *own)
    out = off_p + off_q
    return Spread(
        found.value, found.low - out, found.high + out, root_sum_square(every), ordered(every), _NOTE
    )


def _by_name(contributions: Sequence[Contribution]) -> tuple[Contribution, ...]:
    """Shift and turn of one connection, angle and place of one bend, as one."""
    names = dict.fromkeys(c.name for c in contributions)
    return tuple(
        Contribution(
            name,
            math.fsum(c.down for c in contributions if c.name == name),
            math.fsum(c.up for c in contributions if c.name == name),
        )
        for name in names
    )


Stretch = tuple[Part, Point, Point]


def _stretches(legs: Sequence[Leg], start: tuple[Part, Point], end: tuple[Part, Point]) -> list[Stretch]:
    """In every part on the way: from where it is reached to where it is left, in its drawing."""
    found: list[Stretch] = []
    part, at = start
    for leg in legs:
        found.append((part, at, _middle(_ply(leg, leg.first))))
        placed = _ply(leg, leg.then)
        part, at = placed.part, _middle(placed)
    return [*found, (part, at, end[1])]


def _ply(leg: Leg, number: str) -> PlacedPly:
    return next(p for p in leg.case.plies if p.part.number == number)


def _middle(placed: PlacedPly) -> Point:
    holes = placed.all_holes
    if not holes:
        raise NotRun(
            f"{placed.part.number} has no holes where it is bolted: take its drawing, or record them"
        )
    return (
        math.fsum(h.centre[0] for h in holes) / len(holes),
        math.fsum(h.centre[1] for h in holes) / len(holes),
    )


def _inputs(legs: Sequence[Leg], stretches: Sequence[Stretch]) -> list[tuple[tuple[str, str], Input]]:
    """What the way is made of and may be out, by the thing and what of it."""
    found: dict[tuple[str, str], Input] = {}
    for part, a, b in stretches:
        if part.thickness is not None:
            found[part.number, "thickness"] = thickness_of(part)
        for bend in crossed(a, b, bends_of(part)):
            label = _label(part, bend)
            said = part.bend(label)
            off_mm, off_deg, _ = off_per_bend()
            if said is not None and said.tolerance is not None:
                off_mm = float(said.tolerance.mm)
            name = f"bend {label} of {part.number}"
            found[f"{part.number} {label}", "mm"] = Input(name, 0.0, -off_mm, off_mm)
            found[f"{part.number} {label}", "deg"] = Input(name, 0.0, -off_deg, off_deg)
    for leg in legs:
        name = leg.case.connection.name
        shift_mm, turn = _play(leg.case)
        for what, most in (("x", shift_mm), ("y", shift_mm), ("turn", turn)):
            found[name, what] = Input(f"play of {name}", 0.0, -most, most)
    return list(found.items())


def _label(part: Part, bend: Bend) -> str:
    return next(label for label, stroke in part.bend_lines.items() if ends_of(stroke) == (bend.a, bend.b))


def _play(case: ConnectionCase) -> tuple[float, float]:
    """The play of a pair that is bolted where its holes let it be; none of one whose position is entered."""
    play = play_of(case)
    return (0.0, 0.0) if case.connection.position is not None else play


def play_of(case: ConnectionCase) -> tuple[float, float]:
    """How far, and by what angle, a pair can be from its best fit in the worst case. Raises NotRun."""
    fit, pattern = case.best_fit, case.pattern
    if len(case.plies) != _BOTH or fit is None or pattern is None or fit.pose is None or fit.verdict != "GO":
        raise NotRun(
            f"{case.connection.name} does not fit by itself, or is a stack: only pairs are followed over bends"
        )
    charge = float(tabulate(pattern).charge.max())
    first, second = (p.part for p in case.plies)
    pairs = [(a, b, p) for p in fit.pairs if (a := first.hole(p.a)) and (b := second.hole(p.b))]
    most = max(p.allowed_mm + p.offset_mm + _long(a) + _long(b) for a, b, p in pairs) + charge
    apart = max(math.dist(a.centre, b.centre) for a, _, _ in pairs for b, _, _ in pairs)
    return most, 2 * math.asin(most / apart) if apart > most else math.pi


def _long(hole: Hole) -> float:
    """How long a slot is between the middles of its ends; a round hole is not."""
    return math.dist(hole.core[0], hole.core[-1])


def _way(legs: Sequence[Leg], stretches: Sequence[Stretch], got: Got) -> Real:
    """From the start to the end, in the coordinates of the start's flange."""
    frame = HERE
    for (part, a, b), leg in zip(stretches, legs, strict=False):
        frame = frame.after(_through(part, a, b, got)).after(_onto(leg, got))
    part, a, b = stretches[-1]
    frame = frame.after(_through(part, a, b, got))
    begun = stretches[0][1]
    return np.asarray(frame.place(np.array([b[0], b[1], 0.0])) - np.array([begun[0], begun[1], 0.0]))


def _through(part: Part, a: Point, b: Point, got: Got) -> Frame:
    """The flange at `b` of a part, in the coordinates of the one at `a`."""
    frames = []
    for bend in crossed(a, b, bends_of(part)):
        of = f"{part.number} {_label(part, bend)}"
        frames.append(bend.beyond(b, got(of, "mm"), got(of, "deg")))
    return in_order(tuple(frames))


def _onto(leg: Leg, got: Got) -> Frame:
    """The next part's flange in the coordinates of the one before it."""
    case = leg.case
    pose = case.pose or Pose()
    (layer,) = layers_of((case,))
    over, under = case.plies
    name = case.connection.name
    height = _height(layer, over.part, under.part, got)
    frame = nudged(pose.place(_middle(over)), got(name, "x"), got(name, "y"), got(name, "turn")).after(
        laid(pose, height)
    )
    return frame if leg.then == over.part.number else frame.back


def _height(layer: Layer, over: Part, under: Part, got: Got) -> float:
    """How high the drawn face of the upper part is over that of the lower one."""
    thick, below = (
        got(over.number, "thickness") - 2 * coat_of(over),
        got(under.number, "thickness") - 2 * coat_of(under),
    )
    coats = coat_of(over) + coat_of(under)
    if layer.underneath:
        return -below - coats - (thick if layer.turned_over else 0.0)
    return coats + (0.0 if layer.turned_over else thick)
