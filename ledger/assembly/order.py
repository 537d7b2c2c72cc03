"""
An order in which connections can be tightened: at each, no part that blocks its tools is on yet.

Parts that are bolted together are one *group* from then on. A connection can be tightened as long as no part that
blocks it is in the group that it makes; groups may be built apart and be bolted together later.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Final

_MOST_LOOKED: Final = 20_000


@dataclass(frozen=True, slots=True)
class Order:
    """Connections in the order in which they are tightened; `stuck` are those that no order reaches, if `proven`."""

    names: tuple[str, ...] = ()
    stuck: tuple[str, ...] = ()
    proven: bool = True


def order_of(parts: Mapping[str, Collection[str]], blocked: Mapping[str, Collection[str]]) -> Order:
    """
    An order of all connections (their `parts`, and which parts each is `blocked` by), greedily with backtracking.

    Those that block nothing when they are made come as late as those that are blocked come early.
    """
    seen: set[frozenset[str]] = set()
    best: tuple[str, ...] = ()
    urgent = sorted(parts, key=lambda n: (not blocked.get(n), n))
    stack: list[tuple[str, ...]] = [()]
    while stack:
        done = stack.pop()
        if len(done) > len(best):
            best = done
        if len(done) == len(parts):
            return Order(done)
        if len(seen) > _MOST_LOOKED:
            return Order(best, tuple(n for n in urgent if n not in best), proven=False)
        if frozenset(done) in seen:
            continue
        seen.add(frozenset(done))
        groups = _groups(done, parts)
        able = [n for n in urgent if n not in done and _can(n, groups, parts, blocked)]
        stack += [(*done, n) for n in reversed(able)]
    return Order(best, tuple(n for n in urgent if n not in best))


def _groups(done: Collection[str], parts: Mapping[str, Collection[str]]) -> list[frozenset[str]]:
    """The parts that are bolted together by these connections."""
    groups: list[frozenset[str]] = []
    for name in done:
        own = frozenset(parts[name])
        met = [g for g in groups if g & own]
        groups = [g for g in groups if not g & own] + [own.union(*met)]
    return groups


def _can(
    name: str,
    groups: Collection[frozenset[str]],
    parts: Mapping[str, Collection[str]],
    blocked: Mapping[str, Collection[str]],
) -> bool:
    own = frozenset(parts[name])
    made = own.union(*(g for g in groups if g & own))
    return not made & frozenset(blocked.get(name, ()))
