"""
Third parts that two plies of a mate are both bolted to: by two mates, one of each ply, that lie around it.

The same is seen from one of the two bolted mates: then the weld and the other bolted mate lie around it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations, product

from ledger.checks._case import MateCase, PlacedPly
from ledger.domain.mated import WELDED

_BOTH = 2


@dataclass(frozen=True)
class Spanning:
    """Two bolted mates with one ply each, at `places` in them, and in each the same third part."""

    first: MateCase
    second: MateCase
    places: tuple[int, int]

    @property
    def through(self) -> PlacedPly:
        """The third part in the first mate."""
        return self.first.plies[1 - self.places[0]]

    @property
    def through_second(self) -> PlacedPly:
        """The third part in the second mate."""
        return self.second.plies[1 - self.places[1]]


def across_welds(case: MateCase) -> Iterator[tuple[MateCase, Spanning]]:
    """For a bolted mate: every weld of which it holds one part on a third, and another bolted mate the other part."""
    if case.mate.kind == "bolted" and len(case.plies) == _BOTH:
        near = case.around().mates
        for weld in (m for m in near if m.mate.kind in WELDED):
            for span in _held(weld, [case, *_bolted(near)]):
                if case.mate.name in (span.first.mate.name, span.second.mate.name):
                    yield weld, span


def spanning(case: MateCase) -> Iterator[Spanning]:
    """Every pair of bolted mates that hold a third part from two plies of this one."""
    return _held(case, _bolted(case.around().mates))


def neighbours(case: MateCase) -> Iterator[Spanning]:
    """For a bolted mate: every other one that holds another part on one of its two parts."""
    if case.mate.kind == "bolted" and len(case.plies) == _BOTH:
        own = [p.part.number for p in case.plies]
        for other, place in product(_bolted(case.around().mates), (0, 1)):
            theirs = other.place_of(own[1 - place])
            if theirs is not None and other.plies[1 - theirs].part.number != own[place]:
                yield Spanning(case, other, (place, 1 - theirs))


def _bolted(mates: Iterable[MateCase]) -> list[MateCase]:
    return [m for m in mates if m.mate.kind == "bolted" and len(m.plies) == _BOTH]


def _held(case: MateCase, near: list[MateCase]) -> Iterator[Spanning]:
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
