"""
Room between bolted parts as they stand in space: what is in what, what is near, what no socket gets to.

Two pieces *collide* where they are deeper in each other than the play between them can take back, and are *clear* where
the gap between them is larger than that play; between the two nothing is proven, and the numbers are told. Pieces of
one connection may touch. A socket is blocked by a part that is not of its connection, by the same measure.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from ledger.assembly.solids import Flat, box_of, cylinder, depths, gap_mm, placed
from ledger.assembly.space import Frame
from ledger.cases.connections import ConnectionCase
from ledger.cases.places import Piece, Places, bolted_through
from ledger.domain.connection import JOINTS
from ledger.domain.errors import UnknownName
from ledger.fit.joint import Real
from ledger.standards.hardware import Hardware, hardware
from ledger.standards.tools import socket_mm

if TYPE_CHECKING:
    from manifold3d import Manifold

TOUCH_MM: Final = 0.05  # faces that meet, and arcs flattened to a hundredth of a mm on either side
SOCKET_LONG_MM: Final = 38.0  # of a socket with 1/2 in drive: common practice, no source
_FAR_MM: Final = 1e3
_BOTH: Final = 2
_ONE_SIDED: Final = ("tapped", "stud", "captive nut")
_NO_HEADS: Final = ("dowel", "countersunk tapped")


@dataclass(frozen=True, slots=True)
class Meeting:
    """Two pieces that are near: how deep they are in each other, the gap, the play, and what makes that doubtful."""

    one: Piece
    other: Piece
    deep_mm: float
    gap_mm: float
    play_mm: float
    doubt: str = ""

    @property
    def collides(self) -> bool:
        """Whether they are in each other wherever the bolts let them be."""
        return not self.doubt and self.deep_mm > self.play_mm + TOUCH_MM

    @property
    def clear(self) -> bool:
        """Whether they are apart wherever the bolts let them be."""
        return not self.doubt and self.deep_mm <= 0 and self.gap_mm > self.play_mm


@dataclass(frozen=True, slots=True)
class Blocked:
    """A socket over a head or a nut with a piece in its way, and how deep that is in it against the play."""

    connection: str
    hole: str
    seat: Piece
    by: Piece
    what: str
    deep_mm: float
    play_mm: float
    doubt: str = ""

    @property
    def proven(self) -> bool:
        """Whether no play of the bolts makes way."""
        return not self.doubt and self.deep_mm > self.play_mm + TOUCH_MM


def joined(places: Places, connections: Sequence[ConnectionCase], one: Piece, other: Piece) -> bool:
    """Whether some connection is of both, so that they may touch."""
    for case in connections:
        stands = places.of.get(case.connection.name)
        if stands is not None and {one.name, other.name} <= set(stands):
            return True
        if stands is None and {one.number, other.number} <= {p.part.number for p in case.plies}:
            return True
    return False


def _near(boxes: Real, reach_mm: Real) -> Iterator[tuple[int, int]]:
    """Every two boxes (n, 6) that are no farther apart than both reaches."""
    low, high = boxes[:, :3] - reach_mm[:, None], boxes[:, 3:] + reach_mm[:, None]
    for k in range(len(boxes)):
        meets = ((low[k] <= high[k + 1 :]) & (low[k + 1 :] <= high[k])).all(axis=1)
        yield from ((k, k + 1 + int(n)) for n in np.flatnonzero(meets))


def meetings(connections: Sequence[ConnectionCase], places: Places) -> Iterator[Meeting]:
    """Every two pieces that are not proven clear, or that collide."""
    pieces = [p for p in places.pieces.values() if p.solid is not None]
    if len(pieces) < _BOTH:
        return
    boxes = np.array([box_of(p.solid) for p in pieces])
    reach = np.array([min(_reach(p, places), _FAR_MM) for p in pieces])
    for k, n in _near(boxes, reach):
        one, other = pieces[k], pieces[n]
        play, doubt = places.play_mm(one, other), places.doubt(one, other)
        if one.solid is None or other.solid is None:
            continue
        gap = gap_mm(one.solid, other.solid, min(play, _FAR_MM) + TOUCH_MM)
        deep = None if gap > 0 else _deepest(places, (one, other.solid, _flats(other)), other)
        found = Meeting(one, other, deep[0] if deep else 0.0, gap, deep[1] if deep else play, doubt)
        if not found.clear and not (joined(places, connections, one, other) and found.deep_mm <= 0):
            yield found


def _flats(piece: Piece) -> tuple[Flat, ...]:
    """The flats of a piece where it stands."""
    return tuple(replace(f, frame=piece.frame.after(f.frame)) for f in piece.body.flats)


def _deepest(
    places: Places, pair: tuple[Piece, Manifold, tuple[Flat, ...]], against: Piece
) -> tuple[float, float] | None:
    """
    How deep a piece is in a solid that stands with `against`, and the play there: the proof that is the farthest above.
    """
    piece, solid, flats = pair
    if piece.solid is None:
        return None
    proofs = []
    for depth in depths(piece.solid, solid, (_flats(piece), flats)):
        if depth.mm > TOUCH_MM:
            across, along = places.plays_mm(depth, piece, against)
            proofs.append(min((depth.across_mm, across), (depth.along_mm, along), key=lambda p: p[0] - p[1]))
    return max(proofs, key=lambda p: p[0] - p[1], default=None)


def _corners_of(piece: Piece) -> Real:
    """The corners of the box around a piece."""
    low, high = np.split(box_of(piece.solid), 2)
    return np.array([np.where([k & 1, k & 2, k & 4], high, low) for k in range(8)])


def _reach(piece: Piece, places: Places) -> float:
    """How far a piece can be from where it stands, against the first one."""
    first = next(iter(places.pieces.values()))
    return places.play_mm(first, piece, _corners_of(piece)) + TOUCH_MM


@dataclass(frozen=True, slots=True)
class _Seat:
    """Where a head or a nut sits: in which hole of which piece, its frame (z away from the part), its height."""

    case: ConnectionCase
    piece: Piece
    hole: str
    frame: Frame
    what: str
    high_mm: float
    parts: Hardware


def known_size(fastener: str) -> bool:
    """Whether a table has the head and the nut of a fastener."""
    try:
        hardware(fastener)
    except UnknownName:
        return False
    return True


def _seats(connections: Sequence[ConnectionCase], places: Places) -> Iterator[_Seat]:
    """Every head and nut of the connections that stand."""
    for case in connections:
        names = places.of.get(case.connection.name)
        joint = case.connection.joint
        if names is None or joint not in JOINTS or joint in _NO_HEADS or not case.connection.fastener.strip():
            continue
        if not known_size(case.connection.fastener):
            continue
        parts = hardware(case.connection.fastener)
        washer = parts.washer_thickness_mm if case.connection.washers != 0 else 0.0
        pieces = [places.pieces[n] for n in names]
        if joint != "countersunk":
            yield from _seats_on(case, 0, pieces, (washer, parts.head_height_mm), parts)
        if joint not in _ONE_SIDED:
            yield from _seats_on(case, len(pieces) - 1, pieces, (washer, parts.nut_height_mm), parts)


def _seats_on(
    case: ConnectionCase, k: int, pieces: Sequence[Piece], heights: tuple[float, float], parts: Hardware
) -> Iterator[_Seat]:
    """The seats on the outer face of the first ply, or of the last."""
    piece, other = pieces[k], pieces[k - 1 if k else 1]
    if piece.solid is None:
        return
    holes = bolted_through(case, k)
    flange = piece.frame.after(piece.body.frame_at([p for h in holes for p in h.core]))
    across = flange.turn[:, 2]
    thick = case.plies[k].part.thickness
    t = float(thick.mm) if thick else 0.0
    middle = np.array([*np.mean([h.centre for h in holes], axis=0), 0.0])
    own = flange.place(middle) - t / 2 * across
    away = 1.0 if (own - _middle_of(case, k - 1 if k else 1, other)) @ across >= 0 else -1.0
    turn = flange.turn @ np.diag([1.0, away, away])
    for hole in holes:
        for x, y in dict.fromkeys(hole.core):
            face = flange.place(np.array([x, y, 0.0 if away > 0 else -t])) + heights[0] * away * across
            yield _Seat(case, piece, hole.label, Frame(turn, face), "nut" if k else "head", heights[1], parts)


def _middle_of(case: ConnectionCase, k: int, piece: Piece) -> Real:
    holes = bolted_through(case, k)
    flange = piece.frame.after(piece.body.frame_at([p for h in holes for p in h.core]))
    thick = case.plies[k].part.thickness
    low = -float(thick.mm) / 2 if thick else 0.0
    return flange.place(np.array([*np.mean([h.centre for h in holes], axis=0), low]))


def blocked(connections: Sequence[ConnectionCase], places: Places) -> tuple[Blocked, ...]:
    """Every socket that a part of another connection is in the way of; of each connection and part the deepest."""
    found: dict[tuple[str, str, str], Blocked] = {}
    for b in _every_blocked(connections, places):
        key = (b.connection, b.what, b.by.name)
        if key not in found or b.deep_mm > found[key].deep_mm:
            found[key] = b
    return tuple(found[key] for key in sorted(found))


def _every_blocked(connections: Sequence[ConnectionCase], places: Places) -> Iterator[Blocked]:
    """Every socket with a piece in its way that is no part of its connection."""
    pieces = [p for p in places.pieces.values() if p.solid is not None]
    boxes = np.array([box_of(p.solid) for p in pieces]) if pieces else np.zeros((0, 6))
    for seat in _seats(connections, places):
        socket = placed(socket_over(seat.parts, seat.high_mm), seat.frame)
        low, high = np.split(box_of(socket), 2)
        near = ((boxes[:, :3] <= high) & (low <= boxes[:, 3:])).all(axis=1)
        own = places.of[seat.case.connection.name]
        for n in np.flatnonzero(near):
            by = pieces[int(n)]
            if by.name in own or by.solid is None:
                continue
            deep = _deepest(places, (by, socket, ()), seat.piece)
            if deep is not None:
                name, doubt = seat.case.connection.name, places.doubt(seat.piece, by)
                yield Blocked(name, seat.hole, seat.piece, by, seat.what, *deep, doubt)


def socket_over(parts: Hardware, high_mm: float) -> Manifold:
    """The room of a socket over a hexagon: from its seat up, as long as a socket over the hexagon's height."""
    return cylinder(socket_mm(parts)[0] / 2, 0.0, high_mm + SOCKET_LONG_MM)
