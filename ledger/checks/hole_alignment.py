"""
Bolts must drop through every hole of a connection at once.

*Nominal* is sizes as drawn; *worst case* is the smallest holes, the largest fastener and the position
tolerances of both plies; between the two the *odds* decide (`fit.ruling`, the one rule). A GO is only given where the
fit proved that it found the best position.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

from ledger.cases.answers import DoesNotApply, NoDrawing, NotRun
from ledger.cases.bending import crosses_bend, strayed
from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.checks._fit_findings import apart_findings, go_findings, turned_findings
from ledger.checks._frame import check
from ledger.checks._stack_findings import stack_findings
from ledger.domain.connection import JOINTS
from ledger.domain.errors import BadInput
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.fit.pattern import Fit

_BOTH = 2


@check(
    on=ConnectionCase,
    source="ASME Y14.5 appendix B, floating and fixed fastener formulas, generalized to a free position",
    codes=(
        "joint_missing",
        "offset",
        "too_small",
        "no_common_pattern",
        "unmatched",
        "left_over",
        "other_position",
        "tight_worst_case",
        "odds_too_low",
        "odds",
        "fits",
        "assembled_wrong",
        "bend_between",
    ),
    severity="stop",
    not_checked="tilt of bolts in thick stacks, holes outside the group, and shanks above the nominal diameter where "
    "the fastener names no bolt standard",
)
def hole_alignment(case: ConnectionCase) -> Iterator[Finding]:
    """
    Every fastener passes with the parts in one position.

    Least squares can refuse a pattern that assembles and spreads one bad hole over all, so the position is
    the one that leaves the tightest hole the most room.
    """
    connection = case.connection
    if connection.kind != "bolted":
        raise DoesNotApply
    if not connection.fastener.strip() or connection.joint not in JOINTS:
        yield Finding(
            "joint_missing",
            f"{connection.name} is bolted, but its fastener or its joint is not known",
            severity="stop",
            where=f"{connection.name}/joint",
            fix="record the connection with its fastener and its joint, such as M12 through",
        )
        return
    if connection.joint == "drilled on site":
        raise DoesNotApply(f"the holes of {connection.name} are drilled on site: they are not fitted")
    if len(case.plies) > _BOTH:
        yield from _stacked(case)
        return
    fit = _fit(case)
    yield from _strayed(case)
    apart = [*apart_findings(case, fit)]
    yield from apart
    if fit.verdict == "GO":
        yield from go_findings(case, fit)
        yield from turned_findings(case, fit)
    elif not any(f.severity == "stop" for f in apart):
        raise NotRun("the fit says that the holes do not go together, but not which: report it")


def _strayed(case: ConnectionCase) -> Iterator[Finding]:
    """What bends add to the position of a group whose place is stated; with a free one they move it as a whole."""
    for placed in case.plies if case.connection.position is not None else ():
        part = placed.part
        found = strayed(part, part.group(placed.ply.group), placed.holes)
        if found.bends:
            yield Finding(
                "bend_between",
                f"{', '.join(found.bends)} of {part.number} are between these holes and {found.reference}: their "
                f"position zone is {show_mm(found.zone_mm)} wider",
                severity="note",
                where=f"{case.connection.name}/{part.number}/bends",
                fix="drill after bending, or let the holes decide the place instead of entering it",
                measured=show_mm(found.zone_mm),
            )


def _stacked(case: ConnectionCase) -> Iterator[Finding]:
    """Three and more plies on the same bolts, all at once. Raises NotRun."""
    for placed in case.plies:
        _must_be_flat(placed)
    yield from _strayed(case)
    try:
        fit = case.best_stack
    except BadInput as fault:
        raise NotRun(str(fault)) from fault
    if fit is None:
        raise NotRun("the holes were not fitted")
    found = [*stack_findings(case, fit)]
    yield from found
    if any(f.severity == "stop" for f in found):
        return
    margins = (fit.margin_mm, fit.worst_case_margin_mm)
    if fit.verdict != "GO" or not all(m is not None and math.isfinite(m) for m in margins):
        raise NotRun("the stack was not checked: name the hole groups")
    if not fit.proven:
        raise NotRun("no proof that the position found for the stack is the best one: name the hole groups")


def _fit(case: ConnectionCase) -> Fit:
    """The fit, where there is one to be judged. Raises NotRun."""
    for placed in case.plies:
        _must_be_flat(placed)
    try:
        fit = case.best_fit if case.pattern else None
    except BadInput as fault:
        raise NotRun(str(fault)) from fault
    if fit is None:
        raise NotRun("the holes were not fitted")
    if fit.verdict == "GO":
        if not fit.proven:
            raise NotRun("no proof that the position found is the best one: name the hole groups")
        margins = (fit.margin_mm, fit.worst_case_margin_mm)
        if not all(m is not None and math.isfinite(m) for m in margins):
            raise NotRun("the margin of the fit is not a number: take the drawings again")
    return fit


def _must_be_flat(placed: PlacedPly) -> None:
    part = placed.part
    for group in (placed.ply.group, *placed.ply.also):
        if group and part.group(group) is None:
            raise NotRun(f"{part.number} has no hole group {group}")
    if not placed.holes:
        raise NoDrawing(f"{part.number} has no holes to fit", part.number)
    numbers = (n for h in placed.all_holes for n in (h.diameter_mm, *(c for p in h.core for c in p)))
    if not all(map(math.isfinite, numbers)):
        raise NotRun(f"a hole of {part.number} has no place or size that is a number")
    bends = part.profile.bends if part.profile else ()
    pairs = combinations([h.centre for h in placed.all_holes], 2)
    if bends and any(crosses_bend(a, b, bends) for a, b in pairs):
        raise NotRun(f"the holes of {part.number} are on both sides of a bend: name a group on one flat face")
