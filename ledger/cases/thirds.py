"""
Third parts that two plies of a connection are both bolted to: by two connections, one of each ply, that lie around it.

The same is seen from one of the two bolted connections: then the weld and the other bolted connection lie around it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations, product

from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.cases.surroundings import SurroundedConnection
from ledger.domain.connection import WELDED

_BOTH = 2


@dataclass(frozen=True)
class Spanning:
    """Two bolted connections with one ply each, at `places` in them, and in each the same third part."""

    first: ConnectionCase
    second: ConnectionCase
    places: tuple[int, int]

    @property
    def through(self) -> PlacedPly:
        """The third part in the first connection."""
        return self.first.plies[1 - self.places[0]]

    @property
    def through_second(self) -> PlacedPly:
        """The third part in the second connection."""
        return self.second.plies[1 - self.places[1]]


def across_welds(seen: SurroundedConnection) -> Iterator[tuple[ConnectionCase, Spanning]]:
    """
    For a bolted connection: every weld of which it holds one part on a third, and another bolted connection the other
    part.
    """
    case, near = seen.case, seen.around
    if case.connection.kind == "bolted" and len(case.plies) == _BOTH:
        for weld in (m for m in near if m.connection.kind in WELDED):
            for span in _held(weld, [case, *_bolted(near)]):
                if case.connection.name in (span.first.connection.name, span.second.connection.name):
                    yield weld, span


def spanning(seen: SurroundedConnection) -> Iterator[Spanning]:
    """Every pair of bolted connections that hold a third part from two plies of this one."""
    return _held(seen.case, _bolted(seen.around))


def neighbours(seen: SurroundedConnection) -> Iterator[Spanning]:
    """For a bolted connection: every other one that holds another part on one of its two parts."""
    case = seen.case
    if case.connection.kind == "bolted" and len(case.plies) == _BOTH:
        own = [p.part.number for p in case.plies]
        for other, place in product(_bolted(seen.around), (0, 1)):
            theirs = other.place_of(own[1 - place])
            if theirs is not None and other.plies[1 - theirs].part.number != own[place]:
                yield Spanning(case, other, (place, 1 - theirs))


def _bolted(connections: Iterable[ConnectionCase]) -> list[ConnectionCase]:
    return [m for m in connections if m.connection.kind == "bolted" and len(m.plies) == _BOTH]


def _held(case: ConnectionCase, near: list[ConnectionCase]) -> Iterator[Spanning]:
    own = [p.part.number for p in case.plies]
    for one, other in combinations(own, 2):
        for first, second in product(near, near):
            places = first.place_of(one), second.place_of(other)
            if places[0] is None or places[1] is None:
                continue
            found = Spanning(first, second, (places[0], places[1]))
            third = found.through.part.number
            if third not in own and third == found.through_second.part.number:
                yield found
