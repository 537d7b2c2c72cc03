"""
Washers, heads and nuts stay clear of other parts on the same face.

Looked at are the parts that another mate lays on the face where the seats lie, where that mate says or its holes find
out where. A part that the bolt goes through as well is no obstacle.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.checks._case import MateCase, PlacedPly
from ledger.checks._fitting import rings_of
from ledger.checks._frame import DoesNotApply, NotChecked, check
from ledger.checks._seats import bolted_holes, has_seats, seated
from ledger.domain.errors import UnknownName
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.domain.shape import Contour, Point
from ledger.fit.gap import inside, reach_to
from ledger.standards.hardware import Hardware, hardware

_BOTH = 2
_ROOMY = 1e-6
_OTHER_FACE = {"top": "bottom", "bottom": "top"}


@check(
    on=MateCase,
    source="ISO 7089 and ASME B18.21.1 washers, ISO 4014, 4032 and ASME B18.2.1 hexagons; room: common practice",
    codes=("seat_on_neighbour",),
    severity="warning",
    besides=("around",),
    not_checked="seats against parts that no mate lays on the same face",
)
def seat_neighbours(case: MateCase) -> Iterator[Finding | NotChecked]:
    """
    No other part lies where a washer, a head or a nut has to lie.

    Each of the two parts fits where it belongs, and with the first one bolted down the second does not go on.
    """
    if not has_seats(case.mate):
        raise DoesNotApply
    try:
        parts = hardware(case.mate.fastener)
    except UnknownName as unknown:  # told where the seats are looked at
        raise DoesNotApply from unknown
    for placed in seated(case):
        yield from _on_neighbours(case, placed, parts)


def _on_neighbours(case: MateCase, placed: PlacedPly, parts: Hardware) -> Iterator[Finding | NotChecked]:
    """Other parts that lie on the face on which the seats lie."""
    first = placed is case.plies[0]
    seat_face = placed.ply.face_up if first else _OTHER_FACE.get(placed.ply.face_up, "")
    for other in case.around().mates:
        for neighbour, rings in _lying_on(other, placed, seat_face):
            if not rings:
                yield NotChecked(
                    f"seats against {neighbour}, which is folded: which flange lies there is not known"
                )
                continue
            for hole in bolted_holes(case, placed):
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
    """The other ply of a mate, if it touches this face, its rings in this ply's coordinates (none if folded)."""
    if len(other.plies) != _BOTH or other.mate.kind not in ("bolted", "welded"):
        return
    place = other.place_of(placed.part.number)
    fit = other.best_fit
    pose = other.pose if fit is None or fit.verdict == "GO" else None
    if place is None or pose is None:
        return
    up = other.plies[place].ply.face_up
    touched = up if place else _OTHER_FACE.get(up, "")
    theirs = other.plies[1 - place]
    folded = theirs.part.profile is not None and theirs.part.profile.bends
    rings = () if folded else (*rings_of(theirs), *(h.contour() for h in theirs.part.holes))
    if touched == face and rings_of(theirs):
        yield theirs.part.number, tuple(map(pose.place_contour if place else pose.bring_contour, rings))


def _covers(rings: tuple[Contour, ...], centre: Point, radius: float) -> bool:
    """Whether the plate lies under the seat; where the centre is in one of its holes the bolt goes through it too."""
    if any(inside(ring, centre) for ring in rings[1:]):
        return False
    return inside(rings[0], centre) or reach_to(rings, centre)[0] < radius - _ROOMY
