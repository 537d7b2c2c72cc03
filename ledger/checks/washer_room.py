"""
Washers, heads and nuts must lie flat on the plate, clear of edges, openings and each other.

The *seat* of a fastener is its washer, or the corners of its hexagon where that is wider. It lies on the outer face of
the first and of the last ply, where that ply has a clearance hole. Of a slot both ends count.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

from ledger.checks._case import MateCase, PlacedPly
from ledger.checks._fitting import rings_of
from ledger.checks._frame import DoesNotApply, NotChecked, check
from ledger.domain.errors import UnknownName
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.domain.record import JOINTS
from ledger.domain.shape import Contour, Hole, Point
from ledger.fit.gap import inside, reach_to
from ledger.standards.hardware import Hardware, hardware

_ROOMY = 1e-6
_OTHER_FACE = {"top": "bottom", "bottom": "top"}
_ENDS = ("first", "second")
_ONE_SIDED = ("tapped", "stud", "captive nut", "dowel")


@check(
    on=MateCase,
    source="ISO 7089 and ASME B18.21.1 washers, ISO 4014, 4032 and ASME B18.2.1 hexagons; room: common practice",
    codes=("seat_overhangs", "seats_meet", "seat_on_neighbour"),
    severity="warning",
    not_checked="room for a wrench, and parts that no mate lays on the same face",
)
def washer_room(case: MateCase) -> Iterator[Finding | NotChecked]:
    """
    Every washer, head and nut has its whole seat on the plate.

    A washer over an edge bends, one that meets its neighbour or the rim of an opening cannot be tightened flat.
    """
    mate = case.mate
    if mate.kind != "bolted" or mate.joint not in JOINTS or not mate.fastener.strip():
        raise DoesNotApply
    if mate.joint in ("dowel", "countersunk tapped"):
        raise DoesNotApply
    try:
        parts = hardware(mate.fastener)
    except UnknownName as unknown:
        yield NotChecked(str(unknown))
        return
    for placed in _seated(case):
        if rings_of(placed):
            yield from _overhanging(case, placed, parts)
        else:
            yield NotChecked(f"the seats of washers on {placed.part.number}, which has no outline")
        yield from _meeting(case, placed, parts)
        yield from _on_neighbours(case, placed, parts)


def _seated(case: MateCase) -> list[PlacedPly]:
    """The plies on whose outer face a washer, a head or a nut lies."""
    first, last = case.plies[0], case.plies[-1]
    if case.mate.joint.startswith("countersunk"):
        return [last] if case.mate.joint == "countersunk" else []
    return [first] if case.mate.joint in _ONE_SIDED else [first, last]


def _bolted(case: MateCase, placed: PlacedPly) -> list[Hole]:
    """The holes that fasteners go through: those that the fit paired, else all that the mate speaks of."""
    fit, place = case.best_fit, case.plies.index(placed)
    if fit is None or not fit.pairs:
        return list(placed.holes)
    labels = {(p.a, p.b)[place] for p in fit.pairs} | {(w.a, w.b)[place] for w in fit.wrong}
    return [h for h in placed.holes if h.label in labels]


def _overhanging(case: MateCase, placed: PlacedPly, parts: Hardware) -> Iterator[Finding]:
    number, radius = placed.part.number, parts.seat_mm / 2
    for hole in _bolted(case, placed):
        room, place = min(reach_to(rings_of(placed), end) for end in hole.core)
        if math.isfinite(room) and room >= radius - _ROOMY:
            continue
        yield Finding(
            "seat_overhangs",
            f"the {case.mate.fastener} seat ({show_mm(parts.seat_mm)}) at {hole.label} of {number} overhangs the edge "
            f"at ({place[0]:.2f}, {place[1]:.2f}) mm by {show_mm(radius - room)}",
            severity="warning",
            where=f"{case.mate.name}/{number}/{hole.label}",
            remedy=f"move {hole.label} in, widen {number} there, or choose a smaller washer or a socket head",
            measured=show_mm(room),
            limit=f">= {show_mm(radius)}",
        )


def _meeting(case: MateCase, placed: PlacedPly, parts: Hardware) -> Iterator[Finding]:
    number = placed.part.number
    for one, other in combinations(_bolted(case, placed), 2):
        apart = min(math.dist(p, q) for p in one.core for q in other.core)
        if math.isfinite(apart) and apart >= parts.seat_mm - _ROOMY:
            continue
        yield Finding(
            "seats_meet",
            f"the {case.mate.fastener} seats ({show_mm(parts.seat_mm)}) at {one.label} and {other.label} of {number} "
            f"meet: the holes are {show_mm(apart)} apart",
            severity="warning",
            where=f"{case.mate.name}/{number}/{one.label}",
            remedy="set the holes wider apart, or choose smaller washers or socket heads",
            measured=show_mm(apart),
            limit=f">= {show_mm(parts.seat_mm)}",
        )


def _on_neighbours(case: MateCase, placed: PlacedPly, parts: Hardware) -> Iterator[Finding]:
    """Other parts that lie on the face on which the seats lie."""
    first = placed is case.plies[0]
    seat_face = placed.ply.face_up if first else _OTHER_FACE.get(placed.ply.face_up, "")
    for other in case.neighbours():
        for neighbour, rings in _lying_on(other, placed, seat_face):
            for hole in _bolted(case, placed):
                if any(_covers(rings, end, parts.seat_mm / 2) for end in hole.core):
                    yield Finding(
                        "seat_on_neighbour",
                        f"the {case.mate.fastener} seat ({show_mm(parts.seat_mm)}) at {hole.label} of "
                        f"{placed.part.number} meets {neighbour}, which {other.mate.name} lays on the same face",
                        severity="warning",
                        where=f"{case.mate.name}/{placed.part.number}/{hole.label}",
                        remedy=f"move {hole.label} or {neighbour}, cut {neighbour} out there, or bolt through both",
                    )


def _lying_on(other: MateCase, placed: PlacedPly, face: str) -> Iterator[tuple[str, tuple[Contour, ...]]]:
    """The other ply of a mate, if it touches this face, with its rings in this ply's coordinates."""
    if len(other.plies) != len(_ENDS) or other.mate.kind not in ("bolted", "welded"):
        return
    place = next((n for n, p in enumerate(other.plies) if p.part.number == placed.part.number), None)
    fit = other.best_fit
    pose = other.pose if fit is None or fit.verdict == "GO" else None
    if place is None or pose is None:
        return
    up = other.plies[place].ply.face_up
    touched = up if place else _OTHER_FACE.get(up, "")
    theirs = other.plies[1 - place]
    rings = (*rings_of(theirs), *(h.contour() for h in theirs.part.holes))
    if touched == face and rings_of(theirs):
        yield theirs.part.number, tuple(map(pose.place_contour if place else pose.bring_contour, rings))


def _covers(rings: tuple[Contour, ...], centre: Point, radius: float) -> bool:
    """Whether the plate lies under the seat; where the centre is in one of its holes the bolt goes through it too."""
    if any(inside(ring, centre) for ring in rings[1:]):
        return False
    return inside(rings[0], centre) or reach_to(rings, centre)[0] < radius - _ROOMY
