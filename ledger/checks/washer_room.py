"""
Washers, heads and nuts must lie flat on the plate, clear of edges, openings and each other.

The *seat* of a fastener is its washer, or the corners of its hexagon where that is wider. It lies on the outer face of
the first and of the last ply, where that ply has a clearance hole. Of a slot both ends count.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

from ledger.cases.answers import DoesNotApply, NotChecked
from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.cases.fitting import rings_of
from ledger.checks._frame import check
from ledger.checks._movable import joined
from ledger.checks._seats import bolted_holes, has_seats, seated, unlooked
from ledger.domain.errors import UnknownName
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.fit.gap import reach_to
from ledger.standards.hardware import Hardware, hardware

_ROOMY = 1e-6


@check(
    on=ConnectionCase,
    source="ISO 7089 and ASME B18.21.1 washers, ISO 4014, 4032 and ASME B18.2.1 hexagons; room: common practice",
    codes=("seat_overhangs", "seats_meet"),
    severity="warning",
)
def washer_room(case: ConnectionCase) -> Iterator[Finding | NotChecked]:
    """
    Every washer, head and nut has its whole seat on the plate.

    A washer over an edge bends, one that meets its neighbor or the rim of an opening cannot be tightened flat.
    """
    connection = case.connection
    if not has_seats(connection):
        raise DoesNotApply
    yield from unlooked(case, "room for the washers")
    try:
        parts = hardware(connection.fastener)
    except UnknownName as unknown:
        yield NotChecked(str(unknown))
        return
    for placed in seated(case):
        if rings_of(placed):
            yield from _overhanging(case, placed, parts)
        else:
            yield NotChecked(f"the seats of washers on {placed.part.number}, which has no outline")
        yield from _meeting(case, placed, parts)


def _overhanging(case: ConnectionCase, placed: PlacedPly, parts: Hardware) -> Iterator[Finding]:
    number, radius = placed.part.number, parts.seat_mm / 2
    for hole in bolted_holes(case, placed):
        room, place = min(reach_to(rings_of(placed), end) for end in hole.core)
        if math.isfinite(room) and room >= radius - _ROOMY:
            continue
        yield Finding(
            "seat_overhangs",
            f"the {case.connection.fastener} seat ({show_mm(parts.seat_mm)}) at {hole.label} of {number} overhangs the "
            f"edge at ({place[0]:.2f}, {place[1]:.2f}) mm by {show_mm(radius - room)}",
            severity="warning",
            where=f"{case.connection.name}/{number}/{hole.label}",
            fix=joined(
                [
                    (placed.part, f"move {hole.label} of {number} in"),
                    (placed.part, f"widen {number} there"),
                    (None, "choose a smaller washer or a socket head"),
                ]
            ),
            measured=show_mm(room),
            limit=f">= {show_mm(radius)}",
        ).held_to(room, radius)


def _meeting(case: ConnectionCase, placed: PlacedPly, parts: Hardware) -> Iterator[Finding]:
    number = placed.part.number
    for one, other in combinations(bolted_holes(case, placed), 2):
        apart = min(math.dist(p, q) for p in one.core for q in other.core)
        if math.isfinite(apart) and apart >= parts.seat_mm - _ROOMY:
            continue
        yield Finding(
            "seats_meet",
            f"the {case.connection.fastener} seats ({show_mm(parts.seat_mm)}) at {one.label} and {other.label} of "
            f"{number} meet: the holes are {show_mm(apart)} apart",
            severity="warning",
            where=f"{case.connection.name}/{number}/{one.label}",
            fix=joined(
                [
                    (placed.part, f"set the holes of {number} wider apart"),
                    (None, "choose smaller washers or socket heads"),
                ]
            ),
            measured=show_mm(apart),
            limit=f">= {show_mm(parts.seat_mm)}",
        ).held_to(apart, parts.seat_mm)
