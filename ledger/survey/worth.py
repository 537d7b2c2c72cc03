"""
What an answer of a network is worth: where each point is and how sure that is, and how far the readings agree.

A point's U is the radius that holds it with 95 %: *within the shape* (`u_shape_mm`, no point is taken for exact:
what a pattern that may still be shifted cares for) and *on the datum* (`u_datum_mm`: against the first points' axes).
Where the readings disagree by more than they claim, every U grows by as much.
Sources: least squares and its covariance as in any text on adjustment; the radius by matching two moments of a sum
of squares (as Welch and Satterthwaite do), exact for a circle and for a line.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ledger.survey.adjust import Array, System, covariance, jacobian, residuals
from ledger.survey.network import Mark, Network, Tie

LEVEL = 0.95
DOUBTFUL = 0.01  # readings that disagree by more than chance would in one case of a hundred do not agree
_CHECKED = 1e-6  # a reading with a smaller share of redundancy is checked by no other


@dataclass(frozen=True, slots=True)
class Placed:
    """A solved point: coordinates, and U (95 %, any direction) within the shape and on the datum, mm."""

    name: str
    at_mm: tuple[float, ...]
    u_shape_mm: float
    u_datum_mm: float


@dataclass(frozen=True, slots=True)
class Left:
    """
    What is left of a reading: as the points have it, less as read, mm.

    `share` is how much of an error in it would show (0: nothing checks it, 1: all of it); `off_mm` is how far it is
    off by all others; `times_sigma` how unlikely that is, as standard deviations of a normal error.
    """

    reading: Tie | Mark
    left_mm: float
    share: float
    off_mm: float
    times_sigma: float


@dataclass(frozen=True)
class Solution:
    """
    The answer, or what keeps it open.

    `free` names points that can move without any reading changing: then nothing is placed. `images` lists groups of
    points that could as well be turned over; `mirror` is whether the whole could.
    """

    network: Network
    free: tuple[str, ...] = ()
    points: tuple[Placed, ...] = ()
    left: tuple[Left, ...] = ()
    chi_square: float = 0.0
    redundancy: int = 0
    chance: float = 1.0
    images: tuple[tuple[str, ...], ...] = ()
    mirror: bool = False
    wrong_sides: tuple[str, ...] = ()

    @property
    def agrees(self) -> bool:
        """Whether the readings agree as well as they claim to."""
        return self.chance >= DOUBTFUL

    @property
    def settled(self) -> bool:
        """Whether the points are where they are, and nowhere else."""
        return bool(self.points) and not (self.images or self.mirror or self.wrong_sides)

    def point(self, name: str) -> Placed | None:
        """The solved point of that name."""
        return next((p for p in self.points if p.name == name), None)


def radius_95(spread: Array) -> float:
    """The radius that holds a normal error of this covariance with 95 %, by its first two moments."""
    from scipy.special import gammaincinv

    values = np.maximum(np.linalg.eigvalsh(spread), 0.0)
    total = float(values.sum())
    if total <= 0:
        return 0.0
    share = float((values**2).sum()) / total
    return math.sqrt(share * 2 * float(gammaincinv(total / share / 2, LEVEL)))


def widened(chi_square: float, redundancy: int) -> float:
    """By how much variances grow where the readings disagree by more than they claim."""
    if redundancy <= 0 or chance_of(chi_square, redundancy) >= DOUBTFUL:
        return 1.0
    return max(1.0, chi_square / redundancy)


def chance_of(chi_square: float, redundancy: int) -> float:
    """How often good readings would disagree by as much or more."""
    from scipy.special import gammaincc

    return float(gammaincc(redundancy / 2, chi_square / 2)) if redundancy > 0 else 1.0


def weighed(network: Network, system: System, places: Array) -> Solution:
    left = residuals(system, places)
    chi_square = float(left @ left)
    redundancy = system.rows - system.unknowns
    chance = chance_of(chi_square, redundancy)
    spread = covariance(system, places)
    datum = spread * widened(chi_square, redundancy)
    keep = inner(places) if system.held.any() else None
    shape = datum if keep is None else np.asarray(keep @ datum @ keep.T, dtype=float)
    placed = tuple(
        Placed(
            name,
            tuple(float(v) for v in places[k]),
            radius_95(block(shape, k, network.dim)),
            radius_95(block(datum, k, network.dim)),
        )
        for k, name in enumerate(network.points)
    )
    readings = _left(network, system, places, left, spread)
    return Solution(network, (), placed, readings, chi_square, redundancy, chance)


def _left(network: Network, system: System, places: Array, left: Array, spread: Array) -> tuple[Left, ...]:
    slope = jacobian(system, places)
    seen = ((slope @ spread) * slope).sum(axis=1)
    share = np.clip(1.0 - seen, 0.0, 1.0)
    found: list[Left] = []
    for k, tie in enumerate(network.ties):
        found.append(_one_left(tie, float(left[k]), float(share[k]), tie.u_mm))
    for k, mark in enumerate(network.marks):
        rows = slice(len(network.ties) + k * network.dim, len(network.ties) + (k + 1) * network.dim)
        worst = int(np.argmax(np.abs(left[rows]) / np.sqrt(np.maximum(share[rows], _CHECKED))))
        found.append(_one_left(mark, float(left[rows][worst]), float(share[rows][worst]), mark.u_mm))
    return tuple(found)


def _one_left(reading: Tie | Mark, left: float, share: float, u_mm: float) -> Left:
    if share < _CHECKED:
        return Left(reading, left * u_mm, 0.0, 0.0, 0.0)
    return Left(reading, left * u_mm, share, left * u_mm / share, abs(left) / math.sqrt(share))


def inner(places: Array) -> Array:
    """What a change of all coordinates leaves once the whole is laid back as well as it goes (S-transformation)."""
    count, dim = places.shape
    centred = places - places.mean(axis=0)
    ways = []
    for axis in range(dim):
        shift = np.zeros((count, dim))
        shift[:, axis] = 1.0
        ways.append(shift.ravel())
    for one in range(dim):
        for other in range(one + 1, dim):
            turn = np.zeros((count, dim))
            turn[:, one], turn[:, other] = -centred[:, other], centred[:, one]
            if np.any(turn):
                ways.append(turn.ravel())
    basis = np.linalg.qr(np.column_stack(ways))[0]
    return np.asarray(np.eye(count * dim) - basis @ basis.T, dtype=float)


def block(spread: Array, place: int, dim: int) -> Array:
    rows = slice(place * dim, (place + 1) * dim)
    return spread[rows, rows]
