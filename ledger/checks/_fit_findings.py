"""
A fit of two hole patterns in words: what is wrong, and where; what a GO has to say of itself.

A hole's place is `MATE/PART/LABEL`, so that a permit can name it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from ledger.checks._case import MateCase
from ledger.checks._fitting import worst_ply
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.domain.shape import Point
from ledger.fit.joint import SAME_MM, clears, passage_mm
from ledger.fit.pattern import Fit, Wrong
from ledger.standards.fasteners import fastener

_WRONG: Final = {"offset": "offset", "too small": "too_small"}


def apart_findings(case: MateCase, fit: Fit) -> Iterator[Finding]:
    """What keeps the patterns from going together as drawn."""
    first, second = (p.part.number for p in case.plies)
    if fit.verdict == "NO PATTERN":
        yield Finding(
            "no_common_pattern",
            f"no pattern of {case.mate.fastener} holes is common to {first} and {second}",
            severity="stop",
            where=f"{case.mate.name}/pattern",
            remedy="name the hole group of each, check the unit of both drawings, or the fastener",
        )
        return
    for wrong in fit.wrong:
        yield _too_small(case, wrong) if _WRONG[wrong.kind] == "too_small" else _offset(case, fit, wrong)
    for place, labels in enumerate((fit.unmatched_a, fit.unmatched_b)):
        yield from _unmatched(case, place, labels)


def _offset(case: MateCase, fit: Fit, wrong: Wrong) -> Finding:
    first, second = (p.part.number for p in case.plies)
    move_a, move_b = _move(wrong.move_a_mm), _move(wrong.move_b_mm)
    others = "; or other holes instead, which would do as well" if fit.also_wrong else ""
    return Finding(
        "offset",
        f"{wrong.a} of {first} and {wrong.b} of {second} are {show_mm(wrong.offset_mm)} out, "
        f"the joint allows {show_mm(wrong.allowed_mm)}",
        severity="stop",
        where=f"{case.mate.name}/{first}/{wrong.a}",
        remedy=f"move {wrong.a} of {first} by {move_a}, or {wrong.b} of {second} by {move_b}{others}",
        measured=show_mm(wrong.offset_mm),
        limit=show_mm(wrong.allowed_mm),
    )


def _too_small(case: MateCase, wrong: Wrong) -> Finding:
    first, second = (p.part.number for p in case.plies)
    return Finding(
        "too_small",
        f"{wrong.a} of {first} and {wrong.b} of {second} do not both let {case.mate.fastener} through",
        severity="stop",
        where=f"{case.mate.name}/{first}/{wrong.a}",
        remedy="make the smaller one a clearance hole, or declare the joint that is meant",
    )


def _unmatched(case: MateCase, place: int, labels: tuple[str, ...]) -> Iterator[Finding]:
    """Of a declared group each hole is a stop; elsewhere it may be another mate's, and is told once."""
    placed, other = case.plies[place], case.plies[1 - place].part.number
    number = placed.part.number
    remedy = f"add its counterpart to {other}, or take it out of this mate by naming a group without it"
    if placed.ply.group:
        for label in labels:
            message = f"{label} of {number} has no counterpart in {other}"
            where = f"{case.mate.name}/{number}/{label}"
            yield Finding("unmatched", message, severity="stop", where=where, remedy=remedy)
    elif labels:
        named = ", ".join(labels)
        message = f"holes of {number} without a counterpart in {other}: {named}"
        where = f"{case.mate.name}/{number}"
        yield Finding("unmatched", message, severity="warning", where=where, remedy=remedy, measured=named)


def go_findings(case: MateCase, fit: Fit) -> Iterator[Finding]:
    """What a GO says of itself, or why it is none in the worst case. Both margins are finite."""
    nominal, worst = fit.margin_mm or 0.0, fit.worst_case_margin_mm or 0.0
    if not worst >= -SAME_MM:
        yield _tight(f"{case.mate.name}/worst case", f"{case.mate.name} goes together as drawn, but", worst)
        return
    blocked = [*_blocked(case, fit)]
    yield from blocked
    if not blocked:
        yield _fits(case, fit, nominal, worst)


def _blocked(case: MateCase, fit: Fit) -> Iterator[Finding]:
    """Holes that let the fastener through as drawn but not at their smallest and farthest out, one to a ply."""
    bolt = fastener(case.mate.fastener)
    for placed, side in zip(case.plies, ("a", "b"), strict=True):
        if not clears(case.mate.joint, side):  # type: ignore[arg-type]  # both were checked before the fit
            continue
        ply = worst_ply(placed)
        paired = {getattr(pair, side) for pair in fit.pairs}
        least = min((h for h in placed.holes if h.label in paired), key=lambda h: h.diameter_mm)
        room = passage_mm((least.diameter_mm - ply.shrink_mm) / 2, bolt.largest_mm, ply.position_mm)
        if not room >= -SAME_MM:
            where = f"{case.mate.name}/{placed.part.number}/{least.label}"
            yield _tight(where, f"{least.label} of {placed.part.number}", room)


def _fits(case: MateCase, fit: Fit, nominal: float, worst: float) -> Finding:
    tightest = f", tightest at {' and '.join(fit.tightest)}" if fit.tightest else ""
    ways = f"; it goes together in {fit.ways} ways" if fit.ways > 1 else ""
    told = "".join(f"; {note}" for note in fit.notes)
    return Finding(
        "fits",
        f"{case.mate.name} fits with {show_mm(nominal)} to spare as drawn, "
        f"{show_mm(worst)} in the worst case{tightest}{ways}{told}",
        severity="note",
        where=f"{case.mate.name}/fit",
        measured=show_mm(nominal),
        limit=f"worst case {show_mm(worst)}",
    )


def _tight(where: str, what: str, room_mm: float) -> Finding:
    return Finding(
        "tight_worst_case",
        f"{what} lacks {show_mm(-room_mm)} in the worst case: small holes, thick fastener, positions all out",
        severity="stop",
        where=where,
        remedy="make the holes larger, choose a closer process, or a smaller fastener",
        measured=show_mm(room_mm),
        limit="0 mm",
    )


def _move(by_mm: Point) -> str:
    x, y = (round(c, 2) + 0.0 for c in by_mm)
    return f"({x:+.2f}, {y:+.2f}) mm"
