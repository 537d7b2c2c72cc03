"""
There is an order in which every bolt can be tightened.

Parts that are bolted together are one group from then on; groups can be built apart and bolted together later. At each
step no part that is in the way of a socket on its heads and nuts is in the group yet.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply, NotChecked
from ledger.cases.build import MOST_PARTS
from ledger.cases.surroundings import BuiltPart
from ledger.checks._frame import check
from ledger.checks._movable import movable
from ledger.domain.finding import Finding


@check(
    on=BuiltPart,
    source="search over all orders of the connections, with sockets as out_of_reach looks at them",
    codes=("no_order",),
    severity="warning",
    not_checked="whether parts can be moved to where they stand past those that are on",
)
def assembly_order(seen: BuiltPart) -> Iterator[Finding | NotChecked]:
    """
    Everything can be put on one after the other with a socket on every head and nut.

    Two parts can each hide the bolts of the other.
    """
    build = seen.build
    if not build.is_more_than_pairs:
        raise DoesNotApply
    if len(build.parts) > MOST_PARTS:
        yield NotChecked(f"order of assembly: more than {MOST_PARTS} parts hang together with {seen.number}")
        return
    own = {c.connection.name for c in build.connections if c.place_of(seen.number) is not None}
    order = build.order
    can_move = all(movable(build.part(number)) for number in build.parts)
    ways = [b for b in build.blocked if b.proven or not order.proven]
    met = any(b.connection in own or b.by.number == seen.number for b in ways)
    if order.stuck and order.proven and met:
        yield Finding(
            "no_order",
            f"no order of assembly: whatever is tightened first, no socket gets to {' and '.join(order.stuck)}",
            severity="warning",
            where="/".join(order.stuck),
            fix=f"turn bolts round{', move the holes' if can_move else ''}, or plan for an open-end wrench",
        )
    elif (order.stuck and met) or any(n in own for n in build.careful_order.stuck):
        yield NotChecked("order of assembly: not proven past what may be in the way of a socket")
