"""
Whether a GO of a stack holds, measured at the poses that are told: every bolt has an axis that clears every ply.

Only the case and the answer are known here, not how it was found. The largest excess of an axis over what the plies
leave it is convex in its place, so that two nested searches of golden sections find where it is least.
"""

from __future__ import annotations

import cmath
import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import combinations
from typing import Final

from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.case import WAYS_UP
from ledger.fit.checker import DOUBT
from ledger.fit.crossings import Segment, apart
from ledger.fit.stack_case import Labels, StackCase, StackFastening, StackFit

NEAR_MM: Final = 2e-5  # the margin of a stack is proven to half of it
PLACE_MM: Final = 1e-6  # told poses are rounded
GOLDEN: Final = (math.sqrt(5) - 1) / 2
SECTIONS: Final = 48
Laid = Sequence[tuple[Segment, float]]  # cores on the ground, and the room about each


def checked_stack(case: StackCase, found: StackFit) -> StackFit:
    """The same answer, no longer proven where its GO does not hold."""
    if not (found.proven and found.verdict == "GO"):
        return found
    why = refused_stack(case, found)
    return found if why is None else replace(found, proven=False, notes=(*found.notes, DOUBT.format(why=why)))


def refused_stack(case: StackCase, found: StackFit) -> str | None:
    """Why a GO does not hold; None where it does."""
    try:
        return next(_faults(case, found), None)
    except (ArithmeticError, LookupError, ValueError, TypeError) as fault:
        return f"unreadable: {fault}"


def _faults(case: StackCase, found: StackFit) -> Iterator[str]:
    margin = found.margin_mm
    if margin is None or not margin >= -NEAR_MM or len(found.poses) != len(case.plies):
        yield "no margin, or not a pose for every part"
        return
    if any(f.verdict != "GO" for _, f in found.pairs):
        yield "two of the parts do not go together"
    if not _may_lie(case, found.poses):
        yield "a part may not lie there"
    bolts = found.bolts or _bolts(case, found)
    for of in case.fastenings:
        names = [{h.label: h for h in ply.holes} for ply in of.plies]
        own = [b for b in bolts if b[case.ground] in names[case.ground]]
        yield from _unused(of, own)
        for bolt in own:
            holes = [None if x is None else names[k][x] for k, x in enumerate(bolt)]
            if sum(h is not None for h in holes) < 2:  # noqa: PLR2004 - nothing is joined
                yield f"the bolt through {_told(bolt)} joins nothing"
            elif not _goes_in(case, of, holes, found.poses, margin):
                yield f"no bolt goes through {_told(bolt)} with this margin"
    every = {h.label for of in case.fastenings for h in of.plies[case.ground].holes}
    if any(b[case.ground] not in every for b in bolts):
        yield "a bolt goes through no hole of the part that the others lie on"


def _told(bolt: Labels) -> str:
    return ", ".join(x for x in bolt if x)


def _bolts(case: StackCase, found: StackFit) -> tuple[Labels, ...]:
    """The bolts by what every pair tells, where the answer names none."""
    rows: dict[str, list[str | None]] = {}
    for k, pair in found.pairs:
        for p in pair.pairs:
            own, ground = (p.b, p.a) if case.ground == 0 else (p.a, p.b)
            row = rows.setdefault(ground, [None] * len(case.plies))
            row[case.ground], row[k] = ground, own
    return tuple(map(tuple, rows.values()))


def _unused(of: StackFastening, bolts: Sequence[Labels]) -> Iterator[str]:
    """Holes of a named group that no bolt goes through, holes that two go through."""
    for k, ply in enumerate(of.plies):
        used = Counter(b[k] for b in bolts if b[k] is not None)
        if used and max(used.values()) > 1:
            yield f"two bolts go through {used.most_common(1)[0][0]}"
        if ply.declared and (left := {h.label for h in ply.holes} - set(used)):
            yield f"no bolt goes through {min(left)}"


