"""
A socket gets to every head and nut past all parts that are on.

In the way counts a part of another connection that is in the room of the socket deeper than the play between them; what
lies on the same face, and walls of the plies themselves, are looked at connection by connection.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply, NotChecked
from ledger.cases.build import MOST_PARTS
from ledger.cases.room import known_size
from ledger.cases.surroundings import BuiltPart
from ledger.checks._frame import check
from ledger.checks._movable import movable
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm


@check(
    on=BuiltPart,
    source="sockets ISO 2725-1: 1.25 s + 3 mm wide, from memory; 38 mm long over the hexagon: common practice",
    codes=("socket_blocked",),
    severity="warning",
)
def out_of_reach(seen: BuiltPart) -> Iterator[Finding | NotChecked]:
    """
    A part that is bolted on elsewhere does not stand in front of a bolt.

    Then the bolt has to be tightened before that part goes on.
    """
    build = seen.build
    if not build.is_more_than_pairs:
        raise DoesNotApply
    if len(build.parts) > MOST_PARTS:
        yield NotChecked(f"sockets in space: more than {MOST_PARTS} parts hang together with {seen.number}")
        return
    yield from (NotChecked(f"whether a socket gets to {what}") for what in _no_socket(seen))
    for b in build.blocked:
        if b.seat.number != seen.number:
            continue
        what = f"the {b.what} of {b.connection} at {b.hole} of {b.seat.name}"
        if not b.proven:
            why = b.doubt or f"the bolts leave {show_mm(b.play_mm, 2)} of play"
            yield NotChecked(
                f"whether {b.by.name} is in the way of a socket on {what}: {show_mm(b.deep_mm, 2)} as fitted, {why}"
            )
            continue
        yield Finding(
            "socket_blocked",
            f"{b.by.name} is {show_mm(b.deep_mm, 2)} in the way of a socket on {what}; the bolts leave "
            f"{show_mm(b.play_mm, 2)} of play",
            severity="warning",
            where=f"{b.connection}/{b.seat.name}/{b.hole}/{b.by.name}",
            fix=f"tighten {b.connection} before {b.by.name} goes on, or turn the bolt round"
            + (", or move the holes" if all(map(movable, build.parts_of(b.connection))) else ""),
            measured=show_mm(b.deep_mm, 2),
            limit=f"<= {show_mm(b.play_mm, 2)}",
        ).held_to(b.deep_mm, b.play_mm)


def _no_socket(seen: BuiltPart) -> Iterator[str]:
    """The fasteners of this part that no socket is laid over: beside the connection's own, or of no size in a table."""
    for case in seen.build.connections:
        own = case.connection
        if case.place_of(seen.number) is None:
            continue
        yield from (f"{also.fastener} of {own.name}" for also in own.also)
        if own.kind == "bolted" and own.fastener.strip() and not known_size(own.fastener):
            yield f"{own.fastener} of {own.name}: its head is in no table"
