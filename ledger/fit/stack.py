"""
Do three or more plies go together on the same bolts, all at once.

    fit_stack(StackCase(plies, fastener_mm=12, largest_fastener_mm=12))

Every ply is paired with a *ground* ply: the one that holds the fastener (tapped, stud, captive nut, dowel: the last;
countersunk: the first), else the last. Where a ply holds all bolts their axes are fixed, so the others no longer
touch each other and the least of the pair fits is exact. Bolts that float, and those that only other plies than the
ground share, couple the plies: they can pass two by two and fail together, and the poses of all are sought at once, for
every way the pairs go together. A GO needs a pose and no more; that the margin is the greatest is a matter of its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product
from typing import Final

import numpy as np

from ledger.domain.pose import Pose
from ledger.domain.shape import Hole
from ledger.fit.case import Way
from ledger.fit.joint import SAME_MM, Real
from ledger.fit.layout import Core
from ledger.fit.pattern import fit
from ledger.fit.stack_bolts import Bolt, bolts_beside, bolts_of
from ledger.fit.stack_case import Blamed, Pairs, StackCase, StackFastening, StackFit
from ledger.fit.stack_checker import checked_stack
from ledger.fit.stack_layout import StackLayout, half_rooms, lay_out_stack
from ledger.fit.stack_pairs import fit_held
from ledger.fit.stack_pose import TOLERANCE_MM, StackBest, best_stack, worst_of
from ledger.fit.stack_position import fit_at_position
from ledger.fit.stack_proof import proves_stack

MOST_WAYS_TRIED: Final = 64
MOST_PROGRAMS: Final = 240  # linear programs over all ways: about a second
MOST_FOR_ONE: Final = 80
FEW_PROGRAMS: Final = 12
POLISHED: Final = 6  # programs' worth of time of the polishing
PLENTY: Final = 32  # bolts times plies of an ordinary stack; a larger one gets fewer programs
MOST_BLAMED: Final = 6
__all__ = ["Blamed", "StackCase", "StackFastening", "StackFit", "fit_stack"]
PROVEN_TO: Final = "three and more plies: the margin is proven to 0.00001 mm"
AT_LEAST: Final = "three and more plies: the margin is that of a position found, another one may leave more"


def fit_stack(case: StackCase) -> StackFit:
    """Fit three or more plies at once. Raises BadInput for what makes no sense, or is not to be fitted at once."""
    for k in case.others:
        case.pair(k).check()
    return checked_stack(case, _fitted(case))


def _fitted(case: StackCase) -> StackFit:
    if case.places:
        return fit_at_position(case)
    pairs = tuple((k, fit(case.pair(k))) for k in case.others)
    notes = tuple(dict.fromkeys(note for _, f in pairs for note in f.notes))
    if any(f.verdict != "GO" for _, f in pairs):
        return StackFit("NO-GO", case.ground, pairs, notes=notes)
    if all(f.joint != "through" for f in case.fastenings) and not _between_others(case, pairs):
        return fit_held(case, pairs, notes)
    return _floating(case, pairs, notes)


def _between_others(case: StackCase, pairs: Pairs) -> bool:
    """Whether some bolt goes through plies only that are not the ground."""
    return any(
        bolt.holes[case.ground] is None
        for way in product(*(f.assemblies for _, f in pairs))
        for bolt in _bolts(case, pairs, way)
    )


def _floating(case: StackCase, pairs: Pairs, notes: tuple[str, ...]) -> StackFit:
    """
    Bolts that no ply holds: all poses at once, for every way the pairs go together.

    A pose that is found proves a GO by itself. That there is none is proven for every way, or the answer is not proven.
    """
    best: tuple[StackBest, _Assembly] | None = None
    whole = all(f.proven and len(f.assemblies) == f.ways for _, f in pairs)
    ways = sorted(product(*(f.assemblies for _, f in pairs)), key=lambda w: -min(x.margin_mm for x in w))
    left = MOST_PROGRAMS
    for tried, way in enumerate(ways):
        if best and min(x.margin_mm for x in way) <= 2 * best[0].half_margin_mm + 2 * TOLERANCE_MM:
            break  # a stack is never better than the pairs in it
        if tried == MOST_WAYS_TRIED or left <= 0:
            whole = False
            break
        assembly = _Assembly.of(case, pairs, way)
        known = best[0].half_margin_mm if best else -math.inf
        spent = min(left, MOST_FOR_ONE) if whole else 0
        found = _decided(case, assembly, max(known, -SAME_MM), spent)
        left -= math.ceil((found.programs + POLISHED) * max(1.0, assembly.layout.rooms.size / PLENTY))
        whole &= found.complete
        if best is None or found.half_margin_mm > best[0].half_margin_mm + TOLERANCE_MM:
            best = found, assembly
        if not whole and best[0].half_margin_mm >= _lost(case, best[1]):
            break  # it passes in the worst case; that no other way leaves more is not shown in any case
    if best is None:
        return StackFit("NO-GO", case.ground, pairs, notes=notes)
    return _judged(case, pairs, best, whole=whole, notes=notes)


def _decided(case: StackCase, assembly: _Assembly, floor_mm: float, programs: int) -> StackBest:
    """
    The best pose found for one way, and as much of a proof as the verdict needs.

    Where it passes in the worst case, few programs are spent on showing that the margin is the greatest. Where it only
    passes as drawn, that it never passes in the worst case is worth more.
    """
    layout, start = assembly.layout, assembly.start
    quick = best_stack(layout, start, prove=min(programs, FEW_PROGRAMS), floor_mm=floor_mm)
    if quick.complete or programs <= FEW_PROGRAMS:
        return quick
    if quick.half_margin_mm >= _lost(case, assembly):
        return quick
    if quick.half_margin_mm >= -SAME_MM:
        floor_mm = max(floor_mm, _lost(case, assembly, most=False) - SAME_MM)
    slow = best_stack(layout, np.angle(quick.turns), prove=programs, floor_mm=floor_mm)
    return replace(slow, programs=slow.programs + quick.programs)


def _lost(case: StackCase, assembly: _Assembly, *, most: bool = True) -> float:
    """The most, or the least, that the worst case takes from any room: a half margin of the most passes in it."""
    hard = _laid(case, assembly.bolts, assembly.turned_over, worst=True)
    there = assembly.layout.there
    lost = (assembly.layout.rooms - np.where(there, hard.rooms, 0))[there]
    return float(lost.max() if most else lost.min())


def _bolts(case: StackCase, pairs: Pairs, way: tuple[Way, ...]) -> tuple[Bolt, ...]:
    """The bolts of one way: those in the ground ply, and those that only others share."""
    bolts = bolts_of(case, [(k, laid.pairs) for (k, _), laid in zip(pairs, way, strict=True)])
    poses = [Pose()] * len(case.plies)
    for (k, _), laid in zip(pairs, way, strict=True):
        poses[k] = laid.pose.back if case.ground == 0 else laid.pose
    return (*bolts, *bolts_beside(case.fastenings, case.ground, bolts, tuple(poses)))


@dataclass(frozen=True, slots=True)
class _Assembly:
    """One way to pair all plies: every bolt's hole in every ply, and the numbers; `start` has the ground first."""

    bolts: tuple[Bolt, ...]
    turned_over: tuple[bool, ...]
    layout: StackLayout
    start: Real

    @staticmethod
    def of(case: StackCase, pairs: Pairs, way: tuple[Way, ...]) -> _Assembly:
        turned_over, start = [False] * len(case.plies), np.zeros(len(case.plies))
        for (k, _), laid in zip(pairs, way, strict=True):
            pose = laid.pose.back if case.ground == 0 else laid.pose
            turned_over[k], start[k] = pose.turned_over, math.radians(pose.angle_deg)
        bolts = _bolts(case, pairs, way)
        turned = start[_order(len(case.plies), case.ground)]
        return _Assembly(bolts, tuple(turned_over), _laid(case, bolts, turned_over, worst=False), turned)

    @property
    def of_column(self) -> list[int]:
        """The bolt of every column of the layout."""
        return [n for n, bolt in enumerate(self.bolts) for _ in bolt.columns(worst=False)]

    def without(self, case: StackCase, bolt: int) -> StackLayout:
        rest = self.bolts[:bolt] + self.bolts[bolt + 1 :]
        return _laid(case, rest, self.turned_over, worst=False)


