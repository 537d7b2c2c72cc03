"""
Whether so many holes could agree by chance.

Two plates with many holes always share a few distances. Lay one pair of P's holes on one pair of Q's at the same
distance: of P's other holes each then meets some hole of Q by chance with probability p = m pi c² / area. The
expected number of such poses in which k holes agree is (pairs of pairs at the same distance) x P(binomial >= k - 2),
over the k (k - 1) / 2 pairs that find each pose. Pairs of pairs are counted, as regular patterns repeat distances,
less those that the k holes themselves make; at least as many as random distances would give. Below `CLAIM` the
pattern is claimed. Own estimate, checked against random plates in the tests.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from scipy.special import gammaln

from ledger.fit.joint import Real
from ledger.fit.layout import Plane
from ledger.fit.lengths import alike

CLAIM: Final = 0.01
FEWEST: Final = 3


@dataclass(frozen=True, slots=True)
class Chance:
    """`n` holes of the smaller ply, `same` pairs of pairs as counted and `random` as chance would have them."""

    n: int
    same: int
    random: float
    ways: int
    p: float

    def expected(self, agreeing: int) -> float:
        """Expected number of poses in which at least so many holes agree by chance."""
        if agreeing < FEWEST:
            return math.inf
        tail = self._tails()[min(agreeing - 2, self.n - 1)]
        found_by = math.comb(agreeing, 2)
        return max(self.same - found_by, self.random) * self.ways * tail / found_by

    def _tails(self) -> tuple[float, ...]:
        """P(binomial >= k) for k from 0 to one more than can be."""
        return _tails(self.n - 2, self.p)

    def fewest_claimed(self) -> int:
        """The least number of agreeing holes that is no chance; one more than there are where none is enough."""
        found = (k for k in range(FEWEST, self.n + 1) if self.expected(k) < CLAIM)
        return next(found, self.n + 1)


@lru_cache(maxsize=64)
def _tails(trials: int, p: float) -> tuple[float, ...]:
    if p <= 0 or p >= 1 or trials <= 0:
        return tuple(1.0 if k == 0 or (p >= 1 and k <= trials) else 0.0 for k in range(max(trials, 0) + 2))
    k = np.arange(trials + 1)
    ways = gammaln(trials + 1) - gammaln(k + 1) - gammaln(trials - k + 1)
    each = np.exp(ways + k * math.log(p) + (trials - k) * math.log1p(-p))
    return (*np.cumsum(each[::-1])[::-1].tolist(), 0.0)


def chance_of(p: Plane, q: Plane, swallow: Real, flips: int) -> Chance:
    """From the smaller ply's middles `p`, the other's `q` and the swallow of every possible pair."""
    possible = swallow[swallow >= 0]
    typical = float(np.median(possible)) if possible.size else 0.0
    reach = max(typical, 1e-9)
    width, height = float(np.ptp(q.real)) + 2 * reach, float(np.ptp(q.imag)) + 2 * reach
    near = min(1.0, len(q) * math.pi * typical**2 / (width * height))
    pairs = math.comb(len(p), 2) * math.comb(len(q), 2)
    random = pairs * min(1.0, 4 * typical / math.hypot(width, height))
    return Chance(len(p), alike(p, q, 2 * typical), random, 2 * flips, near)
