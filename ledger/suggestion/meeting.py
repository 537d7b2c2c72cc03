"""
In which ways the holes of two patterns meet, and how likely that is chance.

A *way* is a set of holes of either plate that meet at one pose. Patterns that meet in several ways with as many holes
(one square of four on a row of squares) leave it open which is meant; a pattern that only turns in itself is one way.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import comb
from typing import Final

import numpy as np

from ledger.fit.chance import CLOSE_MM, FEWEST, Chance, met_besides
from ledger.fit.layout import Plane
from ledger.fit.pairing import Pairing, Plates, find_pairings, mutual_nearest
from ledger.suggestion.patterns import Pattern

MOST_REFINED: Final = 400
WAYS_UP: Final = (False, True)


@dataclass(frozen=True, slots=True)
class Way:
    """
    Holes that meet (index in A, index in B) where A is turned over or not, turned and shifted: w z + s.

    `off` are pairs that are meant to meet, too, but one of the two is drawn at a wrong place.
    """

    pairs: tuple[tuple[int, int], ...]
    turned_over: bool
    turn: complex
    shift: complex
    off: tuple[tuple[int, int], ...] = ()

    @property
    def meant(self) -> tuple[tuple[int, int], ...]:
        """Those that meet and those that are off."""
        return (*self.pairs, *self.off)

    def placed(self, z: Plane) -> Plane:
        """Points of A where they come to lie on B."""
        return self.turn * (z.conj() if self.turned_over else z) + self.shift


@dataclass(frozen=True, slots=True)
class Meeting:
    """
    The ways in which most holes meet, and how many such agreements chance makes.

    `by_holes`: of holes spread as these are; `on_grids`: of drawings on one grid, too.
    """

    ways: tuple[Way, ...]
    by_holes: float
    on_grids: float
    complete: bool

    @property
    def agreeing(self) -> int:
        """How many holes meet."""
        return len(self.ways[0].pairs)


def meeting(a: Pattern, b: Pattern, shared: int) -> Meeting | None:
    """
    How most holes of two patterns meet within what drawings of one hole differ by; None where chance would do it.

    `shared` is how many triangles of holes they share at most: so many holes that meet make so many, or more.
    """
    chance = Chance(a.points, b.points, len(WAYS_UP))
    least = max(FEWEST, chance.fewest_claimed())
    if least > min(len(a.points), len(b.points)) or comb(least, 3) > shared:
        return None
    every = np.full((len(a.points), len(b.points)), CLOSE_MM)
    search = find_pairings(Plates(a.points, b.points, every, every), WAYS_UP, least, MOST_REFINED)
    ways = [w for p in search.pairings if (w := _way(a.points, b.points, p)) is not None]
    most = max((len(w.pairs) for w in ways), default=0)
    if most < least:
        return None
    best = _different([w for w in ways if len(w.pairs) == most])
    first = best[0]
    on_grids = chance.expected(
        most, CLOSE_MM, lambda: met_besides(first.placed(a.points), b.points, first.pairs, CLOSE_MM)
    )
    best = tuple(replace(w, off=_off(a, b, w)) for w in best)
    return Meeting(best, chance.expected(most, CLOSE_MM), on_grids, search.complete)


def _way(a: Plane, b: Plane, found: Pairing) -> Way | None:
    """The pairs that meet where all of them lie nearest to each other in the sum of squares."""
    i, k = np.array(found.pairs, dtype=np.intp).reshape(-1, 2).T
    laid = a.conj() if found.turned_over else a
    total = complex(((laid[i] - laid[i].mean()).conj() * (b[k] - b[k].mean())).sum())
    if abs(total) <= 0:
        return None
    turn = total / abs(total)
    shift = complex(b[k].mean() - turn * laid[i].mean())
    off = np.abs(turn * laid[i] + shift - b[k])
    pairs = tuple(p for p, x in zip(found.pairs, off.tolist(), strict=True) if x <= CLOSE_MM)
    return Way(pairs, found.turned_over, turn, shift)


def _off(a: Pattern, b: Pattern, way: Way) -> tuple[tuple[int, int], ...]:
    """
    Holes left over in both patterns that are each other's nearest, no farther apart than the larger one is wide.

    Only where with them all holes of one pattern have a counterpart: else they may well be for something else.
    """
    i = [k for k in range(len(a.points)) if k not in {pair[0] for pair in way.pairs}]
    k = [j for j in range(len(b.points)) if j not in {pair[1] for pair in way.pairs}]
    if not i or not k:
        return ()
    apart = np.abs(way.placed(a.points[i])[:, None] - b.points[k][None, :])
    limit = np.full(apart.shape, max(a.diameter_mm, b.diameter_mm))
    off = tuple((i[x], k[y]) for x, y in mutual_nearest(apart, limit))
    return off if len(way.pairs) + len(off) == min(len(a.points), len(b.points)) else ()


def _different(ways: list[Way]) -> tuple[Way, ...]:
    """One way for each two sets of holes, not turned over where it goes so, in order of the holes."""
    first: dict[tuple[tuple[int, ...], tuple[int, ...]], Way] = {}
    for way in sorted(ways, key=lambda w: (w.turned_over, abs(np.angle(w.turn)))):
        sets = tuple(sorted(i for i, _ in way.pairs)), tuple(sorted(k for _, k in way.pairs))
        first.setdefault(sets, way)
    return tuple(first[sets] for sets in sorted(first))