def _laid(
    case: StackCase, bolts: tuple[Bolt, ...], turned_over: tuple[bool, ...] | list[bool], *, worst: bool
) -> StackLayout:
    """The layout with the ground ply first: it is the one that stays."""
    order = _order(len(case.plies), case.ground)
    columns = [(bolt, rooms) for bolt in bolts for rooms in bolt.columns(worst=worst)]
    cores = [
        [_core(bolt.holes[k] if k in rooms else None, turned=turned_over[k]) for bolt, rooms in columns]
        for k in order
    ]
    return lay_out_stack(cores, [[rooms.get(k, math.inf) for _, rooms in columns] for k in order])


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
    greatest = whole and proves_stack(
        layout,
        found.certificates,
        half_margin_mm=max(found.half_margin_mm, -SAME_MM),
        tolerance_mm=TOLERANCE_MM,
    )
    margin = _mm(2 * found.half_margin_mm)
    hard = _laid(case, assembly.bolts, assembly.turned_over, worst=True)
    worst = 2 * worst_of(layout, hard, found)
    left = half_rooms(layout, found.turns, found.shifts, found.axes).min(axis=0)
    labels = tuple(bolt.labels for bolt in assembly.bolts)
    columns = assembly.of_column
    good = margin >= -SAME_MM
    lacking = list(dict.fromkeys(columns[int(i)] for i in np.argsort(left, kind="stable")))[:MOST_BLAMED]
    return StackFit(
        "GO" if good else "NO-GO", case.ground, pairs, margin, _mm(worst),
        _poses(assembly, layout, found, case.ground), labels, labels[columns[int(left.argmin())]],
        () if good else tuple(_blamed(case, assembly, lacking)),
        greatest or (good and worst >= -SAME_MM), (*notes, PROVEN_TO if greatest else AT_LEAST),
    )  # fmt: skip


