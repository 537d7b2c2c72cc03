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

from ledger.domain.errors import BadInput
from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.case import Way
from ledger.fit.joint import SAME_MM, Real
from ledger.fit.layout import Core
from ledger.fit.pattern import fit
from ledger.fit.stack_bolts import Bolt, bolts_of
from ledger.fit.stack_case import Blamed, Pairs, StackCase, StackFastening, StackFit
from ledger.fit.stack_held import fit_held
from ledger.fit.stack_layout import StackLayout, half_rooms, lay_out_stack
from ledger.fit.stack_located import fit_located
from ledger.fit.stack_pose import TOLERANCE_MM, StackBest, best_stack
from ledger.fit.stack_proof import proves_stack

MOST_WAYS_TRIED: Final = 64
MOST_BLAMED: Final = 12
__all__ = ["Blamed", "StackCase", "StackFastening", "StackFit", "fit_stack"]
PROVEN_TO: Final = "three and more plies: the margin is proven to 0.00001 mm"


def fit_stack(case: StackCase) -> StackFit:
    """Fit three or more plies at once. Raises BadInput for what makes no sense, or is not to be fitted at once."""
    for k in case.others:
        case.pair(k).check()
    if case.places:
        return fit_located(case)
    floats = [f.joint == "through" for f in case.fastenings]
    if any(floats) and not all(floats):
        raise BadInput(
            "bolts that float in all parts and fasteners that one part holds, in one stack: hold the parts by pins or "
            "flush sides, or state their position"
        )
    pairs = tuple((k, fit(case.pair(k))) for k in case.others)
    notes = tuple(dict.fromkeys(note for _, f in pairs for note in f.notes))
    if any(f.verdict != "GO" for _, f in pairs):
        return StackFit("NO-GO", case.ground, pairs, notes=notes)
    if not any(floats):
        return fit_held(case, pairs, notes)
    return _floating(case, pairs, notes)


def _floating(case: StackCase, pairs: Pairs, notes: tuple[str, ...]) -> StackFit:
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
        assembly = _Assembly.of(case, pairs, way)
        found = best_stack(assembly.layout, assembly.start)
        whole &= found.complete
        if best is None or found.half_margin_mm > best[0].half_margin_mm + TOLERANCE_MM:
            best = found, assembly
    if best is None:
        return StackFit("NO-GO", case.ground, pairs, notes=notes)
    return _judged(case, pairs, best, whole=whole, notes=notes)


@dataclass(frozen=True, slots=True)
class _Assembly:
    """One way to pair all plies: every bolt's hole in every ply, and the numbers; `start` has the ground first."""

    bolts: tuple[Bolt, ...]
    flipped: tuple[bool, ...]
    layout: StackLayout
    start: Real

    @staticmethod
    def of(case: StackCase, pairs: Pairs, way: tuple[Way, ...]) -> _Assembly:
        flipped, start = [False] * len(case.plies), np.zeros(len(case.plies))
        for (k, _), laid in zip(pairs, way, strict=True):
            flipped[k], start[k] = laid.pose.flipped, math.radians(laid.pose.angle_deg)
        bolts = bolts_of(case, [(k, laid.pairs) for (k, _), laid in zip(pairs, way, strict=True)])
        turned = start[_order(len(case.plies), case.ground)]
        return _Assembly(bolts, tuple(flipped), _laid(case, bolts, flipped, worst=False), turned)

    def without(self, case: StackCase, bolt: int) -> StackLayout:
        rest = self.bolts[:bolt] + self.bolts[bolt + 1 :]
        return _laid(case, rest, self.flipped, worst=False)


def _laid(
    case: StackCase, bolts: tuple[Bolt, ...], flipped: tuple[bool, ...] | list[bool], *, worst: bool
) -> StackLayout:
    """The layout with the ground ply first: it is the one that stays."""
    order = _order(len(case.plies), case.ground)
    cores = [[_core(bolt.holes[k], turned=flipped[k]) for bolt in bolts] for k in order]
    rooms = [[bolt.room_mm(k, worst=worst) for bolt in bolts] for k in order]
    return lay_out_stack(cores, rooms)


def _order(plies: int, ground: int) -> list[int]:
    return [ground, *(k for k in range(plies) if k != ground)]


def _core(hole: Hole | None, *, turned: bool) -> Core | None:
    if hole is None:
        return None
    return tuple((x, -y) for x, y in hole.core) if turned else hole.core


def _judged(
    case: StackCase,
    pairs: Pairs,
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
    hard = _laid(case, assembly.bolts, assembly.flipped, worst=True)
    worst = _worst(layout, hard, found)
    left = half_rooms(layout, found.turns, found.shifts, found.axes).min(axis=0)
    labels = tuple(bolt.labels for bolt in assembly.bolts)
    good = margin >= -SAME_MM
    return StackFit(
        "GO" if good else "NO-GO", case.ground, pairs, margin, _mm(worst),
        _poses(assembly, layout, found, case.ground), labels, labels[int(left.argmin())],
        () if good else tuple(_blamed(case, assembly, np.argsort(left)[:MOST_BLAMED].tolist())),
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


def _blamed(case: StackCase, assembly: _Assembly, bolts: list[int]) -> Iterator[Blamed]:
    """Which of these bolts are alone in the way, those first without which the rest has the most room."""
    found: list[tuple[float, int, StackBest, StackLayout]] = []
    for bolt in bolts:
        rest = assembly.without(case, bolt)
        if rest.bolts and not np.any(~rest.there.any(axis=1)):
            best = best_stack(rest, assembly.start, prove=False)
            if best.half_margin_mm >= -SAME_MM / 2:
                found.append((-best.half_margin_mm, bolt, best, rest))
    for less, bolt, best, rest in sorted(found, key=lambda x: x[:2]):
        poses = _poses(assembly, rest, best, case.ground)
        yield assembly.bolts[bolt].blamed(poses, _mm(-2 * less))


def _mm(value: float) -> float:
    return round(value, 9) + 0.0
