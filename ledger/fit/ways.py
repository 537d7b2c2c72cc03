"""
Ways to assemble two plates that look alike to the bolts but not to the eye.

Two ways are *the same* when the step from one to the other lays either plate on itself: a turned square on a turned
square is the same thing. Outline, openings, holes and bend lines count; of a hole that takes its bolt either way only
the size does, because its bolt says where it lies. A *wrong* way lays neither on itself, within `ALIKE_MM`. A *guard*
is a hole whose move, in both drawings, keeps the shown way and leaves no wrong one; it is tried by fitting the moved
holes again.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from ledger.domain.pose import Pose
from ledger.domain.shape import Contour, Hole, Point
from ledger.fit.case import Fit, PatternCase, Way
from ledger.fit.lines import lines_apart_mm, lines_of
from ledger.fit.pattern import fit

ALIKE_MM: Final = 1.0
SAGITTA_MM: Final = 0.1
STEP_MM: Final = 2.0
MOST_TRIED: Final = 8
MOST_HOLES: Final = 40
_OVER: Final = {"up": "down", "down": "up"}


@dataclass(frozen=True, slots=True)
class Bent:
    """A bend line between its ends, and which way it is bent; empty where nobody has said."""

    a: Point
    b: Point
    direction: str = ""


@dataclass(frozen=True, slots=True)
class Plate:
    """What is seen of a plate: outline and openings (none where it has no drawing), every hole, bend lines."""

    rings: tuple[Contour, ...]
    holes: tuple[Hole, ...] = ()
    bends: tuple[Bent, ...] = ()


@dataclass(frozen=True, slots=True)
class Guard:
    """Moving hole `a` of A and its counterpart `b` of B, each in its own drawing, leaves only ways that look right."""

    a: str
    b: str
    move_a_mm: Point
    move_b_mm: Point


def wrong_ways(found: Fit, a: Plate, b: Plate) -> tuple[Way, ...]:
    """The ways in which neither plate comes to lie as it does in the shown one; none without an outline."""
    if found.verdict != "GO" or len(found.assemblies) < 2 or not (a.rings or b.rings):  # noqa: PLR2004 - another way
        return ()
    shown = found.assemblies[0]
    return tuple(
        w for w in found.assemblies[1:] if not _a_on_itself(a, shown, w) and not _b_on_itself(b, shown, w)
    )


def guard(case: PatternCase, found: Fit, a: Plate, b: Plate) -> Guard | None:
    """A hole to move so that the plates go together only as shown; None where moving one is no fix."""
    if found.pose is None or len(case.a.holes) > MOST_HOLES or len(case.b.holes) > MOST_HOLES:
        return None
    most = max((p.allowed_mm for p in found.pairs), default=0.0)
    step = math.ceil(2 * most + STEP_MM)
    for pair in found.pairs[:MOST_TRIED]:
        for way in ((1.0, 0.0), (0.0, 1.0)):
            move_a = (way[0] * step, way[1] * step)
            move_b = found.pose.turn(move_a)
            again = fit(
                replace(
                    case,
                    a=replace(case.a, holes=_moved(case.a.holes, pair.a, move_a)),
                    b=replace(case.b, holes=_moved(case.b.holes, pair.b, move_b)),
                )
            )
            moved = (
                replace(a, holes=_moved(a.holes, pair.a, move_a)),
                replace(b, holes=_moved(b.holes, pair.b, move_b)),
            )
            if (
                again.verdict == "GO"
                and len(again.pairs) == len(found.pairs)
                and not wrong_ways(again, *moved)
            ):
                return Guard(pair.a, pair.b, move_a, (round(move_b[0], 6) + 0.0, round(move_b[1], 6) + 0.0))
    return None


def _moved(holes: tuple[Hole, ...], label: str, by: Point) -> tuple[Hole, ...]:
    return tuple(
        replace(h, core=tuple((x + by[0], y + by[1]) for x, y in h.core)) if h.label == label else h
        for h in holes
    )


def _a_on_itself(a: Plate, shown: Way, other: Way) -> bool:
    bolted = {p[0] for p in shown.pairs} & {p[0] for p in other.pairs}
    return bool(a.rings) and _on_itself(a, shown.pose.back.after(other.pose), bolted)


def _b_on_itself(b: Plate, shown: Way, other: Way) -> bool:
    bolted = {p[1] for p in shown.pairs} & {p[1] for p in other.pairs}
    return bool(b.rings) and _on_itself(b, shown.pose.after(other.pose.back), bolted)


def _on_itself(plate: Plate, step: Pose, bolted: set[str]) -> bool:
    """Whether a step lays a plate on itself; holes that are `bolted` before and after lie where the bolts say."""
    if not _holes_on_themselves(plate.holes, step, bolted) or not _bends_on_themselves(plate.bends, step):
        return False
    lines = lines_of(plate.rings, SAGITTA_MM)
    return lines_apart_mm(lines, lines, step, enough_mm=ALIKE_MM, most_mm=ALIKE_MM) <= ALIKE_MM


def _holes_on_themselves(holes: Sequence[Hole], step: Pose, bolted: set[str]) -> bool:
    """Whether every hole meets one like it; of bolted ones the one that is nearest."""
    free = [h for h in holes if h.label not in bolted]
    held = [h for h in holes if h.label in bolted]
    for hole in held:
        core = tuple(map(step.place, hole.core))
        nearest = min(held, key=lambda h: _cores_apart(core, h.core))
        if abs(nearest.diameter_mm - hole.diameter_mm) > ALIKE_MM:
            return False
    left = list(free)
    for hole in free:
        core = tuple(map(step.place, hole.core))
        met = min(left, key=lambda h: _rims_apart(core, hole, h))
        if not _rims_apart(core, hole, met) <= ALIKE_MM:
            return False
        left.remove(met)
    return True


def _rims_apart(core: tuple[Point, ...], hole: Hole, other: Hole) -> float:
    return _cores_apart(core, other.core) + abs(hole.diameter_mm - other.diameter_mm) / 2


def _cores_apart(one: tuple[Point, ...], other: tuple[Point, ...]) -> float:
    """How far the ends of two cores are apart, whichever way round they run."""
    (a, b), (c, d) = (one[0], one[-1]), (other[0], other[-1])
    return min(max(math.dist(a, c), math.dist(b, d)), max(math.dist(a, d), math.dist(b, c)))


def _bends_on_themselves(bends: Sequence[Bent], step: Pose) -> bool:
    """Whether every bend line meets one that is bent the same way; nothing said may be either."""
    for bend in bends:
        line = (step.place(bend.a), step.place(bend.b))
        way = _OVER.get(bend.direction, "") if step.turned_over else bend.direction
        if not any(
            _cores_apart(line, (o.a, o.b)) <= ALIKE_MM and (not way or o.direction in ("", way))
            for o in bends
        ):
            return False
    return True
