"""
Whether so many holes could agree by chance.

Two plates with many holes always share a few distances. Lay one pair of P's holes on one pair of Q's at the same
distance: of P's other holes each then meets some hole of Q by chance with probability p. The expected number of such
poses in which k holes agree is (pairs of pairs at the same distance) x P(binomial >= k - 2), over the k (k - 1) / 2
pairs that find each pose. Pairs of pairs are counted, as regular patterns repeat distances, less those that the k
holes themselves make; at least as many as random distances would give. Below `CLAIM` the pattern is claimed.

p is that of holes spread evenly over what Q's holes span, m pi c² / area, or what these two drawings show, whichever
is more: holes drawn on a grid meet far more often. Shift P over Q without turning it: wherever one hole meets one that
is not its partner, count how many others meet there, too (`met_besides`). Where most of P lies beside Q few can: so the
share of those that do lie over Q must not make all k agree by chance in any of the four ways that grids lie over each
other, either, however few such places the pairs of pairs count; unless Q has hardly more holes than these.

c is how closely the holes agree, not how much they allow, so that a larger hole never makes an agreement doubtful.
Nothing here depends on where the drawings lie, how they are turned or which comes first. Own estimate, checked against
random plates and plates on grids in the tests.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from ledger.fit.layout import Plane
from ledger.fit.lengths import alike

CLAIM: Final = 0.01
FEWEST: Final = 3
CLOSE_MM: Final = 0.1  # what drawings that mean the same hole differ by; closer agreement proves no more
MOST_SHIFTS: Final = 40_000
DOUBT: Final = 2.0
ONE_PATTERN: Final = (
    0.8  # of a plate's holes: with so many in use it is the pattern, and no grid to choose from
)
QUARTERS: Final = 4  # ways in which a plate on a grid lies over another on the same


@dataclass(frozen=True, slots=True)
class _Spread:
    """Holes' middles, the area and the length of the rim of their hull, and the largest distance of two of them."""

    holes: Plane
    area_mm2: float
    rim_mm: float
    longest_mm: float

    @staticmethod
    def of(holes: Plane) -> _Spread:
        from scipy.spatial import ConvexHull, QhullError

        longest = float(max(np.abs(holes - x).max() for x in holes))
        try:
            hull = ConvexHull(np.column_stack([holes.real, holes.imag]))
            return _Spread(holes, float(hull.volume), float(hull.area), longest)
        except (QhullError, ValueError):  # fewer than three points, or all in a row
            return _Spread(holes, 0.0, 2 * longest, longest)

    def span_mm2(self, within: float) -> float:
        """The area of what they span and so much around it: that of the hull, its length times it, and a disc."""
        return self.area_mm2 + self.rim_mm * within + math.pi * within**2


@dataclass(frozen=True, slots=True)
class Besides:
    """
    Where one of P's holes meets one of Q's by chance, what share of P's others meets, too.

    Of all others, and of those that lie over what Q's holes span.
    """

    of_all: float
    of_those_over: float


@dataclass(slots=True)
class Chance:
    """The middles of both plies' holes, and in how many ways up A may lie."""

    a: Plane
    b: Plane
    ways_up: int
    _spreads: tuple[_Spread, _Spread] = field(init=False)

    def __post_init__(self) -> None:
        self._spreads = _Spread.of(self.a), _Spread.of(self.b)

    def expected(
        self,
        agreeing: int,
        within_mm: float,
        besides: Callable[[], tuple[Besides, Besides] | None] = lambda: None,
    ) -> float:
        """
        Expected number of poses in which at least so many holes agree so closely by chance.

        `besides` gives how many others meet where one meets by chance, as `met_besides` counts them.
        """
        if agreeing < FEWEST:
            return math.inf
        within = max(within_mm, CLOSE_MM)
        spread = self._expected(agreeing, within, None)
        return spread if spread >= CLAIM else max(spread, self._expected(agreeing, within, besides()))

    def _expected(self, agreeing: int, within: float, besides: tuple[Besides, Besides] | None) -> float:
        (a, b), (of_a, of_b) = self._spreads, besides or (None, None)
        orders = [(a, b, of_a)] * (len(self.a) <= len(self.b)) + [(b, a, of_b)] * (len(self.b) <= len(self.a))
        return max(self._of(p.holes, q, agreeing, within, of_p) for p, q, of_p in orders)

    def _of(self, p: Plane, on: _Spread, agreeing: int, within: float, besides: Besides | None) -> float:
        q = on.holes
        near = min(1.0, len(q) * math.pi * within**2 / on.span_mm2(within))
        longest = on.longest_mm + 2 * within
        random = math.comb(len(p), 2) * math.comb(len(q), 2) * min(1.0, 4 * within / longest)
        same = max(alike(p, q, 2 * within), random)
        found_by = math.comb(agreeing, 2)
        of_all = near if besides is None else max(near, besides.of_all)
        found = max(same - found_by, random) * 2 * self.ways_up / found_by
        expected = found * _tails(len(p) - 2, of_all)[agreeing - 2]
        if besides is None or agreeing >= ONE_PATTERN * len(q):
            return expected
        return max(expected, QUARTERS * self.ways_up * _tails(len(p), besides.of_those_over)[agreeing])

    def fewest_claimed(self) -> int:
        """The least number of holes that can be no chance, however closely they agree; else one more than there are."""
        n = min(len(self.a), len(self.b))
        found = (k for k in range(FEWEST, n + 1) if self.expected(k, CLOSE_MM) < CLAIM)
        return next(found, n + 1)


