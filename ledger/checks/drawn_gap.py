"""
The gap between two plates, as drawn and coated, is what the connection requires.

*Beside*: between the outlines. *Passes*: between the first plate's outline and the opening that it goes
through. *Inside*: between the first plate's outline and the bore or the envelope that it stays in.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply, NotRun
from ledger.cases.connections import ConnectionCase
from ledger.cases.regions import (
    IN_ONE_PLANE,
    PLACES,
    bolted_through,
    edge_coats_mm,
    gap_as_drawn,
)
from ledger.cases.surroundings import SurroundedConnection
from ledger.checks._frame import check
from ledger.checks._movable import joined
from ledger.domain.connection import WELDED
from ledger.domain.finding import Finding
from ledger.domain.quantity import Bounds, show_mm


@check(
    on=SurroundedConnection,
    source="common practice: the smallest distance between true edges, each less its own coat",
    codes=("gap_small", "gap_large", "gap_in_play"),
    severity="stop",
    not_checked="how far cut edges are off the drawing, and play of parts that no third part holds",
)
def drawn_gap(seen: SurroundedConnection) -> Iterator[Finding]:
    """
    The room that is required beside, around or inside a plate is there on the drawing.

    What is drawn too tight is tight everywhere; no measurement on the structure is needed to know it.
    """
    case = seen.case
    expected = case.connection.gap
    if expected is None:
        asks = case.connection.kind in IN_ONE_PLANE
        raise DoesNotApply("no gap is required on the drawing" if asks else "")
    if case.connection.kind in WELDED:
        raise DoesNotApply
    if case.connection.kind not in IN_ONE_PLANE:
        raise NotRun(
            f"a gap in a {case.connection.kind} connection is not measured: record it as a clearance connection "
            f"(beside, passes through or inside)"
        )
    gap = gap_as_drawn(seen)
    room = round(gap.distance_mm - edge_coats_mm(case), PLACES)
    if not (math.isfinite(room) and math.isfinite(gap.error_mm)):
        raise NotRun("the gap on the drawing is not a number: take the drawings again")
    if expected.allows(room - gap.error_mm) and expected.allows(room + gap.error_mm):
        yield from _in_play(seen, room - gap.error_mm)
        return
    small = expected.least_mm is not None and room - gap.error_mm < expected.least_mm
    first, second = (p.part.number for p in case.plies)
    place = f"({gap.at_b[0]:.2f}, {gap.at_b[1]:.2f}) mm of {second}"
    yield Finding(
        "gap_small" if small else "gap_large",
        f"{show_mm(room)} between {first} and {second} at {place}, expected {expected}",
        severity="stop",
        where=f"{case.connection.name}/gap",
        fix=_more_room(case) if small else _less_room(case),
        measured=show_mm(room),
        limit=expected.written,
    ).held_to(*_least_favourable(expected, room, gap.error_mm, small=small))


def _more_room(case: ConnectionCase) -> str:
    parts = [p.part for p in case.plies]
    cut = [(part, f"change an edge of {part.number} there, or its position") for part in parts]
    return joined(cut, "both stay as they are: ask for less room")


def _less_room(case: ConnectionCase) -> str:
    parts = [p.part for p in case.plies]
    cut = joined((part, f"move {part.number} closer") for part in parts)
    return f"{cut}, or allow more" if cut else "both stay as they are: allow more"


def _in_play(seen: SurroundedConnection, room: float) -> Iterator[Finding]:
    """The gap that is left when both parts move in their bolt holes towards each other."""
    expected, bolts = seen.case.connection.gap, bolted_through(seen)
    if bolts is None or expected is None or expected.least_mm is None:
        return
    first, second = (p.part.number for p in seen.case.plies)
    if not math.isfinite(bolts.play_mm):
        left, told = "nothing known", "turns freely on its bolts"
    else:
        rest = round(room - bolts.play_mm, PLACES)
        if expected.least_mm <= rest:
            return
        left, told = show_mm(max(rest, 0.0)), f"can move by {show_mm(bolts.play_mm)} together"
    yield Finding(
        "gap_in_play",
        f"{first} and {second}, both bolted to {bolts.third}, {told} in their holes at worst: {left} is left of the "
        f"{show_mm(room)} drawn, expected {expected}",
        severity="warning",
        where=f"{seen.case.connection.name}/play",
        fix="draw more room, choose closer holes, or pin one of the parts",
        measured=left,
        limit=expected.written,
    ).held_to(max(room - bolts.play_mm, 0.0), float(expected.least_mm))


def _least_favourable(expected: Bounds, room: float, error: float, *, small: bool) -> tuple[float, float]:
    """The room as it may be at worst, and the bound that it is beyond."""
    bound = expected.least_mm if small else expected.most_mm
    return room - error if small else room + error, float(bound) if bound is not None else math.nan
