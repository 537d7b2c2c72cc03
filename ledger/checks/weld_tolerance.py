"""
Holes on both sides of a weld take the tolerance of the welded assembly, unless they are jigged or drilled afterwards.

Two plates are welded together and both are bolted to a third. Each bolt pattern fits by itself; how far the two
patterns are apart is a size of the welded assembly, and takes its tolerance: that of its class for the farthest two
holes. It is told at the weld and at both bolted connections, so that the third part's revision hears of it too.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from ledger.cases.answers import DoesNotApply, NotChecked
from ledger.cases.connections import PlacedPly
from ledger.cases.surroundings import SurroundedConnection
from ledger.cases.thirds import Spanning, across_welds, spanning
from ledger.checks._frame import check
from ledger.domain.connection import WELDED, Connection
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.standards.weld_classes import weld_class_deviation_mm

COMMON_CLASS: Final = "B"
_MADE_TO_FIT: Final = ("jigged", "drilled after")


@check(
    on=SurroundedConnection,
    source="ISO 13920 table 1, linear dimensions, from memory; class B where none is entered: common practice",
    codes=("weld_spread", "weld_class_missing"),
    severity="stop",
)
def weld_tolerance(seen: SurroundedConnection) -> Iterator[Finding | NotChecked]:
    """
    Bolts still go in when the weld has pulled.

    Plates that are cut to a tenth are welded to a millimeter or two; holes that have to meet across the weld are
    jigged, drilled afterwards, or large enough.
    """
    case = seen.case
    spans = (
        [(case, s) for s in spanning(seen)] if case.connection.kind in WELDED else list(across_welds(seen))
    )
    if not spans:
        raise DoesNotApply
    welds = {weld.connection.name: weld.connection for weld, _ in spans}
    for connection in welds.values():
        yield from _stated(connection)
    for weld, span in spans:
        if weld.connection.holes_made not in _MADE_TO_FIT:
            yield from _spread(weld.connection, span)


def _stated(connection: Connection) -> Iterator[Finding | NotChecked]:
    """What is left alone across a weld, and a class that is not entered."""
    if connection.holes_made in _MADE_TO_FIT:
        yield NotChecked(
            f"holes on both sides of {connection.name}: they are {connection.holes_made}, as entered"
        )
        return
    yield NotChecked(f"angles and flatness across {connection.name} (ISO 13920 tables 2 and 3)")
    if not connection.weld_class:
        yield Finding(
            "weld_class_missing",
            f"holes on both sides of {connection.name} meet a third part, and no class of ISO 13920 is entered: class "
            f"{COMMON_CLASS} was taken",
            severity="warning",
            where=f"{connection.name}/weld_class",
            fix="record the connection with --weld-class A, B, C or D, or with --holes jigged or 'drilled after'",
        )


def _spread(weld: Connection, span: Spanning) -> Iterator[Finding | NotChecked]:
    connections = f"{span.first.connection.name} and {span.second.connection.name}"
    both = (span.first, span.second)
    margins = [fit.worst_case_margin_mm if (fit := m.best_fit) else None for m in both]
    good = all(m.ruling is not None and m.ruling.verdict == "GO" for m in both)
    if not good or any(m is None or not math.isfinite(m) for m in margins):
        yield NotChecked(
            f"the welded assembly's tolerance in {connections}: they do not fit by themselves yet"
        )
        return
    room = sum(max(0.0, m) for m in margins if m is not None)
    size = _farthest(span.through, span.through_second)
    expected = weld_class_deviation_mm(weld.weld_class or COMMON_CLASS, size)
    if room >= expected:
        return
    through = span.through.part.number
    yield Finding(
        "weld_spread",
        f"holes of {connections} are {show_mm(size)} apart across the weld {weld.name}: class "
        f"{weld.weld_class or COMMON_CLASS} allows ±{show_mm(expected)}, and they can take up {show_mm(room)}",
        severity="stop",
        where=f"{weld.name}/{through}",
        fix=f"weld them bolted to {through} or in a jig (--holes jigged), drill afterwards, or open the holes by "
        f"{show_mm(expected - room)} in all",
        measured=show_mm(room),
        limit=show_mm(expected),
    )


def _farthest(one: PlacedPly, other: PlacedPly) -> float:
    """The distance of the two holes farthest apart, one of each group, on the third plate."""
    return max(math.dist(a.centre, b.centre) for a in one.holes for b in other.holes)
