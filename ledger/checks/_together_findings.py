"""What is found of connections together, in words; `cases` are these connections, `case` is the one asked about."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ledger.cases.connections import ConnectionCase
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.domain.required_odds import percent
from ledger.fit.odds import Odds
from ledger.fit.ruling import Ruling


def by_odds(case: ConnectionCase, cases: Sequence[ConnectionCase], ruling: Ruling, odds: Odds) -> Finding:
    """The same rule as for the holes of one connection: acknowledged where the odds are enough, else a stop."""
    good = ruling.verdict == "GO"
    return Finding(
        "odds_together" if good else "tight_together",
        f"{names_of(cases)} together: {ruling.headline}",
        severity="warning" if good else "stop",
        where=where_of(case, cases),
        fix="acknowledge the odds when signing, or make the holes larger"
        if good
        else "make the holes larger, choose a closer process, or a smaller fastener",
        measured=percent(odds.low),
        limit=f"{ruling.required} %",
    ).held_to(math.floor(odds.low * 10_000 + 1e-9) / 100, float(ruling.required))


def tight(case: ConnectionCase, cases: Sequence[ConnectionCase], worst_mm: float, at: str = "") -> Finding:
    """What fits as drawn and not in the worst case; `at` says where it is worst."""
    return Finding(
        "tight_together",
        f"{names_of(cases)} fit together as drawn, but are short by {show_mm(-worst_mm)} with the smallest holes, the "
        f"largest fastener and every position out{at}",
        severity="stop",
        where=where_of(case, cases),
        fix="make the holes larger, choose a closer process, or a smaller fastener",
        measured=show_mm(worst_mm),
        limit="0.000 mm",
    )


def fits(
    case: ConnectionCase, cases: Sequence[ConnectionCase], nominal_mm: float, worst_mm: float
) -> Finding:
    """What fits, with both margins."""
    return Finding(
        "fits_together",
        f"{names_of(cases)} fit together; margin {show_mm(nominal_mm)} nominal, {show_mm(worst_mm)} worst case",
        severity="note",
        where=where_of(case, cases),
        measured=show_mm(nominal_mm),
        limit=f"worst case {show_mm(worst_mm)}",
    )


def where_of(case: ConnectionCase, cases: Sequence[ConnectionCase]) -> str:
    """The connection asked about, and the others."""
    return "/".join(
        (
            case.connection.name,
            *(c.connection.name for c in cases if c.connection.name != case.connection.name),
        )
    )


def names_of(cases: Sequence[ConnectionCase]) -> str:
    """Their names, as in a sentence."""
    *others, last = sorted(c.connection.name for c in cases)
    return f"{', '.join(others)} and {last}"
