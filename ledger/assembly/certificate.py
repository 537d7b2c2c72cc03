"""
Why no poses leave more: weights and vectors of the links, and the bound that they make of all turns.

Weights L >= 0 with sum L share = 1 and vectors |u| <= L that are in balance at every body and point show, because
shifts cancel, that at ALL turns the margin is at most
    sum L room - sum Re(conj(u) (R a - S b)) + what slots add,
one sinusoid in the angle of each body. The vectors may as well turn with one body: seen from it, its own sinusoid is a
constant. Over an interval of each angle the greatest value of every sinusoid is known in closed form; slots are bounded
one by one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from ledger.assembly.links import Links
from ledger.fit.joint import Real
from ledger.fit.layout import Plane

UNSOUND: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Certificate:
    """Weights and vectors of every link, in the directions of body 0 of the links that it is of."""

    weights: Real
    vectors: Plane


@dataclass(frozen=True, slots=True)
class Bound:
    """`level` + sum Re(w waves) + sum |Re(w swings)| over bodies, w = exp(i angle); body 0 has no angle."""

    level_mm: float
    waves: Plane
    swings: Plane  # of slots
    swinging: Real  # whose slots these are

    def most_mm(self, low: Real, high: Real) -> float:
        """The greatest value with every angle (of every body but the first) within low and high."""
        value = self.level_mm + float(_peaks(self.waves[1:], low, high, period=2 * math.pi).sum())
        if len(self.swings):
            low, high = np.concatenate([[0.0], low]), np.concatenate([[0.0], high])
            at = self.swinging.astype(int)
            value += float(_peaks(self.swings, low[at], high[at], period=math.pi).sum())
        return value


def _peaks(waves: Plane, low: Real, high: Real, *, period: float) -> Real:
    """The greatest of Re(exp(i angle) wave) over each interval; of its absolute value where the period is half."""
    ahead = -np.angle(waves) - low
    wide = high - low
    ends = np.cos(ahead), np.cos(ahead - wide)
    if period < 4:  # noqa: PLR2004 - half a turn
        ends = np.abs(ends[0]), np.abs(ends[1])
    inside = np.mod(ahead, period) <= wide
    return np.asarray(np.abs(waves) * np.where(inside, 1.0, np.maximum(*ends)))


def balanced(links: Links, weights: Real, vectors: Plane) -> Certificate | None:
    """A certificate of what is nearly one: what rounding left of the balance is spread; None where nothing is left."""
    if not (np.isfinite(weights).all() and np.isfinite(vectors).all()):
        return None
    used = np.maximum(weights, 0)
    nodes = links.bodies + links.points
    rest = np.zeros(nodes, dtype=complex)
    np.add.at(rest, links.one, vectors)
    np.add.at(rest, links.other, -vectors)
    net = np.zeros((nodes, nodes))
    np.add.at(net, (links.one, links.one), used)
    np.add.at(net, (links.other, links.other), used)
    np.add.at(net, (links.one, links.other), -used)
    np.add.at(net, (links.other, links.one), -used)
    level = np.linalg.lstsq(net, np.column_stack([rest.real, rest.imag]), rcond=1e-13)[0]
    potential = level[:, 0] + 1j * level[:, 1]
    vectors = vectors - used * (potential[links.one] - potential[links.other])
    weights = np.maximum(used, np.abs(vectors))
    total = float((weights * links.share).sum())
    if not total > 0:
        return None
    return Certificate(weights / total, np.asarray(vectors / total))


def bound_of(links: Links, made: Certificate, least_mm: float) -> Bound | None:
    """
    The bound of a certificate, from it and the links alone; None where it is not sound.

    What rounding leaves of the sums that should be 0 is charged by how far a shift can be at poses with a margin of
    `least_mm` or more.
    """
    weights, vectors = made.weights, made.vectors
    if not (np.isfinite(weights).all() and np.isfinite(vectors).all()) or float(weights.min()) < 0:
        return None
    rest = np.zeros(links.bodies + links.points, dtype=complex)
    np.add.at(rest, links.one, vectors)
    np.add.at(rest, links.other, -vectors)
    off = abs(float((weights * links.share).sum()) - 1)
    over, unbalanced = float((np.abs(vectors) - weights).max()), float(np.abs(rest[1:]).max(initial=0.0))
    if max(off, over, unbalanced) > UNSOUND:
        return None
    far = float((np.abs(links.a) + np.abs(links.b) + np.abs(links.ha) + np.abs(links.hb)).sum())
    span = far + float(np.abs(links.room).sum()) + len(weights) * abs(least_mm)
    waves = np.zeros(links.bodies + links.points, dtype=complex)
    np.add.at(waves, links.one, -vectors.conj() * links.a)
    np.add.at(waves, links.other, vectors.conj() * links.b)
    level = (
        float((weights * links.room).sum())
        + (off + max(over, 0.0) * len(weights) + unbalanced * len(rest)) * span
    )
    level += float(waves[0].real)
    swings = np.concatenate([vectors.conj() * links.ha, vectors.conj() * links.hb])
    whose = np.concatenate([links.one, links.other])
    kept = np.flatnonzero(swings)
    return Bound(level, waves[: links.bodies], swings[kept], whose[kept].astype(float))
