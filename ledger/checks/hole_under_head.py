"""
No washer, head or nut goes through the hole it lies on.

Looked at are the holes of the first and of the last ply, for every fastener of the connection. The cover is the washer;
the hexagon across its flats where no washer is used; the weld nut; the countersunk head.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply, NotChecked
from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.checks._frame import check
from ledger.checks._seats import bolted_holes
from ledger.checks._threads import named
from ledger.domain.connection import JOINTS
from ledger.domain.errors import UnknownName
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.domain.shape import Hole
from ledger.standards.bearing import Cover, covers
from ledger.standards.clearance_holes import clearance_hole

_FLAT = ("washer", "head", "nut")  # a countersunk head centers itself, a weld nut is welded where it is


@check(
    on=ConnectionCase,
    source="ISO 7089 and ASME B18.21.1 washers, ISO 4014, 4032 and ASME B18.2.1 hexagons, DIN 929 weld nuts; ISO 10642 "
    "and ASME B18.3 countersunk heads, from memory; geometry",
    codes=("falls_through", "hole_left_open"),
    severity="stop",
    not_checked="plate washers and other washers of more than the standard width",
)
def hole_under_head(case: ConnectionCase) -> Iterator[Finding | NotChecked]:
    """
    A bolt whose washer goes through the hole holds nothing, however well the holes line up.

    The wider a hole, the more room the fit finds in it: only the washer says when it is too wide.
    """
    connection = case.connection
    if connection.kind != "bolted" or connection.joint not in JOINTS or not connection.fastener.strip():
        raise DoesNotApply
    looked_at = False
    for fastener, joint, own, holes in _fastenings(case):
        try:
            over = _covers(case, fastener, joint, holes, own=own)
        except UnknownName as unknown:
            yield NotChecked(str(unknown))
            continue
        needed = (joint != "dowel", joint not in ("dowel", "tapped", "stud", "countersunk tapped"))
        for placed, cover, among, has_cover in zip(
            (case.plies[0], case.plies[-1]), over, (holes[0], holes[-1]), needed, strict=True
        ):
            if cover is not None:
                looked_at = True
                yield from _judged(case, placed, among, fastener, cover)
            elif has_cover:
                yield NotChecked(
                    f"what is on the holes of {placed.part.number}: no table has it for {fastener}"
                )
        if own and joint in ("through", "drilled on site") and connection.washers == 1:
            yield NotChecked(f"on which side of {connection.name} the one washer is")
    if not looked_at and connection.joint == "dowel":
        raise DoesNotApply


def _fastenings(case: ConnectionCase) -> Iterator[tuple[str, str, bool, list[list[Hole]]]]:
    """Every fastener with its joint, whether it is the connection's own, and its holes in each ply."""
    connection = case.connection
    yield connection.fastener, connection.joint, True, [bolted_holes(case, p) for p in case.plies]
    for more in connection.also:
        holes = [list(p.holes_of(group)) for p, group in zip(case.plies, more.groups, strict=True)]
        yield more.fastener, more.joint, False, holes


def _covers(
    case: ConnectionCase, fastener: str, joint: str, holes: list[list[Hole]], *, own: bool
) -> tuple[Cover | None, Cover | None]:
    """What lies over the outermost holes; the washers are entered for the connection's own fastener only."""
    widest = [max((h.diameter_mm for h in among), default=0.0) for among in (holes[0], holes[-1])]
    return covers(fastener, joint, case.connection.washers if own else None, wide_last=widest[1] > widest[0])


def _judged(
    case: ConnectionCase, placed: PlacedPly, holes: list[Hole], fastener: str, cover: Cover
) -> Iterator[Finding]:
    """One finding for the holes of each size that are too wide."""
    wide: defaultdict[float, list[Hole]] = defaultdict(list)
    for hole in holes:
        open_there = cover.what in _FLAT and cover.leaves_open(hole.diameter_mm)
        if open_there or cover.lets_through(hole.diameter_mm):
            wide[hole.diameter_mm].append(hole)
    number, fix = placed.part.number, _fix(placed, fastener)
    for size, among in wide.items():
        place = f"{case.connection.name}/{number}/{named(among)}"
        across = f"the {fastener} {cover.what} {show_mm(cover.diameter_mm, 2)}"
        said = f"{named(among)} of {number}: {show_mm(size, 2)} wide, {across}"
        if cover.lets_through(size):
            yield Finding(
                "falls_through",
                f"{said}: it goes through the hole",
                severity="stop",
                where=place,
                fix=fix,
                measured=show_mm(size, 2),
                limit=f"< {show_mm(cover.diameter_mm, 2)}",
            ).held_to(size, cover.diameter_mm)
        else:
            yield Finding(
                "hole_left_open",
                f"{said}: with the bolt at the side of the hole, part of the hole stays open; closed up to "
                f"{show_mm(cover.closes_mm, 2)}",
                severity="warning",
                where=place,
                fix=fix,
                measured=show_mm(size, 2),
                limit=f"<= {show_mm(cover.closes_mm, 2)}",
            ).held_to(size, cover.closes_mm)


def _fix(placed: PlacedPly, fastener: str) -> str:
    """What to do: a hole that is there already cannot be drawn smaller."""
    bridge = "a plate washer that covers the hole, or a larger fastener"
    if placed.part.form != "cut":
        return bridge
    try:
        drawn = clearance_hole(fastener)
    except UnknownName:
        return f"draw the hole smaller, or use {bridge}"
    return f"draw {drawn.medium_mm:g} mm ({drawn.standard} for {fastener}), or use {bridge}"
