"""
Which bolted mates are one question, and which close a ring.

Mates that bolt the same two parts to each other leave them one pose, not one each; and plies on the same holes have the
same bolts. Mates that do either, and all that hang on them likewise, are *joined*: fitted together or not at all.
A *ring* goes from part to part through mates that are not joined, and comes back to where it began.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Mapping
from typing import get_args

from ledger.checks._case import MateCase, PlacedPly
from ledger.fit.joint import Joint

Ring = tuple[str, ...]


def is_fitted(case: MateCase) -> bool:
    """Whether the mate has bolts whose holes are made before it goes together."""
    return case.mate.kind == "bolted" and case.mate.joint in get_args(Joint)


def parts_of(case: MateCase) -> frozenset[str]:
    """The numbers of its parts."""
    return frozenset(p.part.number for p in case.plies)


def labels_of(case: MateCase, number: str) -> frozenset[str]:
    """The holes of a part that its bolts could go through."""
    return frozenset(h.label for p in case.plies if p.part.number == number for h in p.all_holes)


def linked(one: MateCase, other: MateCase) -> bool:
    """Whether two mates bolt the same two parts, or could go through the same holes of one."""
    if not (is_fitted(one) and is_fitted(other)):
        return False
    shared = parts_of(one) & parts_of(other)
    return len(shared) > 1 or any(labels_of(one, n) & labels_of(other, n) for n in shared)


def joined_with(case: MateCase, mates_at: Callable[[str], Iterable[MateCase]]) -> tuple[MateCase, ...]:
    """
    All mates that are one question with this one, by name, without it.

    `mates_at` gives the mates of a part.
    """
    found, left = {case.mate.name: case}, [case]
    while left:
        one = left.pop()
        for number in sorted(parts_of(one)):
            for other in mates_at(number):
                if other.mate.name not in found and linked(one, other):
                    found[other.mate.name] = other
                    left.append(other)
    return tuple(found[name] for name in sorted(found) if name != case.mate.name)


def ring_through(mates: Iterable[MateCase], bolted: Mapping[str, Iterable[tuple[str, Ring]]]) -> Ring:
    """
    The parts of a shortest ring that leaves these joined mates at one part and comes back at another; empty if none.

    `bolted` gives the bolted mates of every part: their names, and their parts.
    """
    own = {m.mate.name for m in mates}
    parts = sorted({n for m in mates for n in parts_of(m)})
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


def plies_of(cases: Iterable[MateCase], number: str) -> tuple[tuple[MateCase, PlacedPly], ...]:
    """A part's place in every one of these mates that it is in."""
    return tuple((c, p) for c in cases for p in c.plies if p.part.number == number)
