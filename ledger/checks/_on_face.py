"""
What else lies on the face on which a connection's heads and nuts lie: other parts, and heads and nuts of other
connections.

Looked at are the other connections of that ply's part, where such a connection says, or its holes find out, where its
other part lies. A part that lies flat is an obstacle by its outline, one that stands on edge by its width and
thickness, one that passes through an opening by its outline on both faces.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import shapely

from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.cases.fitting import rings_of
from ledger.cases.surroundings import SurroundedConnection
from ledger.checks._flanges import Flange, flange_of
from ledger.checks._seats import bolted_holes, has_seats, seated
from ledger.domain.errors import UnknownName
from ledger.domain.record import Part
from ledger.domain.shape import Contour, Hole, Point
from ledger.fit.gap import inside, reach_to
from ledger.standards.hardware import Hardware, hardware

_BOTH: Final = 2
_OTHER_FACE: Final = {"top": "bottom", "bottom": "top"}


@dataclass(frozen=True, slots=True)
class Obstacle:
    """
    A part on the face: its rings in the ply's coordinates and how high it stands there.

    Of a `bent` part the rings are those of the flange that lies there; none where it is not clear which does. It lies
    on one `flange` of a ply that is bent itself, and is no obstacle on another.
    """

    of: Part
    connection: str
    rings: tuple[Contour, ...]
    height_mm: float | None
    bent: bool = False
    flange: Flange | None = None

    @property
    def part(self) -> str:
        """Its number."""
        return self.of.number

    def room_mm(self, centre: Point) -> float | None:
        """From a place to its material, 0 under it; None in one of its holes, or on another flange."""
        if self.flange is not None and not self.flange.flat.contains(shapely.Point(centre)):
            return None
        if any(inside(ring, centre) for ring in self.rings[1:]):
            return None
        return 0.0 if inside(self.rings[0], centre) else reach_to(self.rings, centre)[0]

    def way_mm(self, centre: Point) -> float:
        """How far a place is from its material, in one of its holes too; 0 under it."""
        room = self.room_mm(centre)
        return reach_to(self.rings, centre)[0] if room is None else room


def seat_face(case: ConnectionCase, placed: PlacedPly) -> str:
    """The face of a ply on which heads or nuts lie; empty for one that stands on edge."""
    up = placed.ply.face_up
    if up not in _OTHER_FACE:
        return ""
    return up if placed is case.plies[0] else _OTHER_FACE.get(up, "")


def parts_on_face(seen: SurroundedConnection, placed: PlacedPly) -> Iterator[Obstacle]:
    """The other parts that lie where the seats of this ply lie."""
    case = seen.case
    face = seat_face(case, placed)
    for other in seen.around:
        found = _lying_on(other, placed, face)
        if found is not None and _may_meet(case, placed, found):
            yield found


def _may_meet(case: ConnectionCase, placed: PlacedPly, found: Obstacle) -> bool:
    """Whether a seat of the connection lies on the flange on which the obstacle lies."""
    own = flange_of(placed.part, bolted_holes(case, placed))
    return own is None or found.flange is None or own == found.flange


def bolts_on_face(seen: SurroundedConnection, placed: PlacedPly) -> Iterator[tuple[str, Hole, Hardware]]:
    """
    Heads and nuts of other connections on the same face of the same part: the connection, the hole, what lies there.
    """
    case = seen.case
    face = seat_face(case, placed)
    own = {h.label for h in bolted_holes(case, placed)}
    flange = flange_of(placed.part, bolted_holes(case, placed))
    for other in seen.around:
        if not face or not has_seats(other.connection) or other.place_of(placed.part.number) is None:
            continue
        try:
            parts = hardware(other.connection.fastener)
        except UnknownName:  # told where that connection's seats are looked at
            continue
        for theirs in seated(other):
            if theirs.part.number == placed.part.number and seat_face(other, theirs) == face:
                there = flange_of(theirs.part, bolted_holes(other, theirs))
                if flange is not None and there is not None and flange != there:
                    continue
                yield from (
                    (other.connection.name, h, parts)
                    for h in bolted_holes(other, theirs)
                    if h.label not in own
                )


def _lying_on(other: ConnectionCase, placed: PlacedPly, face: str) -> Obstacle | None:
    """The other ply of a connection, if it touches this face."""
    if len(other.plies) != _BOTH or other.connection.kind not in ("bolted", "welded", "passes through"):
        return None
    place = other.place_of(placed.part.number)
    fit = other.best_fit
    pose = other.pose if fit is None or fit.verdict == "GO" else None
    if place is None or pose is None:
        return None
    theirs, through = other.plies[1 - place], other.connection.kind == "passes through"
    rings, bent = _rings(other, theirs), bool(theirs.part.profile and theirs.part.profile.bends)
    if rings is None or not _touches(other, place, face):
        return None
    laid = tuple(map(pose.place_contour if place else pose.bring_contour, rings))
    height = None if through else _height(theirs)
    ply = other.plies[place]
    flange = None if through else flange_of(ply.part, bolted_holes(other, ply))
    return Obstacle(theirs.part, other.connection.name, laid, height, bent, flange)


def _touches(other: ConnectionCase, place: int, face: str) -> bool:
    """Whether the ply at the other place comes up against, or out of, this face of the ply at this place."""
    if other.connection.kind == "passes through":
        return bool(face) and place == 1
    return bool(face) and touched_face(other, place) == face


def touched_face(connection: ConnectionCase, place: int) -> str:
    """The face of a ply that the other one comes up against; empty for one that stands on edge."""
    up = connection.plies[place].ply.face_up
    if up not in _OTHER_FACE:  # a face of a bought part by its own name is the one that is touched
        return "" if up == "edge" else up
    return up if place else _OTHER_FACE[up]


def _rings(other: ConnectionCase, theirs: PlacedPly) -> tuple[Contour, ...] | None:
    """
    Its material seen from above, in its own coordinates; None without an outline.

    Of a bent part the flange that is bolted there; none of it is known where that is not clear.
    """
    part, rings = theirs.part, rings_of(theirs)
    if not rings or part.profile is None:
        return None
    if part.profile.bends:
        flange = flange_of(part, bolted_holes(other, theirs)) if other.connection.kind == "bolted" else None
        holes = [h for h in part.holes if flange and flange.flat.contains(shapely.Point(h.centre))]
        return (flange.ring(), *(h.contour() for h in holes)) if flange else ()
    if theirs.ply.face_up != "edge":
        return (*rings, *(h.contour() for h in part.holes))
    size = part.profile.size_mm
    if size is None or part.thickness is None:
        return None
    x, y = size[0] / 2, float(part.thickness.mm) / 2
    return (Contour(((-x, -y, 0.0), (x, -y, 0.0), (x, y, 0.0), (-x, y, 0.0))),)


def _height(theirs: PlacedPly) -> float | None:
    """Its thickness where it lies flat; None where it stands on edge or its thickness is not known."""
    thick = theirs.part.thickness
    return float(thick.mm) if thick and thick.mm > 0 and theirs.ply.face_up != "edge" else None
