"""
A fit of two hole patterns in words: what is wrong, and where; what a GO has to say of itself.

A hole's place is `CONNECTION/PART/LABEL`, so that a permit can name it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import Final, cast

from ledger.cases.connections import ConnectionCase
from ledger.cases.fitting import clearance_classes, fasteners_of, plate_of
from ledger.checks._movable import joined, movable
from ledger.domain.finding import Finding
from ledger.domain.joint import Joint, Side
from ledger.domain.plural import counted
from ledger.domain.quantity import show_mm
from ledger.domain.required_odds import percent
from ledger.domain.shape import Point
from ledger.fit.advice import advice, turned_by_mistake
from ledger.fit.fault import Fault, likely_fault
from ledger.fit.joint import SAME_MM, TOUCH_MM, clears, passage_mm
from ledger.fit.odds import Odds
from ledger.fit.pattern import Fit, Wrong
from ledger.fit.report import LEAN
from ledger.fit.ruling import Ruling, larger_words
from ledger.fit.sums import pair_sum
from ledger.standards.clearance_holes import drill_words, next_hole_words
from ledger.standards.fasteners import fastener

_NEITHER: Final = "neither part can be changed: use other holes, or a smaller fastener"


def apart_findings(case: ConnectionCase, fit: Fit) -> Iterator[Finding]:
    """What keeps the patterns from going together as drawn: the fault that explains it first, where there is one."""
    found = [*_apart(case, fit)]
    fault = _fault(case, fit)
    at = next((k for k, f in enumerate(found) if f.severity == "stop"), None)
    if fault is not None and at is not None and not _says(found[at], fault):
        found[at] = _leading(found[at], fault)
    yield from found


def _fault(case: ConnectionCase, fit: Fit) -> Fault | None:
    first, second = (p.part.number for p in case.plies)
    if case.pattern is None:
        return None
    fault = likely_fault(case.pattern, fit, (first, second), drill_words(case.connection.fastener))
    if fault is None or all(_movable(case)):
        return fault
    return replace(
        fault, fix=""
    )  # what can be done stands in the finding, without a part that cannot be changed


def _says(found: Finding, fault: Fault) -> bool:
    """Whether a finding is the fault itself: a moved hole that is told as out."""
    return fault.kind == "moved" and found.code == "offset"


def _leading(found: Finding, fault: Fault) -> Finding:
    """The finding with the fault before it; where it says no more than that, the fault alone."""
    if found.code in ("no_common_pattern", "unmatched"):
        return replace(found, message=fault.text, fix=fault.fix or found.fix)
    fixes = "; ".join(filter(None, (fault.fix, found.fix)))
    return replace(found, message=f"{fault.text}; {found.message}", fix=fixes)


def _apart(case: ConnectionCase, fit: Fit) -> Iterator[Finding]:
    first, second = (p.part.number for p in case.plies)
    if fit.code:
        yield Finding(
            "no_common_pattern",
            f"no pattern of {case.connection.fastener} holes is common to {first} and {second}{_told(fit)}",
            severity="stop",
            where=f"{case.connection.name}/pattern",
            fix=f"name the hole group of each, check the unit of both drawings, or the fastener{_advice(case, fit)}",
        )
        return
    more = _advice(case, fit)
    if fit.rival is not None:
        yield Finding(
            "other_position",
            f"the holes of {first} and {second} agree better in another position, {fit.rival.told()}",
            severity="stop",
            where=f"{case.connection.name}/position",
            fix="enter their position, or correct the drawing that is wrong",
            measured=f"{fit.rival.passing} holes",
            limit=f"{len(fit.pairs)} holes",
        )
    for wrong in fit.wrong:
        if wrong.kind == "too small":
            yield from _too_small(case, wrong)
        else:
            yield _offset(case, fit, wrong, more)
            more = ""  # told once
    yield from _left_over(case, fit, more)
    for place, labels in enumerate((fit.unmatched_a, fit.unmatched_b)):
        yield from _unmatched(case, place, tuple(x for x in labels if x not in fit.left_over[place]))


def _left_over(case: ConnectionCase, fit: Fit, more: str) -> Iterator[Finding]:
    """Holes of both plates that could take the fastener and meet nothing."""
    if not any(fit.left_over):
        return
    told = "; ".join(
        f"{', '.join(labels)} of {placed.part.number}"
        for placed, labels in zip(case.plies, fit.left_over, strict=True)
    )
    slips = more.removeprefix("; ") + "; " if more else ""
    yield Finding(
        "left_over",
        f"both plates of {case.connection.name} have {case.connection.fastener} holes that meet nothing: {told}",
        severity="stop",
        where=f"{case.connection.name}/left over",
        fix=f"{slips}correct the drawing that is wrong; if these holes are for something else, put them in a hole "
        "group of their own, or name the hole group of this connection",
        measured=told,
    )


def _offset(case: ConnectionCase, fit: Fit, wrong: Wrong, more: str) -> Finding:
    first, second = (p.part.number for p in case.plies)
    move_a, move_b = _move(wrong.move_a_mm), _move(wrong.move_b_mm)
    moves = (
        (case.plies[0].part, f"{wrong.a} of {first} by {move_a}"),
        (case.plies[1].part, f"{wrong.b} of {second} by {move_b}"),
    )
    others = "".join(
        f"; or else {_of_movable(case, them)}" for them in fit.also_wrong if _of_movable(case, them)
    )
    doubt = "" if fit.proven else "; other holes may be the wrong ones"
    told = f"move {joined(moves)}" if joined(moves) else _NEITHER
    return Finding(
        "offset",
        f"{wrong.a} of {first} and {wrong.b} of {second} are {show_mm(wrong.offset_mm)} out, "
        f"the joint allows {show_mm(wrong.allowed_mm)}",
        severity="stop",
        where=f"{case.connection.name}/{first}/{wrong.a}",
        fix=f"{told}{others}{doubt}{more}",
        measured=show_mm(wrong.offset_mm),
        limit=show_mm(wrong.allowed_mm),
        sum=_sum(case, wrong.a, wrong.b, wrong.offset_mm),
    )


def _sum(case: ConnectionCase, a: str, b: str, offset_mm: float) -> tuple[str, ...]:
    """The sum behind the margin of two holes; empty where there was none."""
    names = (case.plies[0].part.number, case.plies[1].part.number)
    for fastening in case.pattern.fastenings if case.pattern else ():
        of_a, of_b = ({h.label: h for h in ply.holes} for ply in (fastening.a, fastening.b))
        if a in of_a and b in of_b:
            return tuple(t.text for t in pair_sum(fastening, of_a[a], of_b[b], offset_mm, names))
    return ()


def _tightest_sum(case: ConnectionCase, fit: Fit) -> tuple[str, ...]:
    """The sum of the two holes with the least margin, or that take the most of it."""
    named = fit.tightest or ("", "")
    at = next((p for p in fit.pairs if (p.a, p.b) == named), None)
    return _sum(case, at.a, at.b, at.offset_mm) if at else ()


def _movable(case: ConnectionCase) -> tuple[bool, bool]:
    first, second = (movable(p.part) for p in case.plies)
    return first, second


def _of_movable(case: ConnectionCase, them: Sequence[Wrong]) -> str:
    """Other holes that may be the wrong ones, named in a drawing that can be changed; empty where none can."""
    for place, placed in enumerate(case.plies):
        if movable(placed.part):
            return f"{' and '.join((w.a, w.b)[place] for w in them)} of {placed.part.number}"
    return ""


def _advice(case: ConnectionCase, fit: Fit) -> str:
    """What would fix it, and which common slip it looks like."""
    if case.pattern is None:
        return ""
    first, second = (p.part.number for p in case.plies)
    return "".join(
        f"; {text}"
        for text in advice(case.pattern, fit, (first, second), clearance_classes(case), _movable(case))
    )


def turned_findings(case: ConnectionCase, fit: Fit) -> Iterator[Finding]:
    """A warning where the bolts go in, and the plates lie, another way, too."""
    first, second = case.plies
    names = (first.part.number, second.part.number)
    if case.pattern is None:
        return
    told = turned_by_mistake(case.pattern, fit, names, (plate_of(first), plate_of(second)), _movable(case))
    if told is not None:
        yield Finding(
            "assembled_wrong",
            f"{case.connection.name} can be assembled wrong: {told[0]}",
            severity="warning",
            where=f"{case.connection.name}/ways",
            fix=told[1],
            measured=f"{fit.ways} ways",
        )


def _through(case: ConnectionCase, wrong: Wrong) -> tuple[str, Joint]:
    """The fastener of a pair of holes, and its joint."""
    first = case.plies[0]
    for more in case.connection.also:
        if wrong.a in {h.label for h in first.holes_of(more.groups[0])}:
            return more.fastener, cast("Joint", more.joint)
    return case.connection.fastener, cast("Joint", case.connection.joint)


def _too_small(case: ConnectionCase, wrong: Wrong) -> Iterator[Finding]:
    """Each hole of the pair that does not let the fastener through by itself."""
    named, joint = _through(case, wrong)
    size = fastener(named).shank_mm
    sides: tuple[tuple[Side, str], ...] = (("a", wrong.a), ("b", wrong.b))
    for placed, (side, label) in zip(case.plies, sides, strict=True):
        hole, number = placed.part.hole(label), placed.part.number
        if hole is None or not clears(joint, side):
            continue
        if not passage_mm(hole.diameter_mm / 2, size) >= -TOUCH_MM:
            yield Finding(
                "too_small",
                f"{label} of {number} is {show_mm(hole.diameter_mm)} and lets no {named} through",
                severity="stop",
                where=f"{case.connection.name}/{number}/{label}",
                fix=joined([(placed.part, _drill(label, named)), (None, "enter the joint that is meant")]),
                measured=show_mm(hole.diameter_mm),
                limit=f">= {show_mm(size)}",
            )


def _drill(label: str, named: str) -> str:
    """What hole to make of one that is too small."""
    words = drill_words(named)
    return f"drill {label} to {words}" if words else f"make {label} a clearance hole"


def _unmatched(case: ConnectionCase, place: int, labels: tuple[str, ...]) -> Iterator[Finding]:
    """Of a named group each hole is a stop; elsewhere it may be another connection's, and is told once."""
    placed, other = case.plies[place], case.plies[1 - place].part.number
    number = placed.part.number
    fix = joined(
        [
            (case.plies[1 - place].part, f"add its counterpart to {other}"),
            (None, "take it out of this connection by naming a group without it"),
        ]
    )
    own = {h.label for h in placed.holes} if not placed.ply.group else set()
    stops = tuple(label for label in labels if label not in own)
    labels = tuple(label for label in labels if label in own)
    if stops:
        for label in stops:
            message = f"{label} of {number} has no counterpart in {other}"
            where = f"{case.connection.name}/{number}/{label}"
            yield Finding("unmatched", message, severity="stop", where=where, fix=fix)
    if labels:
        named = ", ".join(labels)
        message = f"holes of {number} without a counterpart in {other}: {named}"
        where = f"{case.connection.name}/{number}"
        yield Finding("unmatched", message, severity="warning", where=where, fix=fix, measured=named)


