"""
Do three or more plies go together on the same bolts, all at once.

    fit_stack(StackCase(plies, fastener_mm=12, largest_fastener_mm=12))

Every ply is paired with a *ground* ply: the one that holds the fastener (tapped, stud, captive nut, dowel: the last;
countersunk: the first), else the last. Where a ply holds the bolts their axes are fixed, so the others no longer
touch each other and the least of the pair fits is exact. Bolts that float through all plies couple them: plies that
pass two by two can fail together, and the poses of all are sought at once, for every way the pairs go together.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np

from ledger.domain.pose import Pose
from ledger.domain.shape import Hole, Point
from ledger.fit.case import Fit, PatternCase, Ply, Way
from ledger.fit.joint import SAME_MM, Real
from ledger.fit.layout import Core
from ledger.fit.pattern import fit
from ledger.fit.shift import enclosing
from ledger.fit.stack_case import Blamed, StackCase, StackFit
from ledger.fit.stack_layout import StackLayout, half_rooms, lay_out_stack
from ledger.fit.stack_pose import TOLERANCE_MM, StackBest, best_stack
from ledger.fit.stack_proof import proves_stack

MOST_WAYS_TRIED: Final = 64
MOST_BLAMED: Final = 12
__all__ = ["Blamed", "StackCase", "StackFit", "fit_stack"]
PROVEN_TO: Final = "three and more plies: the margin is proven to 0.00001 mm"


def fit_stack(case: StackCase) -> StackFit:
    """Fit three or more plies at once. Raises BadInput for a number that makes no sense."""
    ground = 0 if case.joint == "countersunk" else len(case.plies) - 1
    pairs = tuple((k, fit(_pair(case, k, ground))) for k in range(len(case.plies)) if k != ground)
    notes = tuple(dict.fromkeys(note for _, f in pairs for note in f.notes))
    if any(f.verdict != "GO" for _, f in pairs):
        return StackFit("NO-GO", ground, pairs, notes=notes)
    if case.joint != "through":
        return _held(case, ground, pairs, notes)
    return _floating(case, ground, pairs, notes)


def _pair(case: StackCase, k: int, ground: int) -> PatternCase:
    first, second = (ground, k) if case.joint == "countersunk" else (k, ground)
    return PatternCase(
        case.plies[first], case.plies[second], case.fastener_mm, case.largest_fastener_mm,
        case.joint, case.flip if 0 in (first, second) else "no",
    )  # fmt: skip


def _held(
    case: StackCase, ground: int, pairs: tuple[tuple[int, Fit], ...], notes: tuple[str, ...]
) -> StackFit:
    """The ground holds every fastener: each ply stands by itself against it."""
    poses = [Pose()] * len(case.plies)
    for k, found in pairs:
        pose = found.pose or Pose()
        poses[k] = _inverse(pose) if case.joint == "countersunk" else pose
    worst = min(pairs, key=lambda x: x[1].margin_mm or 0.0)
    labels: list[str | None] = [None] * len(case.plies)
    if worst[1].tightest:
        a, b = worst[1].tightest
        labels[worst[0]], labels[ground] = (b, a) if case.joint == "countersunk" else (a, b)
    return StackFit(
        "GO", ground, pairs, min(f.margin_mm or 0.0 for _, f in pairs),
        min(f.worst_case_margin_mm or 0.0 for _, f in pairs), tuple(poses),
        tightest=tuple(labels), proven=all(f.proven for _, f in pairs), notes=notes,
    )  # fmt: skip


def _inverse(pose: Pose) -> Pose:
    """The pose that takes it back."""
    angle = pose.angle_deg if pose.flipped else -pose.angle_deg
    turned = Pose(angle, 0.0, 0.0, pose.flipped)
    x, y = turned.place((pose.x_mm, pose.y_mm))
    return Pose(angle, -x, -y, pose.flipped)


def _floating(
    case: StackCase, ground: int, pairs: tuple[tuple[int, Fit], ...], notes: tuple[str, ...]
) -> StackFit:
    """Bolts that no ply holds: all poses at once, for every way the pairs go together."""
    best: tuple[StackBest, _Assembly] | None = None
    whole = all(f.proven and len(f.assemblies) == f.ways for _, f in pairs)
    ways = sorted(product(*(f.assemblies for _, f in pairs)), key=lambda w: -min(x.margin_mm for x in w))
    for tried, way in enumerate(ways):
        if best and min(x.margin_mm for x in way) <= 2 * best[0].half_margin_mm + 2 * TOLERANCE_MM:
            break  # a stack is never better than the pairs in it
        if tried == MOST_WAYS_TRIED:
            whole = False
            break
        assembly = _Assembly.of(case, ground, pairs, way)
        found = best_stack(assembly.layout, assembly.start)
        whole &= found.complete
        if best is None or found.half_margin_mm > best[0].half_margin_mm + TOLERANCE_MM:
            best = found, assembly
    if best is None:
        return StackFit("NO-GO", ground, pairs, notes=notes)
    return _judged(case, ground, pairs, best, whole=whole, notes=notes)


@dataclass(frozen=True, slots=True)
class _Assembly:
    """One way to pair all plies: every bolt's hole in every ply, and the numbers; `start` has the ground first."""

    bolts: tuple[tuple[Hole | None, ...], ...]
    flipped: tuple[bool, ...]
    layout: StackLayout
    start: Real

    @staticmethod
    def of(
        case: StackCase, ground: int, pairs: tuple[tuple[int, Fit], ...], way: tuple[Way, ...]
    ) -> _Assembly:
        holes = [{h.label: h for h in ply.holes} for ply in case.plies]
        flipped, start = [False] * len(case.plies), np.zeros(len(case.plies))
        met: dict[str, list[Hole | None]] = {}
        for (k, _), laid in zip(pairs, way, strict=True):
            flipped[k], start[k] = laid.pose.flipped, math.radians(laid.pose.angle_deg)
            for a, b in laid.pairs:
                row = met.setdefault(b, [None] * len(case.plies))
                row[ground], row[k] = holes[ground][b], holes[k][a]
        bolts = tuple(tuple(row) for _, row in sorted(met.items()))
        turned = start[_order(len(case.plies), ground)]
        return _Assembly(bolts, tuple(flipped), _laid(case, bolts, flipped, ground, worst=False), turned)

    def without(self, case: StackCase, ground: int, bolt: int) -> StackLayout:
        rest = self.bolts[:bolt] + self.bolts[bolt + 1 :]
        return _laid(case, rest, self.flipped, ground, worst=False)


