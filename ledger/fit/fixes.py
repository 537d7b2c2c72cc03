"""
What would fix a pattern that does not go together: larger holes, or a slot.

Each fix is tried: the holes are changed and the fit is made again, so that none is told that does not help.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from ledger.domain.shape import Hole, Point
from ledger.fit.case import Fastening, Fit, PatternCase, Ply, Wrong
from ledger.fit.joint import SAME_MM, clears
from ledger.fit.pattern import fit

MOST_SLOTS: Final = 4
MOST_HOLES: Final = 80


@dataclass(frozen=True, slots=True)
class LargerHoles:
    """Clearance holes of a class, drawn at these diameters where they are smaller, make it go by `margin_mm`."""

    named: str
    diameters_mm: tuple[float, ...]
    margin_mm: float
    worst_case_margin_mm: float


@dataclass(frozen=True, slots=True)
class Slots:
    """Slots for the wrong holes of one side ("a" or "b"): for each its label and full core, in that drawing."""

    side: str
    slots: tuple[tuple[str, tuple[Point, Point], float], ...]
    margin_mm: float


def larger_holes(case: PatternCase, found: Fit, classes: Sequence[Mapping[str, float]]) -> LargerHoles | None:
    """
    The smallest class with which the patterns go together, in the fastenings that have wrong holes; None where none.

    `classes` are the clearance holes of every fastening's own fastener, mm by name, in the order of the fastenings.
    """
    if found.code or not found.wrong or _many(case):
        return None
    wrong = {
        k: classes[k]
        for k, of in enumerate(case.fastenings)
        if {w.a for w in found.wrong} & {h.label for h in of.a.holes}
    }
    names = dict.fromkeys(n for of in wrong.values() for n, _ in sorted(of.items(), key=lambda x: x[1]))
    for named in names:
        sizes = {k: of[named] for k, of in wrong.items() if named in of}
        opened = case
        for k, diameter in sizes.items():
            opened = _with(opened, k, _opened_both(opened.fastenings[k], diameter))
        if opened == case:
            continue
        again = fit(opened)
        if again.verdict == "GO" and len(again.pairs) >= len(found.pairs) + len(found.wrong):
            diameters = tuple(dict.fromkeys(sizes.values()))
            return LargerHoles(named, diameters, again.margin_mm or 0.0, again.worst_case_margin_mm or 0.0)
    return None


def _with(case: PatternCase, place: int, fastening: Fastening) -> PatternCase:
    """The case with other holes in the fastening at this place of its fastenings."""
    if place == 0:
        return replace(case, a=fastening.a, b=fastening.b)
    also = tuple(fastening if k == place - 1 else f for k, f in enumerate(case.also))
    return replace(case, also=also)


def _opened_both(of: Fastening, diameter_mm: float) -> Fastening:
    """Its clearance holes drawn that wide where they are smaller."""
    b = _opened(of.b, diameter_mm) if clears(of.joint, "b") else of.b
    return replace(of, a=_opened(of.a, diameter_mm), b=b)


def slots_that_save(case: PatternCase, found: Fit) -> Slots | None:
    """The wrong holes of A (else of B) drawn as slots along the way that they are out; None where that is no fix."""
    offsets = [w for w in found.wrong if w.kind == "offset"]
    if not offsets or len(offsets) != len(found.wrong) or len(offsets) > MOST_SLOTS or _many(case):
        return None
    for side in ("a", "b"):
        drawn: dict[str, Hole] = {}
        slotted = case
        for place, of in enumerate(case.fastenings):
            ply: Ply = getattr(of, side)
            slots = {w.a if side == "a" else w.b: _slot(ply, side, w) for w in offsets}
            made = {label: slot for label, slot in slots.items() if slot} if clears(of.joint, side) else {}
            holes = tuple(made.get(h.label, h) for h in ply.holes)
            filed = replace(ply, holes=holes)
            own = replace(of, a=filed) if side == "a" else replace(of, b=filed)
            slotted = _with(slotted, place, own)
            drawn |= made
        if len(drawn) < len(offsets):
            continue
        again = fit(slotted)
        if again.verdict == "GO":
            told = tuple((s.label, (s.core[0], s.core[-1]), s.diameter_mm) for s in drawn.values())
            return Slots(side, told, again.margin_mm or 0.0)
    return None


def _many(case: PatternCase) -> bool:
    return max(sum(len(p.holes) for p in plies) for plies in _sides(case)) > MOST_HOLES


def _sides(case: PatternCase) -> tuple[tuple[Ply, ...], tuple[Ply, ...]]:
    return tuple(f.a for f in case.fastenings), tuple(f.b for f in case.fastenings)


def _opened(ply: Ply, diameter_mm: float) -> Ply:
    return replace(
        ply,
        holes=tuple(
            replace(h, diameter_mm=diameter_mm) if h.diameter_mm < diameter_mm - SAME_MM else h
            for h in ply.holes
        ),
    )


def _slot(ply: Ply, side: str, wrong: Wrong) -> Hole | None:
    """A round hole drawn out from where it is to where its counterpart is, to the half millimetre."""
    hole = next((h for h in ply.holes if h.label == (wrong.a if side == "a" else wrong.b)), None)
    if hole is None or hole.is_slot:
        return None
    x, y = wrong.move_a_mm if side == "a" else wrong.move_b_mm
    length = math.hypot(x, y)
    if length <= SAME_MM:
        return None
    longer = math.ceil(2 * length) / 2 / length
    end = (hole.centre[0] + x * longer, hole.centre[1] + y * longer)
    return replace(hole, core=(hole.centre, end), made_of="slot")
