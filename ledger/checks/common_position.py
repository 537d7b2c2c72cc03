"""
All connections of the same parts go together in one position.

Two parts have one position, however many connections are recorded between them; and plies on the same holes are on the
same bolts. Each connection by itself is looked at by hole_alignment.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations

from ledger.cases.answers import DoesNotApply, NotChecked, NotRun
from ledger.cases.connections import ConnectionCase
from ledger.cases.rings import is_fitted, parts_of
from ledger.cases.surroundings import JoinedConnection
from ledger.checks._common_pattern import (
    across_bend,
    common_pattern,
    fitted,
    of_two_pieces,
    order_of,
    same_position,
    turned,
    ways_up_of,
)
from ledger.checks._frame import check
from ledger.checks._movable import joined
from ledger.checks._shared_holes import connected, fits_alone, on_shared_holes
from ledger.checks._together_findings import by_odds, fits, names_of, tight, where_of
from ledger.domain.finding import Finding
from ledger.domain.plural import counted
from ledger.domain.pose import Pose
from ledger.domain.quantity import show_mm
from ledger.fit.case import Fit
from ledger.fit.joint import SAME_MM
from ledger.fit.ruling import rule
from ledger.fit.shared_bolts import Shared, fit_shared
from ledger.fit.shared_columns import Short

_BOTH = 2
_MOST_TOLD = 4
_CONTRARY = ("position_differs", "turned_over_differs")


@check(
    on=JoinedConnection,
    source="ASME Y14.5 appendix B, floating and fixed fastener formulas, over every fastener between the same parts",
    codes=(
        "position_differs",
        "turned_over_differs",
        "not_together",
        "tight_together",
        "odds_together",
        "fits_together",
    ),
    severity="stop",
)
def common_position(seen: JoinedConnection) -> Iterator[Finding | NotChecked]:
    """
    Connections that each fit by themselves also fit together.

    A pair of holes that is 4 mm off as a whole fits by itself, in a position where nothing else does.
    """
    case = seen.case
    if not is_fitted(case):
        raise DoesNotApply
    connections = sorted((case, *seen.joined), key=lambda m: m.connection.name)
    same = [m for m in connections if len(m.plies) == _BOTH and parts_of(m) == parts_of(case)]
    said = tuple(_of_two_parts(case, same)) if len(same) > 1 and case in same else ()
    yield from said
    hanging, doubtful = on_shared_holes(case, connections)
    yield from (NotChecked(f"{text}: name the hole groups") for text in doubtful)
    if any(isinstance(s, Finding) and s.code in _CONTRARY for s in said):
        return
    if len({n for m in hanging for n in parts_of(m)}) > _BOTH:
        yield from _of_more_parts(case, hanging)


def _of_more_parts(case: ConnectionCase, cases: Sequence[ConnectionCase]) -> Iterator[Finding]:
    """Three and more parts that connections put on the same bolts."""
    numbers = ", ".join(sorted({n for m in cases for n in parts_of(m)}))
    if not all(map(fits_alone, cases)):
        raise DoesNotApply(f"{names_of(cases)} together: not all of them fit by themselves")
    found = fit_shared(tuple(connected(m) for m in cases))
    if found.worst_case_margin_mm >= -SAME_MM:
        yield fits(case, cases, found.margin_mm, found.worst_case_margin_mm)
    elif found.margin_mm >= -SAME_MM and found.settled:
        yield tight(case, cases, found.worst_case_margin_mm, _worst_of(found.short))
    elif found.none_passes and found.short:
        yield _column_short(case, cases, found)
    elif found.none_passes:
        lacks = f": short by {show_mm(-found.margin_mm)}" if math.isfinite(found.margin_mm) else ""
        yield Finding(
            "not_together",
            f"{names_of(cases)} each fit, but {numbers} do not go on the same bolts together{lacks}",
            severity="stop",
            where=where_of(case, cases),
            fix=f"enter {numbers} as one connection, whose bolts are fitted at once, and see which hole is off; or "
            f"make the holes larger",
            measured=show_mm(found.margin_mm) if math.isfinite(found.margin_mm) else "",
            limit="0.000 mm",
        )
    else:
        raise NotRun(_undecided(cases, numbers, found))


def _undecided(cases: Sequence[ConnectionCase], numbers: str, found: Shared) -> str:
    """Why neither was proven, and what decides it."""
    instead = (
        f"enter {numbers} as one connection, whose bolts are fitted at once, or enter the position of each"
    )
    if found.margin_mm >= -SAME_MM:
        return (
            f"{numbers} go on the bolts of {names_of(cases)} as drawn, and no position was found in which they do in "
            f"the worst case: {instead}"
        )
    return (
        f"no position found for {numbers} on the bolts of {names_of(cases)}, and no proof that there is none: "
        f"{instead}"
    )


def _column_short(case: ConnectionCase, cases: Sequence[ConnectionCase], found: Shared) -> Finding:
    """At stated positions every bolt stands by itself, so the ones that lack room are known."""
    worst, *more = found.short
    others = f"; {counted(len(more), 'more bolt is', 'more bolts are')} short" if more else ""
    parts = {p.part.number: p.part for m in cases for p in m.plies}
    return Finding(
        "not_together",
        f"{names_of(cases)} each fit, but no bolt goes through {_listed(worst)} at the positions entered: short by "
        f"{show_mm(-worst.margin_mm)}{others}",
        severity="stop",
        where=where_of(case, cases),
        fix=joined(
            [(parts[number], f"move {label} of {number}") for number, label in worst.holes],
            f"compare the places of {_listed(worst)}",
        ),
        measured=show_mm(worst.margin_mm),
        limit="0.000 mm",
    )


def _listed(column: Short) -> str:
    *others, last = (f"{label} of {number}" for number, label in column.holes)
    return f"{', '.join(others)} and {last}"


def _worst_of(short: Sequence[Short]) -> str:
    return f", worst at {_listed(short[0])}" if short else ""


def _of_two_parts(case: ConnectionCase, every: Sequence[ConnectionCase]) -> Iterator[Finding | NotChecked]:
    cases = []
    for other in every:
        piece = "" if other is case else of_two_pieces(case, other)
        if piece:
            both = f"{case.connection.name} and {other.connection.name}"
            yield NotChecked(
                f"{both} together: they use the same holes of {piece}, taken for two pieces of it"
            )
        else:
            cases.append(other)
    if len(cases) < _BOTH:
        return
    all_stated = all(isinstance(c.connection.position, Pose) for c in cases)
    bent_part = across_bend(cases)
    if bent_part:
        yield from _bent(cases, bent_part, all_stated=all_stated)
        return
    order = order_of(cases[:1] if all_stated else cases)
    laid = [turned(c, order) for c in cases]
    differing = [*_differing(case, laid)]
    yield from differing
    if not differing and not all_stated:  # where every position is stated, each one is fitted there
        yield from _fitted_together(case, laid)


def _bent(cases: Sequence[ConnectionCase], number: str, *, all_stated: bool) -> Iterator[NotChecked]:
    between = f"{names_of(cases)} together: their holes in {number} are on both sides of a bend"
    if not all_stated:
        raise NotRun(f"{between}; enter the position in each, and each is fitted there")
    yield NotChecked(between)


def _differing(case: ConnectionCase, cases: Sequence[ConnectionCase]) -> Iterator[Finding]:
    """Every two connections with positions that cannot both be."""
    first = case.plies[0].part.number
    for one, other in combinations(cases, 2):
        names = names_of((one, other))
        where = f"{case.connection.name}/{one.connection.name}/{other.connection.name}"
        if not ways_up_of(one) & ways_up_of(other):
            yield Finding(
                "turned_over_differs",
                f"{names} are between the same parts, and only one of them has {first} turned over",
                severity="stop",
                where=where,
                fix=f"enter the same for {first} in both",
            )
        elif not same_position(one, other):
            yield Finding(
                "position_differs",
                f"{names} are between the same parts and have different positions: {_stated(one)}, and "
                f"{_stated(other)}",
                severity="stop",
                where=where,
                fix="enter the same position in both, or in one of them only",
            )


def _stated(case: ConnectionCase) -> str:
    at = case.connection.position
    turned_over = ", turned over" if isinstance(at, Pose) and at.turned_over else ""
    numbers = f"{at.x_mm:g} {at.y_mm:g} {at.angle_deg:g}" if isinstance(at, Pose) else "none"
    return f"{numbers}{turned_over} in {case.connection.name}"


def _fitted_together(case: ConnectionCase, cases: Sequence[ConnectionCase]) -> Iterator[Finding]:
    for one in cases:
        fit = one.best_fit
        if fit is None or fit.verdict != "GO":
            raise DoesNotApply(f"{names_of(cases)} together: {one.connection.name} does not fit by itself")
    pattern = common_pattern(cases)
    fit = fitted(pattern)
    if fit.verdict != "GO" or fit.margin_mm is None or fit.worst_case_margin_mm is None:
        yield _apart(case, cases, fit)
        return
    ruling = rule(pattern, fit, case.odds)
    if ruling.odds is not None:
        yield by_odds(case, cases, ruling, ruling.odds)
    elif not fit.worst_case_margin_mm >= -SAME_MM:
        yield tight(case, cases, fit.worst_case_margin_mm)
    else:
        yield fits(case, cases, fit.margin_mm, fit.worst_case_margin_mm)


def _apart(case: ConnectionCase, cases: Sequence[ConnectionCase], fit: Fit) -> Finding:
    first, second = (p.part.number for p in cases[0].plies)
    one, other = (p.part for p in cases[0].plies)
    out = [
        f"{w.a} of {first} and {w.b} of {second} by {show_mm(w.offset_mm)} (allowed {show_mm(w.allowed_mm)})"
        for w in fit.wrong
    ]
    more = f" and {len(out) - _MOST_TOLD} more" if len(out) > _MOST_TOLD else ""
    told = f": off are {', '.join(out[:_MOST_TOLD])}{more}" if out else ""
    moves = [f"{w.a} of {first} by ({w.move_a_mm[0]:+.2f}, {w.move_a_mm[1]:+.2f}) mm" for w in fit.wrong]
    return Finding(
        "not_together",
        f"{names_of(cases)} each fit, but {first} has no position on {second} in which all of them do{told}",
        severity="stop",
        where=where_of(case, cases),
        fix=joined(
            [
                *([(one, f"move {', '.join(moves[:_MOST_TOLD])}{more}")] if moves else []),
                *([(other, f"move the holes of {second}")] if moves else []),
            ],
            f"compare the places of all these holes in {first} and {second}",
        ),
        measured=show_mm(fit.margin_mm) if fit.margin_mm is not None else "",
        limit="0.000 mm",
    )