def _laid(
    case: StackCase,
    bolts: tuple[tuple[Hole | None, ...], ...],
    flipped: tuple[bool, ...] | list[bool],
    ground: int,
    *,
    worst: bool,
) -> StackLayout:
    """The layout with the ground ply first: it is the one that stays."""
    order = _order(len(case.plies), ground)
    cores = [[_core(row[k], turned=flipped[k]) for row in bolts] for k in order]
    rooms = [[_room(case, case.plies[k], row[k], worst=worst) for row in bolts] for k in order]
    return lay_out_stack(cores, rooms)


def _order(plies: int, ground: int) -> list[int]:
    return [ground, *(k for k in range(plies) if k != ground)]


def _core(hole: Hole | None, *, turned: bool) -> Core | None:
    if hole is None:
        return None
    return tuple((x, -y) for x, y in hole.core) if turned else hole.core


def _room(case: StackCase, ply: Ply, hole: Hole | None, *, worst: bool) -> float:
    """Radius less half the fastener; in the worst case less what hole, fastener and position tolerance take."""
    if hole is None:
        return math.inf
    room = (hole.diameter_mm - case.fastener_mm) / 2
    if not worst:
        return room
    thicker = max(0.0, case.largest_fastener_mm - case.fastener_mm)
    return room - (ply.shrink_mm + thicker + ply.position_mm) / 2