def _poses(assembly: _Assembly, layout: StackLayout, found: StackBest, ground: int) -> tuple[Pose, ...]:
    order = _order(layout.plies, ground)
    poses = [Pose()] * layout.plies
    home = complex(layout.homes[0])
    for place, k in enumerate(order[1:], 1):
        turn = complex(found.turns[place])
        move = complex(found.shifts[place]) + home - turn * complex(layout.homes[place])
        poses[k] = Pose(_mm(math.degrees(math.atan2(turn.imag, turn.real))), _mm(move.real), _mm(move.imag),
                        assembly.turned_over[k])  # fmt: skip
    return tuple(poses)


def _blamed(case: StackCase, assembly: _Assembly, bolts: list[int]) -> Iterator[Blamed]:
    """Which of these bolts are alone in the way, those first without which the rest has the most room."""
    found: list[tuple[float, int, StackBest, StackLayout]] = []
    for bolt in bolts:
        rest = assembly.without(case, bolt)
        if rest.bolts and not np.any(~rest.there.any(axis=1)):
            best = best_stack(rest, assembly.start, prove=0)
            if best.half_margin_mm >= -SAME_MM / 2:
                found.append((-best.half_margin_mm, bolt, best, rest))
    for less, bolt, best, rest in sorted(found, key=lambda x: x[:2]):
        poses = _poses(assembly, rest, best, case.ground)
        yield assembly.bolts[bolt].blamed(poses, _mm(-2 * less))


def _mm(value: float) -> float:
    return round(value, 9) + 0.0
