"""
What hangs together by bolts, as one value: where it stands in space, and what is in whose way there.

Everything is worked out once for all of its parts; geometry is imported when somebody asks.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final

from ledger.cases.connections import ConnectionCase
from ledger.domain.record import Part

if TYPE_CHECKING:
    from ledger.assembly.order import Order
    from ledger.cases.places import Places
    from ledger.cases.room import Blocked, Meeting

_LEAST: Final = 3
MOST_PARTS: Final = 200


@dataclass(frozen=True)
class Build:
    """Connections that hang together by their parts, by name."""

    connections: tuple[ConnectionCase, ...] = ()

    @property
    def parts(self) -> tuple[str, ...]:
        """The numbers of its parts."""
        return tuple(sorted({p.part.number for c in self.connections for p in c.plies}))

    def part(self, number: str) -> Part:
        """One of its parts. Raises StopIteration for another."""
        return next(p.part for c in self.connections for p in c.plies if p.part.number == number)

    def parts_of(self, connection: str) -> tuple[Part, ...]:
        """The parts of one of its connections."""
        return next(
            tuple(p.part for p in c.plies) for c in self.connections if c.connection.name == connection
        )

    @property
    def is_more_than_pairs(self) -> bool:
        """Whether there is something to look at that no connection alone shows."""
        bolted = [c for c in self.connections if c.connection.kind == "bolted"]
        return len(bolted) > 1 and len(self.parts) >= _LEAST

    @cached_property
    def places(self) -> Places:
        """Where everything stands."""
        from ledger.cases.places import places_of

        return places_of(self.connections)

    @cached_property
    def meetings(self) -> tuple[Meeting, ...]:
        """Every two pieces that are not proven clear of each other, or that collide."""
        from ledger.cases.room import meetings

        return tuple(meetings(self.connections, self.places))

    @cached_property
    def blocked(self) -> tuple[Blocked, ...]:
        """Every socket that a part of another connection is in the way of."""
        from ledger.cases.room import blocked

        return blocked(self.connections, self.places)

    @cached_property
    def order(self) -> Order:
        """The order in which everything is tightened, as far as is proven to be blocked."""
        return self._order(surely=True)

    @cached_property
    def careful_order(self) -> Order:
        """The order in which nothing is in the way of a socket even where it is not proven to be."""
        return self._order(surely=False)

    def _order(self, *, surely: bool) -> Order:
        from ledger.assembly.order import order_of

        by: dict[str, set[str]] = {}
        for b in self.blocked:
            if b.proven or not surely:
                by.setdefault(b.connection, set()).add(b.by.name)
        return order_of(self.places.of, by)
