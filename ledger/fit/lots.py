"""
Lots of two plies drawn from what process or vendor holds: where each hole is, and how large it comes out.

A *lot* is one pair of plates as made. Each hole's true place strays by a normal error on x and on y, whose three sigma
(of a measured hole two: its uncertainty is expanded, k = 2) are half the diametral zone t: that of a plane then has a
radius of 3 sigma, which holds 98.9 % (Rayleigh), not 99.73 %. Each hole comes out smaller by a normal amount with the
mean of half the shrink and three sigma of the other half: its coat is lost in full. Holes are independent, and the
fastener is the largest of its size. That tolerances are three sigma is common practice, no source; all of it leans to
the safe side, against a process that is centred on what is drawn.

The draws are made of the raw stream of PCG64, which numpy keeps the same from version to version, by the inverse of
the normal distribution.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from ledger.domain.shape import Hole
from ledger.fit.case import Fastening, Ply
from ledger.fit.joint import SAME_MM, Real, clears, take_up_mm
from ledger.fit.layout import Plane, as_plane

LOTS: Final = 20_000
FEWER_LOTS: Final = 4_000  # of more holes than MANY: still enough to show 99.9 %
MANY: Final = 24
SIZE_SIGMAS: Final = 3.0


@dataclass(frozen=True, slots=True)
class PairMade:
    """A hole of A and its counterpart of B with what fastens them."""

    a: Hole
    b: Hole
    fastening: Fastening


@dataclass(frozen=True, slots=True)
class Lots:
    """
    Lots side by side: middles of both plies (lots x pairs, complex, mm), half vectors of slots (pairs), takes up.

    Where a clearance hole does not let the fastener through by itself, the take up is negative.
    """

    a: Plane
    b: Plane
    ha: Plane
    hb: Plane
    c: Real

    @property
    def slotted(self) -> bool:
        return bool(self.ha.any() or self.hb.any())

    def only(self, rows: npt.NDArray[np.intp] | slice) -> Lots:
        """Some of the lots."""
        return replace(self, a=self.a[rows], b=self.b[rows], c=self.c[rows])


@dataclass(frozen=True, slots=True)
class Draws:
    """Standard normal numbers, lots x pairs: errors of place (complex) and of size of both plies."""

    place_a: Plane
    place_b: Plane
    size_a: Real
    size_b: Real

    @staticmethod
    def of(pairs: Sequence[PairMade], lots: int = 0) -> Draws:
        """The draws for these pairs: the same pairs and tolerances always get the same."""
        from scipy.special import ndtri

        n = len(pairs)
        lots = lots or (LOTS if n <= MANY else FEWER_LOTS)
        raw = np.random.PCG64(_seed(pairs)).random_raw(6 * lots * n)
        even = ((raw >> np.uint64(11)).astype(float) + 0.5) * 2.0**-53
        z = np.asarray(ndtri(even)).reshape(6, lots, n)
        return Draws(z[0] + 1j * z[1], z[2] + 1j * z[3], z[4], z[5])

    def first(self, lots: int) -> Draws:
        """The first lots."""
        return Draws(self.place_a[:lots], self.place_b[:lots], self.size_a[:lots], self.size_b[:lots])


def made(pairs: Sequence[PairMade], draws: Draws, larger_mm: float = 0.0) -> Lots:
    """The lots of these pairs; with `larger_mm` every clearance hole is drawn so much larger in diameter."""
    a, ha = as_plane([p.a.core for p in pairs])
    b, hb = as_plane([p.b.core for p in pairs])
    spread_a = np.array([spread_mm(p.fastening.a) for p in pairs])
    spread_b = np.array([spread_mm(p.fastening.b) for p in pairs])
    c = np.empty(draws.size_a.shape)
    for k, pair in enumerate(pairs):
        f = pair.fastening
        bolt = f.fastener_mm + f.thicker_mm
        open_b = larger_mm if clears(f.joint, "b") else 0.0
        ra = radii(pair.a.diameter_mm + larger_mm, f.a, draws.size_a[:, k])
        rb = radii(pair.b.diameter_mm + open_b, f.b, draws.size_b[:, k])
        lack = ra - bolt / 2
        if clears(f.joint, "b"):
            lack = np.minimum(lack, rb - bolt / 2)
        c[:, k] = np.where(lack < -SAME_MM, np.minimum(lack, 0), take_up_mm(f.joint, ra, rb, bolt))
    return Lots(a + spread_a * draws.place_a, b + spread_b * draws.place_b, ha, hb, c)


def spread_mm(ply: Ply) -> float:
    """Standard deviation of a hole's place on x and on y."""
    return ply.position_mm / 2 / ply.sigmas


def radii(diameter_mm: float, ply: Ply, z: Real) -> Real:
    """Radii of a hole as made, mm, for standard normal numbers."""
    loss = max(0.0, ply.shrink_mm - ply.coat_mm)
    smaller = ply.coat_mm + loss / 2 + loss / 2 / SIZE_SIGMAS * z
    return np.asarray((diameter_mm - smaller) / 2)


def _seed(pairs: Sequence[PairMade]) -> int:
    """From what is drawn and what is held, so that the same case has the same lots on every machine."""
    told = [
        (
            *(round(x, 6) for h in (p.a, p.b) for end in h.core for x in end),
            *(round(h.diameter_mm, 6) for h in (p.a, p.b)),
            *(
                round(x, 6)
                for q in (p.fastening.a, p.fastening.b)
                for x in (q.position_mm, q.shrink_mm, q.coat_mm)
            ),
            round(p.fastening.fastener_mm + p.fastening.thicker_mm, 6),
            p.fastening.joint,
        )
        for p in pairs
    ]
    return int.from_bytes(hashlib.sha256(repr(told).encode()).digest()[:8], "big")


def finite(pairs: Sequence[PairMade]) -> bool:
    """Whether lots can be drawn of these pairs."""
    numbers = [
        n
        for p in pairs
        for q in (p.fastening.a, p.fastening.b)
        for n in (q.position_mm, q.shrink_mm, q.coat_mm)
    ]
    return bool(pairs) and all(map(math.isfinite, numbers))