def met_besides(
    placed: Plane, b: Plane, pairs: Sequence[tuple[int, int]], within_mm: float
) -> tuple[Besides, Besides]:
    """
    How many other holes meet where A's at these places are shifted until one meets a stranger: of A's, and of B's.

    Strangers are two holes that are not both among the pairs (index in A, index in B). A count of few is in doubt:
    `DOUBT` standard deviations (of a Poisson count) are added.
    """
    from scipy.spatial import cKDTree

    shifts = (b[None, :] - placed[:, None]).ravel()
    stranger = np.ones((len(placed), len(b)), dtype=bool)
    i, k = np.array(pairs, dtype=np.intp).reshape(-1, 2).T
    stranger[np.ix_(i, k)] = False
    some = shifts[stranger.ravel()]
    if not len(some):
        return Besides(0.0, 0.0), Besides(0.0, 0.0)
    some = some[:: math.ceil(len(shifts) * len(some) / MOST_SHIFTS**1.5)]
    asked, every = (np.column_stack([z.real, z.imag]) for z in (some, shifts))
    met = cKDTree(every).query_ball_point(asked, 2 * within_mm, return_length=True).sum() - len(asked)
    return (
        _besides(float(met), _over(placed[None, :] + some[:, None], b, within_mm), len(placed)),
        _besides(float(met), _over(b[None, :] - some[:, None], placed, within_mm), len(b)),
    )


def _besides(met: float, over: npt.NDArray[np.intp], holes: int) -> Besides:
    """Of so many holes, so many of which lie over the other plate's in each place; one meets, and others in all."""
    every, those_over = len(over) * max(holes - 1, 1), max(int((over - 1).sum()), 1)
    return Besides(min(1.0, (met + DOUBT * math.sqrt(met)) / every), min(1.0, met / those_over))


def _over(placed: Plane, q: Plane, within_mm: float) -> npt.NDArray[np.intp]:
    """How many of the holes, placed once in every row, lie over what these span, or so near."""
    from scipy.spatial import ConvexHull, QhullError

    corners = np.column_stack([q.real, q.imag])
    try:
        walls = ConvexHull(corners).equations
    except (QhullError, ValueError):  # fewer than three points, or all in a row: a box along them
        way = complex(q[np.abs(q - q[0]).argmax()] - q[0]) or 1.0
        turned = q * np.conj(way) / abs(way)
        ends = [(1j**k, float((turned / 1j**k).real.max())) for k in range(4)]
        normals = [(side * way / abs(way), -most) for side, most in ends]
        walls = np.array([(n.real, n.imag, away) for n, away in normals])
    inside = np.ones(placed.shape, dtype=bool)
    for x, y, away in walls:
        inside &= placed.real * x + placed.imag * y + away <= within_mm
    return np.asarray(inside.sum(axis=1))


@lru_cache(maxsize=64)
def _tails(trials: int, p: float) -> tuple[float, ...]:
    from scipy.special import gammaln

    if p <= 0 or p >= 1 or trials <= 0:
        return tuple(1.0 if k == 0 or (p >= 1 and k <= trials) else 0.0 for k in range(max(trials, 0) + 2))
    k = np.arange(trials + 1)
    ways = gammaln(trials + 1) - gammaln(k + 1) - gammaln(trials - k + 1)
    each = np.exp(ways + k * math.log(p) + (trials - k) * math.log1p(-p))
    return (*np.cumsum(each[::-1])[::-1].tolist(), 0.0)