def _may_lie(case: StackCase, poses: tuple[Pose, ...]) -> bool:
    """Whether the plies may lie so; *turned over* speaks of the first on the others."""
    if case.places:
        ground = case.ground
        allowed = [tuple(p[ground].back.after(x) for x in p) for p in case.places]
        return any(all(_same(x, y) for x, y in zip(poses, p, strict=True)) for p in allowed)
    if not _same(poses[case.ground], Pose()):
        return False
    turned = WAYS_UP[case.turned_over]
    if case.ground == 0:
        return all(p.turned_over in turned for p in poses[1:])
    return poses[0].turned_over in turned and not any(p.turned_over for p in poses[1:])


def _same(one: Pose, other: Pose) -> bool:
    points = ((0.0, 0.0), (1000.0, 0.0), (0.0, 1000.0))
    return one.turned_over == other.turned_over and all(
        math.dist(one.place(p), other.place(p)) <= PLACE_MM * 10 for p in points
    )


def _goes_in(
    case: StackCase, of: StackFastening, holes: Sequence[Hole | None], poses: tuple[Pose, ...], margin: float
) -> bool:
    """Whether some axis keeps the margin in all of these holes; what holds the fastener fixes it to its core."""
    floats, laid = of.joint == "through", []
    for k, hole in enumerate(holes):
        if hole is None:
            continue
        room = (hole.diameter_mm - of.fastener_mm) / 2 - (margin / 2 if floats else margin)
        if of.joint == "countersunk tapped":
            room = -margin
        laid.append((_core(hole, poses[k]), 0.0 if not floats and k == case.ground else room))
    return _least_excess(laid) <= NEAR_MM


def _core(hole: Hole, pose: Pose) -> Segment:
    turn, move = cmath.rect(1, math.radians(pose.angle_deg)), complex(pose.x_mm, pose.y_mm)
    first, last = (
        complex(*p).conjugate() if pose.turned_over else complex(*p) for p in (hole.core[0], hole.core[-1])
    )
    return turn * first + move, turn * last + move


def _least_excess(laid: Laid) -> float:
    """By how much the best axis lies farther from some core than its room; enough where it is near 0."""

    def excess(axis: complex) -> float:
        return max(apart((axis, axis), core) - room for core, room in laid)

    tries = [p for core, _ in laid for p in core] + [z for x, y in combinations(laid, 2) for z in _met(x, y)]
    best = min(map(excess, tries))
    if best <= NEAR_MM or all(p == q for (p, q), _ in laid):
        return best
    ends = [p for core, _ in laid for p in core]
    wide = max(abs(room) for _, room in laid)
    low = complex(min(z.real for z in ends) - wide, min(z.imag for z in ends) - wide)
    high = complex(max(z.real for z in ends) + wide, max(z.imag for z in ends) + wide)

    def over(x: float) -> float:
        return _least(lambda y: excess(complex(x, y)), low.imag, high.imag)

    return min(best, _least(over, low.real, high.real))


def _met(one: tuple[Segment, float], other: tuple[Segment, float]) -> list[complex]:
    """Where the circles about the middles of two round cores cross, or the nearest to it."""
    (p, _), r = one
    (q, _), s = other
    away = abs(q - p)
    if away == 0:
        return []
    along = (away**2 + r**2 - s**2) / (2 * away)
    up = math.sqrt(max(0.0, r**2 - along**2))
    way = (q - p) / away
    return [p + way * complex(along, up), p + way * complex(along, -up)]


def _least(of: Callable[[float], float], low: float, high: float) -> float:
    """The least value of a convex function between two places."""
    one, two = high - GOLDEN * (high - low), low + GOLDEN * (high - low)
    at_one, at_two = of(one), of(two)
    for _ in range(SECTIONS):
        if at_one <= at_two:
            high, two, at_two = two, one, at_one
            one = high - GOLDEN * (high - low)
            at_one = of(one)
        else:
            low, one, at_one = one, two, at_two
            two = low + GOLDEN * (high - low)
            at_two = of(two)
    return min(at_one, at_two)
