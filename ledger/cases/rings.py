"""
Which bolted connections are one question, and which close a ring.

Connections that bolt the same two parts to each other leave them one pose, not one each; and plies on the same holes
have the same bolts. Connections that do either, and all that hang on them likewise, are *joined*: fitted together or
not at all. A *ring* goes from part to part through connections that are not joined, and comes back to where it began.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Mapping
from typing import get_args

from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.fit.joint import Joint

Ring = tuple[str, ...]


def is_fitted(case: ConnectionCase) -> bool:
    """Whether the connection has bolts whose holes are made before it goes together."""
    return case.connection.kind == "bolted" and case.connection.joint in get_args(Joint)


def parts_of(case: ConnectionCase) -> frozenset[str]:
    """The numbers of its parts."""
    return frozenset(p.part.number for p in case.plies)


def labels_of(case: ConnectionCase, number: str) -> frozenset[str]:
    """The holes of a part that its bolts could go through."""
    return frozenset(h.label for p in case.plies if p.part.number == number for h in p.all_holes)


def linked(one: ConnectionCase, other: ConnectionCase) -> bool:
    """Whether two connections bolt the same two parts, or could go through the same holes of one."""
    if not (is_fitted(one) and is_fitted(other)):
        return False
    shared = parts_of(one) & parts_of(other)
    return len(shared) > 1 or any(labels_of(one, n) & labels_of(other, n) for n in shared)


def joined_with(
    case: ConnectionCase, connections_at: Callable[[str], Iterable[ConnectionCase]]
) -> tuple[ConnectionCase, ...]:
    """
    All connections that are one question with this one, by name, without it.

    `connections_at` gives the connections of a part.
    """
    found, left = {case.connection.name: case}, [case]
    while left:
        one = left.pop()
        for number in sorted(parts_of(one)):
            for other in connections_at(number):
                if other.connection.name not in found and linked(one, other):
                    found[other.connection.name] = other
                    left.append(other)
    return tuple(found[name] for name in sorted(found) if name != case.connection.name)


def ring_through(
    connections: Iterable[ConnectionCase], bolted: Mapping[str, Iterable[tuple[str, Ring]]]
) -> Ring:
    """
    The parts of a shortest ring that leaves these joined connections at one part and comes back at another; empty if
    none.

    `bolted` gives the bolted connections of every part: their names, and their parts.
    """
    own = {m.connection.name for m in connections}
    parts = sorted({n for m in connections for n in parts_of(m)})
    shortest: Ring = ()
    for start in parts:
        way = _way_back(start, frozenset(parts), own, bolted)
        if way and (not shortest or len(way) < len(shortest)):
            shortest = way
    return shortest


def _way_back(
    start: str, ends: frozenset[str], own: set[str], bolted: Mapping[str, Iterable[tuple[str, Ring]]]
) -> Ring:
    came: dict[str, str] = {start: ""}
    queue = deque([start])
    while queue:
        at = queue.popleft()
        for name, parts in bolted.get(at, ()):
            if name in own:
                continue
            for following in parts:
                if following in came:
                    continue
                came[following] = at
                if following in ends:
                    return _followed(came, following)
                queue.append(following)
    return ()


def _followed(came: Mapping[str, str], last: str) -> Ring:
    way = [last]
    while came[way[-1]]:
        way.append(came[way[-1]])
    return tuple(reversed(way))


def plies_of(cases: Iterable[ConnectionCase], number: str) -> tuple[tuple[ConnectionCase, PlacedPly], ...]:
    """A part's place in every one of these connections that it is in."""
    return tuple((c, p) for c in cases for p in c.plies if p.part.number == number)
