"""
Three and more plies whose poses are stated, or fixed by pins or flush sides: nothing is improved but the bolts' axes.

Every bolt then stands by itself. One that a ply holds has its axis there; one that floats takes the axis that leaves
its tightest hole the most room, of round holes exactly. With slots that is a convex problem, whose answer is proven by
its slopes: no axis is better than what lines through them allow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from ledger.domain.pose import Pose
from ledger.fit.joint import SAME_MM, Real
from ledger.fit.layout import Core, Layout, Plane, as_plane, gaps, lay_out_planes
from ledger.fit.pattern import fit
from ledger.fit.shift import best_shift
from ledger.fit.stack_bolts import Bolt, bolts_beside, bolts_of
from ledger.fit.stack_case import Pairs, StackCase, StackFastening, StackFit
from ledger.fit.stack_pairs import fit_held

TOLERANCE_MM: Final = 5e-6
UNPROVEN: Final = "it is not proven that no other place of the bolts in their slots is better"


def fit_at_position(case: StackCase) -> StackFit:
    """The answer at the best of the places in which the plies may lie."""
    return max((_at(case, poses) for poses in case.places), key=_rank)


def _rank(found: StackFit) -> tuple[bool, int, float]:
    passing = sum(len(f.pairs) for _, f in found.pairs)
    return found.verdict == "GO", passing, -np.inf if found.margin_mm is None else found.margin_mm


def _at(case: StackCase, poses: tuple[Pose, ...]) -> StackFit:
    if case.ground == 0:
        poses = tuple(poses[0].back.after(p) for p in poses)
    found = [_fastened(case, f, poses) for f in case.fastenings]
    pairs, notes = tuple(p for x in found for p in x.pairs), dict.fromkeys(n for x in found for n in x.notes)
    whole = StackFit("NO-GO", case.ground, pairs, poses=poses, notes=tuple(notes), position=True)
    if any(x.margin_mm is None for x in found):
        return whole
    tightest = min(found, key=lambda x: x.margin_mm or 0.0)
    return replace(
        whole,
        verdict="GO" if all(x.verdict == "GO" for x in found) else "NO-GO",
        margin_mm=tightest.margin_mm,
        worst_case_margin_mm=min(x.worst_case_margin_mm or 0.0 for x in found),
        bolts=tuple(b for x in found for b in x.bolts),
        tightest=tightest.tightest,
        blamed=tuple(b for x in found for b in x.blamed),
        proven=all(x.proven for x in found),
    )


def _fastened(case: StackCase, of: StackFastening, poses: tuple[Pose, ...]) -> StackFit:
    """One fastening at these poses of every ply on the ground."""
    pairs: Pairs = tuple((k, fit(case.pair(k, (of,), poses[k]))) for k in case.others)
    notes = tuple(dict.fromkeys(note for _, f in pairs for note in f.notes))
    if any(f.verdict != "GO" for _, f in pairs):
        return StackFit("NO-GO", case.ground, pairs, notes=notes)
    bolts = bolts_of(case, [(k, [(p.a, p.b) for p in f.pairs]) for k, f in pairs])
    beside = bolts_beside((of,), case.ground, bolts, poses)
    labels = tuple(bolt.labels for bolt in (*bolts, *beside))
    if of.joint == "through":
        return _floating(case, (*bolts, *beside), poses, StackFit("NO-GO", case.ground, pairs, notes=notes))
    held = replace(fit_held(case, pairs, notes), bolts=labels)
    if not beside:
        return held
    loose = _floating(case, beside, poses, held)
    tighter = min(held, loose, key=lambda x: x.margin_mm or 0.0)
    worst_mm = min(held.worst_case_margin_mm or 0.0, loose.worst_case_margin_mm or 0.0)
    return replace(
        loose, margin_mm=tighter.margin_mm, worst_case_margin_mm=worst_mm, tightest=tighter.tightest,
        bolts=labels, proven=held.proven and loose.proven,
    )  # fmt: skip


def _floating(case: StackCase, bolts: tuple[Bolt, ...], poses: tuple[Pose, ...], whole: StackFit) -> StackFit:
    """Bolts that no ply holds, each by itself: `whole` with what becomes of them."""
    labels = tuple(bolt.labels for bolt in bolts)
    drawn, hard = ([_margin(bolt, poses, worst=worst) for bolt in bolts] for worst in (False, True))
    margins = [margin for margin, _ in drawn]
    out = [
        bolt.blamed(poses, min(margins))
        for bolt, margin in zip(bolts, margins, strict=True)
        if margin < -SAME_MM
    ]
    proven = all(sure for _, sure in (*drawn, *hard))
    return StackFit(
        "NO-GO" if out else "GO", case.ground, whole.pairs, min(margins), min(margin for margin, _ in hard),
        bolts=labels, tightest=labels[int(np.argmin(margins))], blamed=tuple(out), proven=proven,
        notes=whole.notes if proven else (*whole.notes, UNPROVEN),
    )  # fmt: skip


def _margin(bolt: Bolt, poses: tuple[Pose, ...], *, worst: bool) -> tuple[float, bool]:
    """What the best axis of a bolt leaves of its tightest room, and whether no axis leaves more."""
    there = [(k, hole) for k, hole in enumerate(bolt.holes) if hole is not None]
    margin_mm, most_mm = most_room(
        [tuple(poses[k].place(p) for p in hole.core) for k, hole in there],
        [bolt.room_mm(k, worst=worst) for k, _ in there],
    )
    return margin_mm, most_mm - margin_mm <= 2 * TOLERANCE_MM


def most_room(cores: Sequence[Core], rooms: Sequence[float]) -> tuple[float, float]:
    """
    Twice what the best axis found leaves of the tightest room, in mm, and what no axis leaves more than.

    `cores` are those of a bolt's holes where they lie, `rooms` what each leaves the bolt to a side, both in mm.
    """
    middles, halves = as_plane(cores)
    nothing = np.zeros(len(cores), dtype=complex)
    layout = lay_out_planes((middles, halves), (nothing, nothing), np.array(rooms), turned_over=False)
    shift = best_shift(layout, 0.0)
    left = float((layout.c - np.abs(gaps(layout, 0.0, shift).gap)).min())
    most = max(left, _most(layout, shift)) if halves.any() else left
    margin_mm, most_mm = (round(2 * x * layout.reach_mm, 9) + 0.0 for x in (left, most))
    return margin_mm, most_mm


def _most(layout: Layout, shift: complex) -> float:
    """No shift leaves more than this: distances are nowhere below the lines that touch them at this one."""
    from scipy.optimize import linprog

    gap: Plane = gaps(layout, 0.0, shift).gap
    far: Real = np.abs(gap)
    ray = gap / np.where(far > 0, far, 1.0)
    reach = 4 * (1 + float(np.abs(layout.ha).max()))  # farther away nothing is left of any room
    found = linprog(
        [0.0, 0.0, -1.0],
        A_ub=np.column_stack([ray.real, ray.imag, np.ones(len(ray))]),
        b_ub=layout.c - far,
        bounds=[(-reach, reach), (-reach, reach), (None, None)],
    )
    return -float(found.fun) if found.success and found.fun is not None else np.inf
