"""
Which bolted connections are one question, and which close a ring.

Connections that bolt the same two parts to each other leave them one pose, not one each; and plies on the same holes
have the same bolts. Connections that do either, and all that hang on them likewise, are *joined*: fitted together or
not at all. A *ring* goes from part to part through connections that are not joined, and comes back to where it began.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import get_args

from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.domain.joint import Joint

Ring = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Leg:
    """A step of the way from part to part: over a connection from one to another."""

    case: ConnectionCase
    first: str
    then: str


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


def blocks(bolted: Mapping[str, Iterable[tuple[str, Ring]]]) -> tuple[frozenset[str], ...]:
    """
    The names of connections that lie on rings, those together that share one: the blocks of parts and connections.

    `bolted` gives the bolted connections of every part: their names, and their parts. A connection alone, whichever way
    its parts hang on it, is none.
    """
    near: dict[tuple[str, str], list[tuple[str, str]]] = {}
    for part in sorted(bolted):
        for name, _ in bolted[part]:
            near.setdefault(("part", part), []).append(("connection", name))
            near.setdefault(("connection", name), []).append(("part", part))
    seen: dict[tuple[str, str], int] = {}
    found: list[frozenset[str]] = []
    for start in near:
        if start not in seen:
            found += _blocks_from(start, near, seen)
    return tuple(found)


def _blocks_from(
    start: tuple[str, str],
    near: Mapping[tuple[str, str], list[tuple[str, str]]],
    seen: dict[tuple[str, str], int],
) -> Iterator[frozenset[str]]:
    """The blocks that can be reached, by a search into the depth (Hopcroft and Tarjan, CACM 16 (1973) 372-378)."""
    seen[start] = len(seen)
    low = {start: seen[start]}
    edges: list[tuple[tuple[str, str], tuple[str, str]]] = []
    path = [(start, start, iter(near[start]))]
    while path:
        at, before, ways = path[-1]
        following = next(ways, None)
        if following is None:
            path.pop()
            if not path:
                return
            parent = path[-1][0]
            low[parent] = min(low[parent], low[at])
            if low[at] >= seen[parent]:
                block = [edges.pop()]
                while block[-1] != (parent, at):
                    block.append(edges.pop())
                if len(block) > 1:
                    yield frozenset(n for edge in block for kind, n in edge if kind == "connection")
        elif following == before:
            continue
        elif following in seen:
            if seen[following] < seen[at]:
                edges.append((at, following))
                low[at] = min(low[at], seen[following])
        else:
            seen[following] = len(seen)
            low[following] = seen[following]
            edges.append((at, following))
            path.append((following, at, iter(near[following])))


def plies_of(cases: Iterable[ConnectionCase], number: str) -> tuple[tuple[ConnectionCase, PlacedPly], ...]:
    """A part's place in every one of these connections that it is in."""
    return tuple((c, p) for c in cases for p in c.plies if p.part.number == number)
