"""
A fit of three or more plies in words.

Where two of the plies do not even go together, that is said as of any pair. Plies that pass two by two and fail
together are told with the bolt that is in the way, and how its hole in each ply could move.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from ledger.cases.answers import NotRun
from ledger.cases.connections import ConnectionCase
from ledger.checks._fit_findings import apart_findings
from ledger.checks._movable import movable
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.fit.joint import SAME_MM
from ledger.fit.report import LEAN
from ledger.fit.stack import Blamed, StackFit

_TOLD_BEFORE = ("two holes: only their distance is compared", LEAN)


def stack_findings(case: ConnectionCase, fit: StackFit) -> Iterator[Finding]:
    """
    What keeps the plies apart; for plies that go together, what the GO says of itself.

    Raises NotRun where no position was found, and it is not shown that there is none.
    """
    for k, pair in fit.pairs:
        first, second = (fit.ground, k) if case.connection.joint == "countersunk" else (k, fit.ground)
        yield from apart_findings(_two_of(case, fit, first, second), pair)
    if fit.margin_mm is None or fit.worst_case_margin_mm is None:
        return
    if fit.verdict != "GO" and not fit.proven:
        raise NotRun(
            f"no position found for the {len(case.plies)} parts of {case.connection.name} on the same bolts, and no "
            f"proof that there is none: the nearest is short by {show_mm(-fit.margin_mm)} at "
            f"{_named(case, fit.tightest)}; enter a position, place the parts by pins or flush sides, or name smaller "
            f"hole groups"
        )
    if fit.verdict != "GO":
        yield _apart_together(case, fit, fit.margin_mm)
    elif not fit.worst_case_margin_mm >= -SAME_MM:
        yield _tight(case, fit, fit.worst_case_margin_mm)
    else:
        yield _fits(case, fit, fit.margin_mm, fit.worst_case_margin_mm)


def _two_of(case: ConnectionCase, fit: StackFit, first: int, second: int) -> ConnectionCase:
    """The connection as if it had these two plies only, where they lie in the stack."""
    also = tuple(replace(m, groups=(m.groups[first], m.groups[second])) for m in case.connection.also)
    position = fit.poses[second].back.after(fit.poses[first]) if fit.position else None
    connection = replace(
        case.connection,
        also=also,
        position=position,
        turned_over=case.connection.turned_over if first == 0 else "no",
    )
    return replace(case, connection=connection, plies=(case.plies[first], case.plies[second]))


def _apart_together(case: ConnectionCase, fit: StackFit, margin_mm: float) -> Finding:
    blamed = fit.blamed[0] if fit.blamed else None
    holes = blamed.holes if blamed else fit.tightest
    number = next((p.part.number for p, h in zip(case.plies, holes, strict=True) if h), case.connection.name)
    label = next((h for h in holes if h), "")
    more = "as well" if fit.position else "or else"
    others = "".join(f"; {more} {named}" for b in fit.blamed[1:4] if (named := _changeable(case, b)))
    fix = (
        f"{_moves(case, blamed)}{others}"
        if blamed
        else "more than one bolt is in the way: fit them two by two"
    )
    return Finding(
        "offset",
        f"the {len(case.plies)} plies of {case.connection.name} pass two by two but not on the same bolts: "
        f"short by {show_mm(-margin_mm)}, worst at {_named(case, holes)}",
        severity="stop",
        where=f"{case.connection.name}/{number}/{label}",
        fix=fix,
        measured=show_mm(margin_mm),
        limit="0.000 mm",
    )


def _changeable(case: ConnectionCase, blamed: Blamed) -> str:
    """Its holes in parts that can still be changed."""
    return _named(
        case, tuple(h if movable(p.part) else None for h, p in zip(blamed.holes, case.plies, strict=True))
    )


def _moves(case: ConnectionCase, blamed: Blamed) -> str:
    told = [
        f"{hole} of {placed.part.number} by ({move[0]:+.2f}, {move[1]:+.2f}) mm"
        for placed, hole, move in zip(case.plies, blamed.holes, blamed.moves_mm, strict=True)
        if move is not None and (movable(placed.part) or blamed.together)
    ]
    moved = [p.part for p, m in zip(case.plies, blamed.moves_mm, strict=True) if m is not None]
    if blamed.together and not all(map(movable, moved)):
        return f"compare the places of {_named(case, blamed.holes)}; not all of these parts can be changed"
    joint = ", and " if blamed.together else ", or "
    return f"move {joint.join(told)}" if told else f"correct {_changeable(case, blamed) or 'the position'}"


def _tight(case: ConnectionCase, fit: StackFit, worst_mm: float) -> Finding:
    return Finding(
        "tight_worst_case",
        f"the {len(case.plies)} plies of {case.connection.name} fit as drawn, but are short by {show_mm(-worst_mm)} "
        f"with the smallest holes, the largest fastener and every position out{_tightest(case, fit)}"
        f"{_no_odds(case)}{_told(fit)}",
        severity="stop",
        where=f"{case.connection.name}/worst case",
        fix="make the holes larger, choose a closer process, or a smaller fastener",
        measured=show_mm(worst_mm),
        limit="0.000 mm",
    )


def _no_odds(case: ConnectionCase) -> str:
    """Why the worst case has the word."""
    return f"; {case.ruling.no_odds}" if case.ruling and case.ruling.no_odds else ""


def _fits(case: ConnectionCase, fit: StackFit, nominal_mm: float, worst_mm: float) -> Finding:
    return Finding(
        "fits",
        f"the {len(case.plies)} plies of {case.connection.name} fit on the same bolts; margin {show_mm(nominal_mm)} as "
        f"drawn, {show_mm(worst_mm)} in the worst case{_tightest(case, fit)}{_told(fit)}",
        severity="note",
        where=f"{case.connection.name}/fit",
        measured=show_mm(nominal_mm),
        limit=f"worst case {show_mm(worst_mm)}",
    )


def _tightest(case: ConnectionCase, fit: StackFit) -> str:
    return f", tightest at {_named(case, fit.tightest)}" if any(fit.tightest) else ""


def _named(case: ConnectionCase, holes: tuple[str | None, ...]) -> str:
    return ", ".join(f"{h} of {p.part.number}" for h, p in zip(holes, case.plies, strict=True) if h)


def _told(fit: StackFit) -> str:
    return "".join(f"; {note}" for note in fit.notes if note not in _TOLD_BEFORE)