def _judged(
    case: StackCase,
    ground: int,
    pairs: tuple[tuple[int, Fit], ...],
    best: tuple[StackBest, _Assembly],
    *,
    whole: bool,
    notes: tuple[str, ...],
) -> StackFit:
    found, assembly = best
    layout = assembly.layout
    proven = whole and proves_stack(
        layout, found.certificates, half_margin_mm=found.half_margin_mm, tolerance_mm=TOLERANCE_MM
    )
    margin = _mm(2 * found.half_margin_mm)
    hard = _laid(case, assembly.bolts, assembly.flipped, ground, worst=True)
    worst = _worst(layout, hard, found)
    left = half_rooms(layout, found.turns, found.shifts, found.axes).min(axis=0)
    labels = tuple(tuple(h.label if h else None for h in row) for row in assembly.bolts)
    good = margin >= -SAME_MM
    return StackFit(
        "GO" if good else "NO-GO", ground, pairs, margin, _mm(worst),
        _poses(assembly, layout, found, ground), labels, labels[int(left.argmin())],
        () if good else tuple(_blamed(case, ground, assembly, np.argsort(left)[:MOST_BLAMED].tolist())),
        proven, (*notes, PROVEN_TO),
    )  # fmt: skip


def _worst(layout: StackLayout, hard: StackLayout, found: StackBest) -> float:
    """The margin with the rooms of the worst case: the same less a constant, where all plies lose alike."""
    there = layout.there
    lost = (layout.rooms - np.where(there, hard.rooms, 0))[there]
    if float(np.ptp(lost)) <= SAME_MM:
        return 2 * (found.half_margin_mm - float(lost.max()))
    again = best_stack(hard, np.angle(found.turns))
    return 2 * again.half_margin_mm  # a pose that was found: never more than the best one


def _poses(assembly: _Assembly, layout: StackLayout, found: StackBest, ground: int) -> tuple[Pose, ...]:
    order = _order(layout.plies, ground)
    poses = [Pose()] * layout.plies
    home = complex(layout.homes[0])
    for place, k in enumerate(order[1:], 1):
        turn = complex(found.turns[place])
        move = complex(found.shifts[place]) + home - turn * complex(layout.homes[place])
        poses[k] = Pose(_mm(math.degrees(math.atan2(turn.imag, turn.real))), _mm(move.real), _mm(move.imag),
                        assembly.flipped[k])  # fmt: skip
    return tuple(poses)


def _blamed(case: StackCase, ground: int, assembly: _Assembly, bolts: list[int]) -> Iterator[Blamed]:
    """Which of these bolts are alone in the way, those first without which the rest has the most room."""
    found: list[tuple[float, int, StackBest, StackLayout]] = []
    for bolt in bolts:
        rest = assembly.without(case, ground, bolt)
        if rest.bolts and not np.any(~rest.there.any(axis=1)):
            best = best_stack(rest, assembly.start, prove=False)
            if best.half_margin_mm >= -SAME_MM / 2:
                found.append((-best.half_margin_mm, bolt, best, rest))
    for less, bolt, best, rest in sorted(found, key=lambda x: x[:2]):
        row = assembly.bolts[bolt]
        poses = _poses(assembly, rest, best, ground)
        moves = tuple(_move(case, row, poses, k) for k in range(len(row)))
        together = not any(moves)
        if together:
            moves = tuple(_move(case, row, poses, k, alone=False) for k in range(len(row)))
        yield Blamed(tuple(h.label if h else None for h in row), _mm(-2 * less), moves, together)


def _move(
    case: StackCase, row: tuple[Hole | None, ...], poses: tuple[Pose, ...], k: int, *, alone: bool = True
) -> Point | None:
    """The move of a ply's hole to the middle of the others' (or of all); None where alone they leave no room."""
    hole = row[k]
    others = [
        (h, poses[j], case.plies[j]) for j, h in enumerate(row) if h is not None and not (alone and j == k)
    ]
    if hole is None or not others or any(h.is_slot for h, _, _ in others):
        return None
    places = np.array([complex(*pose.place(h.centre)) for h, pose, _ in others])
    rooms = np.array([_room(case, ply, h, worst=False) for h, _, ply in others])
    middle = enclosing(places, float(rooms.max()) - rooms)[0]
    if alone and float((rooms - np.abs(places - middle)).min()) < -SAME_MM:
        return None
    wanted = poses[k].bring((middle.real, middle.imag))
    return _mm(wanted[0] - hole.centre[0]), _mm(wanted[1] - hole.centre[1])


def _mm(value: float) -> float:
    return round(value, 9) + 0.0