def go_findings(case: ConnectionCase, fit: Fit) -> Iterator[Finding]:
    """What a GO says of itself, or why it is none in the worst case. Both margins are finite."""
    nominal, worst = fit.margin_mm or 0.0, fit.worst_case_margin_mm or 0.0
    ruling = case.ruling
    if ruling is None:  # nothing to rule on: the worst case has the word
        yield _fits(case, fit, nominal, worst) if worst >= -SAME_MM else _tight(case, fit, worst, None)
    elif ruling.odds is not None:
        yield _by_odds(case, fit, ruling, ruling.odds)
    elif ruling.verdict == "GO":
        yield _fits(case, fit, nominal, worst)
    else:
        yield _tight(case, fit, worst, ruling)


def _fits(case: ConnectionCase, fit: Fit, nominal: float, worst: float) -> Finding:
    ways = f"; can be assembled {fit.ways} ways" if fit.ways > 1 else ""
    return Finding(
        "fits",
        f"{case.connection.name} fits; margin {show_mm(nominal)} nominal, "
        f"{show_mm(worst)} in the worst case{_tightest(case, fit)}{ways}{_bare(case, fit)}{_told(fit)}",
        severity="note",
        where=f"{case.connection.name}/fit",
        measured=show_mm(nominal),
        limit=f"worst case {show_mm(worst)}",
        sum=_tightest_sum(case, fit),
    )


