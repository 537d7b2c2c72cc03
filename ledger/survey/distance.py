"""
How far apart two points of a solved network are, straight or along an axis, and how sure that is.

U is for 95 % of a normal error, by the covariance of both points together (JCGM 100:2008, 5.2.2): two points that were
tied to each other are surer between them than either is on its axes. Where readings disagree U grows, as with points.
"""

from __future__ import annotations

import math

import numpy as np

from ledger.domain.errors import UnknownName
from ledger.survey.adjust import covariance, system_of
from ledger.survey.start import held_by_datum
from ledger.survey.worth import Solution, widened

_K = 1.959964  # the normal factor for 95 %


def apart(solution: Solution, a: str, b: str, axis: int | None = None) -> tuple[float, float]:
    """The distance between two points and its U, mm; `axis` 0 for x, 1 for y. Raises UnknownName."""
    at = solution.network.place_of
    for name in (a, b):
        if name not in at:
            raise UnknownName("point", name, solution.network.points)
    places = np.array([p.at_mm for p in solution.points], dtype=float)
    between = places[at[a]] - places[at[b]]
    length = float(np.linalg.norm(between))
    way = between / max(length, 1e-9)
    if axis is not None:
        length, way = abs(float(between[axis])), np.eye(len(between))[axis]
    spread = covariance(system_of(solution.network, held_by_datum(solution.network)), places)
    dim = solution.network.dim
    slope = np.zeros(places.size)
    slope[at[a] * dim : (at[a] + 1) * dim] = way
    slope[at[b] * dim : (at[b] + 1) * dim] = -way
    variance = float(slope @ spread @ slope) * widened(solution.chi_square, solution.redundancy)
    return length, _K * math.sqrt(max(variance, 0.0))
