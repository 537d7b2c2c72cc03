"""
All connections of the same parts go together in one position.

Two parts have one position, however many connections are recorded between them; and plies on the same holes are on the
same bolts. Each connection by itself is looked at by hole_alignment.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations

from ledger.checks._case import ConnectionCase
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
from ledger.checks._frame import DoesNotApply, NotChecked, NotRun, check
from ledger.checks._movable import joined
from ledger.checks._rings import is_fitted, parts_of
from ledger.checks._shared_holes import connected, on_shared_holes
from ledger.domain.finding import Finding
from ledger.domain.pose import Pose
from ledger.domain.quantity import show_mm
from ledger.domain.required_odds import percent
from ledger.fit.case import Fit
from ledger.fit.joint import SAME_MM
from ledger.fit.odds import Odds
from ledger.fit.ruling import Ruling, rule
from ledger.fit.shared_bolts import fit_shared

_BOTH = 2
_MOST_TOLD = 4


@check(
    on=ConnectionCase,
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
    besides=("joined",),
)
def common_position(case: ConnectionCase) -> Iterator[Finding | NotChecked]:
    """
    Connections that each fit by themselves also fit together.

    A pair of holes that is 4 mm off as a whole fits by itself, in a position where nothing else does.
    """
    if not is_fitted(case):
        raise DoesNotApply
    joined = case.joined()
    if joined.ring:
        yield NotChecked(f"whether the ring of bolted parts {', '.join(joined.ring)} closes")
    connections = sorted((case, *joined.connections), key=lambda m: m.connection.name)
    same = [m for m in connections if len(m.plies) == _BOTH and parts_of(m) == parts_of(case)]
    if len(same) > 1 and case in same:
        yield from _of_two_parts(case, same)
    hanging, doubtful = on_shared_holes(case, connections)
    yield from (NotChecked(f"{text}: name the hole groups") for text in doubtful)
    if len({n for m in hanging for n in parts_of(m)}) > _BOTH:
        yield from _of_more_parts(case, hanging)


def _of_more_parts(case: ConnectionCase, cases: Sequence[ConnectionCase]) -> Iterator[Finding]:
    """Three and more parts that connections put on the same bolts."""
    numbers = ", ".join(sorted({n for m in cases for n in parts_of(m)}))
    instead = f"enter {numbers} as one connection, whose bolts are fitted at once"
    if any(len(m.plies) > _BOTH for m in cases) or any(m.connection.position is not None for m in cases):
        raise NotRun(
            f"{_names(cases)} use the same holes, and one of them has a stack or a position: {instead}"
        )
    if any(m.best_fit is None or m.best_fit.verdict != "GO" for m in cases):
        raise DoesNotApply(f"{_names(cases)} together: not all of them fit by themselves")
    found = fit_shared([connected(m) for m in cases])
    if found.worst_case_margin_mm >= -SAME_MM:
        yield _fits(case, cases, found.margin_mm, found.worst_case_margin_mm)
    elif found.margin_mm >= -SAME_MM:
        yield _tight(case, cases, found.worst_case_margin_mm)
    elif found.none_passes:
        lacks = f": short by {show_mm(-found.margin_mm)}" if math.isfinite(found.margin_mm) else ""
        yield Finding(
            "not_together",
            f"{_names(cases)} each fit, but {numbers} do not go on the same bolts together{lacks}",
            severity="stop",
            where=_where(case, cases),
            fix=f"{instead}, and see which hole is off; or make the holes larger",
            measured=show_mm(found.margin_mm) if math.isfinite(found.margin_mm) else "",
            limit="0.000 mm",
        )
    else:
        raise NotRun(
            f"no position found for {numbers} on the bolts of {_names(cases)}, and no proof that there is none: "
            f"{instead}"
        )


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
    between = f"{_names(cases)} together: their holes in {number} lie on both sides of a bend"
    if not all_stated:
        raise NotRun(f"{between}; enter the position in each, and each is fitted there")
    yield NotChecked(between)


def _differing(case: ConnectionCase, cases: Sequence[ConnectionCase]) -> Iterator[Finding]:
    """Every two connections with positions that cannot both be."""
    first = case.plies[0].part.number
    for one, other in combinations(cases, 2):
        names = _names((one, other))
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
            raise DoesNotApply(f"{_names(cases)} together: {one.connection.name} does not fit by itself")
    pattern = common_pattern(cases)
    fit = fitted(pattern)
    if fit.verdict != "GO" or fit.margin_mm is None or fit.worst_case_margin_mm is None:
        yield _apart(case, cases, fit)
        return
    ruling = rule(pattern, fit, case.odds)
    if ruling.odds is not None:
        yield _by_odds(case, cases, ruling, ruling.odds)
    elif not fit.worst_case_margin_mm >= -SAME_MM:
        yield _tight(case, cases, fit.worst_case_margin_mm)
    else:
        yield _fits(case, cases, fit.margin_mm, fit.worst_case_margin_mm)


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
        f"{_names(cases)} each fit, but {first} has no position on {second} in which all of them do{told}",
        severity="stop",
        where=_where(case, cases),
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


def _by_odds(case: ConnectionCase, cases: Sequence[ConnectionCase], ruling: Ruling, odds: Odds) -> Finding:
    """The same rule as for the holes of one connection: acknowledged where the odds are enough, else a stop."""
    good = ruling.verdict == "GO"
    return Finding(
        "odds_together" if good else "tight_together",
        f"{_names(cases)} together: {ruling.headline}",
        severity="warning" if good else "stop",
        where=_where(case, cases),
        fix="acknowledge the odds when signing, or make the holes larger"
        if good
        else "make the holes larger, choose a closer process, or a smaller fastener",
        measured=percent(odds.low),
        limit=f"{ruling.required} %",
    ).held_to(math.floor(odds.low * 10_000 + 1e-9) / 100, float(ruling.required))


def _tight(case: ConnectionCase, cases: Sequence[ConnectionCase], worst_mm: float) -> Finding:
    return Finding(
        "tight_together",
        f"{_names(cases)} fit together as drawn, but are short by {show_mm(-worst_mm)} with the smallest holes, the "
        f"largest fastener and every position out",
        severity="stop",
        where=_where(case, cases),
        fix="make the holes larger, choose a closer process, or a smaller fastener",
        measured=show_mm(worst_mm),
        limit="0.000 mm",
    )


def _fits(
    case: ConnectionCase, cases: Sequence[ConnectionCase], nominal_mm: float, worst_mm: float
) -> Finding:
    return Finding(
        "fits_together",
        f"{_names(cases)} fit together; margin {show_mm(nominal_mm)} nominal, {show_mm(worst_mm)} worst case",
        severity="note",
        where=_where(case, cases),
        measured=show_mm(nominal_mm),
        limit=f"worst case {show_mm(worst_mm)}",
    )


def _where(case: ConnectionCase, cases: Sequence[ConnectionCase]) -> str:
    return "/".join(
        (
            case.connection.name,
            *(c.connection.name for c in cases if c.connection.name != case.connection.name),
        )
    )


def _names(cases: Sequence[ConnectionCase]) -> str:
    *others, last = sorted(c.connection.name for c in cases)
    return f"{', '.join(others)} and {last}"