def _by_odds(case: ConnectionCase, fit: Fit, ruling: Ruling, odds: Odds) -> Finding:
    """What the odds are: acknowledged when signing where they are enough, else a stop with the hole size that is."""
    good = ruling.verdict == "GO"
    nominal, worst = fit.margin_mm or 0.0, fit.worst_case_margin_mm or 0.0
    fix = "acknowledge the odds when signing, or make the holes larger"
    if not good and case.pattern is not None:
        fix = f"{larger_words(case.pattern, fit, ruling, _next_hole(case))}; or choose a closer process"
    return Finding(
        "odds" if good else "odds_too_low",
        f"{case.connection.name} {ruling.headline}; margin {show_mm(nominal)} nominal, {show_mm(worst)} worst case"
        f"{_takes(case, ruling, fit)}{_bare(case, fit)}{_told(fit)}",
        severity="warning" if good else "stop",
        where=f"{case.connection.name}/odds",
        fix=fix,
        measured=percent(odds.low),
        limit=f"{ruling.required} %",
        sum=_tightest_sum(case, fit),
    ).held_to(math.floor(odds.low * 10_000 + 1e-9) / 100, float(ruling.required))


def _next_hole(case: ConnectionCase) -> Callable[[int, float], str]:
    named = fasteners_of(case)
    return lambda place, least_mm: next_hole_words(named[place], least_mm)


