"""
Washers, heads and nuts stay clear of other parts on the same face.

Looked at are the parts that another connection lays on the face where the seats lie, where that connection says or its
holes find out where. A part that the bolt goes through as well is no obstacle.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply, NotChecked
from ledger.cases.connections import PlacedPly
from ledger.cases.surroundings import SurroundedConnection
from ledger.checks._frame import check
from ledger.checks._movable import joined
from ledger.checks._on_face import parts_on_face
from ledger.checks._seats import bolted_holes, has_seats, seated
from ledger.domain.errors import UnknownName
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.standards.hardware import Hardware, hardware

_ROOMY = 1e-6


@check(
    on=SurroundedConnection,
    source="ISO 7089 and ASME B18.21.1 washers, ISO 4014, 4032 and ASME B18.2.1 hexagons; room: common practice",
    codes=("seat_on_neighbor",),
    severity="warning",
    not_checked="washer clearance to parts not recorded on that face",
)
def seat_neighbors(seen: SurroundedConnection) -> Iterator[Finding | NotChecked]:
    """
    No other part lies where a washer, a head or a nut has to lie.

    Each of the two parts fits where it belongs, and with the first one bolted down the second does not go on.
    """
    case = seen.case
    if not has_seats(case.connection):
        raise DoesNotApply
    try:
        parts = hardware(case.connection.fastener)
    except UnknownName as unknown:  # told where the seats are looked at
        raise DoesNotApply from unknown
    for placed in seated(case):
        yield from _on_neighbours(seen, placed, parts)


def _on_neighbours(
    seen: SurroundedConnection, placed: PlacedPly, parts: Hardware
) -> Iterator[Finding | NotChecked]:
    """Other parts that lie on the face on which the seats lie."""
    case = seen.case
    for other in parts_on_face(seen, placed):
        if not other.rings:
            yield NotChecked(f"seats against {other.part}, which is bent: which flange is there is not known")
            continue
        for hole in bolted_holes(case, placed):
            rooms = [room for end in hole.core if (room := other.room_mm(end)) is not None]
            if rooms and not min(rooms) >= parts.seat_mm / 2 - _ROOMY:
                yield Finding(
                    "seat_on_neighbor",
                    f"the {case.connection.fastener} seat ({show_mm(parts.seat_mm)}) at {hole.label} of "
                    f"{placed.part.number} meets {other.part}, which {other.connection} lays on the same face",
                    severity="warning",
                    where=f"{case.connection.name}/{placed.part.number}/{hole.label}",
                    fix=joined(
                        [
                            (placed.part, f"move {hole.label} of {placed.part.number}"),
                            (other.of, f"move {other.part}"),
                            (other.of, f"cut {other.part} out there"),
                            (None, "bolt through both"),
                        ]
                    ),
                )
