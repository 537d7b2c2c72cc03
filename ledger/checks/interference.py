"""
Plates in one plane must not overlap.

A plate *beside* another shares no material with it; one that *passes* through it lies within one opening; one
that stays *inside* an envelope has nothing outside it. Plates bolted over each other lie over each other by
design.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from ledger.cases.answers import NotRun
from ledger.cases.connections import ConnectionCase
from ledger.cases.regions import PLACES, edge_coats_mm, placed_regions, room_in_opening, room_inside
from ledger.cases.surroundings import SurroundedConnection
from ledger.checks._frame import check
from ledger.checks._movable import joined
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.domain.shape import Point
from ledger.fit.gap import Gap, smallest_gap
from ledger.fit.overlap import Region, overlap_area


@check(
    on=SurroundedConnection,
    source="common practice: areas of plane geometry, with the flattening counted against the result",
    codes=("plates_overlap", "sticks_out"),
    severity="stop",
    not_checked="interference across the thickness",
)
def interference(seen: SurroundedConnection) -> Iterator[Finding]:
    """
    No two plates are drawn into each other, coats included.

    It shows at once when they are held together, which is after both were paid for.
    """
    case = seen.case
    first, second = placed_regions(seen)
    if case.connection.kind == "inside":
        yield from _sticking_out(case, *room_inside(case, first.outline))
        return
    shared = overlap_area(first, second)
    if not (math.isfinite(shared.area_mm2) and math.isfinite(shared.error_mm2)):
        raise NotRun("the area that the plates share is not a number: take the drawings again")
    if shared.area_mm2 > shared.error_mm2 and shared.where is not None:
        yield _overlap(case, f"{shared.area_mm2:.2f} mm²", shared.where)
    elif case.connection.kind == "passes through":
        yield from _sticking_out(case, room_in_opening(case, first.outline), "passage")
    elif coats := edge_coats_mm(case):
        yield from _closed_by_coats(case, first, second, coats)


def _sticking_out(case: ConnectionCase, gap: Gap, within: str) -> Iterator[Finding]:
    inner, outer = (p.part.number for p in case.plies)
    room = round(gap.distance_mm - edge_coats_mm(case), PLACES)
    if math.isfinite(room) and room >= 0:
        return
    place = {"passage": "every opening of", "bore": "the opening of", "envelope": "the envelope"}[within]
    first, second = (p.part for p in case.plies)
    fix = joined(
        [(first, f"move or trim {inner} there"), (second, f"make room in {outer}")], "let it pass elsewhere"
    )
    if within == "bore" and not case.plies[1].ply.group:
        fix += f"; where the outline of {outer} is the envelope, draw it without openings"
    yield Finding(
        "sticks_out",
        f"{inner} sticks out of {place} {outer} by {show_mm(-room)} at {_place(gap.at_b)} of {outer}",
        severity="stop",
        where=f"{case.connection.name}/{inner}",
        fix=fix,
        measured=show_mm(-room),
        limit="0 mm",
    )


def _closed_by_coats(
    case: ConnectionCase, first: Region, second: Region, coats_mm: float
) -> Iterator[Finding]:
    gap = smallest_gap(first, second)
    room = round(gap.distance_mm - coats_mm, PLACES)
    if not (math.isfinite(room) and room >= 0):
        yield _overlap(case, f"{show_mm(-room)} of coating", gap.at_b)


def _overlap(case: ConnectionCase, how_much: str, at: Point) -> Finding:
    first, second = (p.part.number for p in case.plies)
    return Finding(
        "plates_overlap",
        f"{first} and {second} overlap by {how_much} at {_place(at)} of {second}",
        severity="stop",
        where=f"{case.connection.name}/{first}",
        fix=f"trim either of them there, or correct the position of {first}",
        measured=how_much,
        limit="0",
    )


def _place(at: Point) -> str:
    return f"({at[0]:.2f}, {at[1]:.2f}) mm"