def _tight(case: ConnectionCase, fit: Fit, worst: float, ruling: Ruling | None) -> Finding:
    why = f"; {ruling.no_odds}" if ruling and ruling.no_odds else ""
    return Finding(
        "tight_worst_case",
        f"{case.connection.name} fits as drawn, but is short by {show_mm(-worst)} with the smallest holes, "
        f"the largest fastener and every position out{_takes(case, ruling, fit)}{why}{_bare(case, fit)}{_told(fit)}",
        severity="stop",
        where=f"{case.connection.name}/worst case",
        fix="make the holes larger, choose a closer process, or a smaller fastener",
        measured=show_mm(worst),
        limit="0.000 mm",
        sum=_tightest_sum(case, fit),
    )


def _takes(case: ConnectionCase, ruling: Ruling | None, fit: Fit) -> str:
    """The hole that takes most of the margin, where there is one; else where it is tightest."""
    if ruling is None or ruling.loss is None:
        return _tightest(case, fit)
    first, second = (p.part.number for p in case.plies)
    loss = ruling.loss
    return f"; {loss.a} of {first} on {loss.b} of {second} takes {show_mm(loss.gain_mm)} of the margin"


def _tightest(case: ConnectionCase, fit: Fit) -> str:
    if fit.tightest is None:
        return ""
    first, second = (f"{label} of {p.part.number}" for label, p in zip(fit.tightest, case.plies, strict=True))
    return f", tightest at {first} on {second}"


def _bare(case: ConnectionCase, fit: Fit) -> str:
    """Holes left over on one plate, in the line of the verdict itself: a missing counterpart is easily read past."""
    return "".join(
        f"; {counted(len(labels), 'hole')} of {placed.part.number} without a counterpart: {', '.join(labels)}"
        for placed, labels in zip(case.plies, (fit.unmatched_a, fit.unmatched_b), strict=True)
        if labels
    )


def _told(fit: Fit) -> str:
    """What the fit says beside its answer; that bolts may lean, this check says of every fit."""
    return "".join(f"; {note}" for note in fit.notes if note != LEAN)


def _move(by_mm: Point) -> str:
    x, y = (round(c, 2) + 0.0 for c in by_mm)
    return f"({x:+.2f}, {y:+.2f}) mm"
