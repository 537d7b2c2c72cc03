"""
How large a slip in one reading could go unseen, and how far it would move a point.

Source: reliability of geodetic networks (Baarda 1968, A testing procedure for use in geodetic networks). With a test at
0.1 % and a slip that is to be found four times in five, the distribution's shift is 4.13 standard deviations; a slip
shows by the reading's share of redundancy only, so it must be 4.13 u / sqrt(share) to be found.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from ledger.survey.adjust import covariance, jacobian, system_of
from ledger.survey.network import Mark, Tie
from ledger.survey.start import held_by_datum
from ledger.survey.worth import Solution, inner

SHIFT: Final = 4.13


@dataclass(frozen=True, slots=True)
class Unseen:
    """The slip in one reading, mm, that may go unseen, and the point that it moves the most, by how much, mm."""

    reading: Tie | Mark
    slip_mm: float
    point: str
    moves_mm: float

    @property
    def words(self) -> str:
        """In words, for the person with the tape."""
        return (
            f"a slip of up to {self.slip_mm:.1f} mm in {self.reading.words} would not show; it moves {self.point} by "
            f"up to {self.moves_mm:.1f} mm"
        )


def unseen_slip(solution: Solution) -> Unseen | None:
    """The slip of a checked reading that harms a point most and may go unseen; None where no reading is checked."""
    if not solution.points:
        return None
    network = solution.network
    system = system_of(network, held_by_datum(network))
    places = np.array([p.at_mm for p in solution.points], dtype=float)
    spread = covariance(system, places)
    slope = jacobian(system, places)
    moved = spread @ slope.T  # how a slip of one standard uncertainty moves every coordinate
    if system.held.any():
        moved = inner(places) @ moved
    rows = [(x, [k]) for k, x in enumerate(solution.left[: len(network.ties)])]
    for k, x in enumerate(solution.left[len(network.ties) :]):
        start = len(network.ties) + k * network.dim
        rows.append((x, list(range(start, start + network.dim))))
    worst: Unseen | None = None
    for left, some in rows:
        if left.share <= 0:
            continue
        times = SHIFT / math.sqrt(left.share)
        way = np.linalg.norm(moved[:, some].reshape(system.count, network.dim, -1), axis=(1, 2)) * times
        point = int(way.argmax())
        if worst is None or way[point] > worst.moves_mm:
            worst = Unseen(left.reading, times * left.reading.u_mm, network.points[point], float(way[point]))
    return worst
