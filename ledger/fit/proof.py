"""
Whether certificates prove a margin, worked out independently of the solver.

Everything is recomputed in mm from the cores, the takes up, the weights and the vectors alone. Each certificate must
be sound: weights >= 0 with sum 1, vectors no longer than 1, their weighted sum 0 (what rounding leaves of it is
charged against the bound). Its bound exceeds a level on a few open *arcs* of angle. The margin is proven when no
angle lies on an arc of every certificate. If some angle did, the common set, open as it is, would begin where one of
the arcs begins: so only the arcs' ends need be looked at, each for another bound that lies lower by a clear step.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np

from ledger.fit.joint import Real
from ledger.fit.layout import Core
from ledger.fit.minimax import Certificate

UNIT: Final = 1e-12
CLEAR_STEP: Final = 0.25  # of the tolerance; the solver leaves half of it


@dataclass(frozen=True, slots=True)
class _Bound:
    """The greatest of (level + x cos + y sin) over its rows."""

    level: float
    x: Real
    y: Real

    def at(self, angles: Real) -> Real:
        return np.asarray(
            self.level + (np.outer(np.cos(angles), self.x) + np.outer(np.sin(angles), self.y)).max(axis=1)
        )

    def ends(self, level: float) -> list[float]:
        """Angles where one of the rows passes the level."""
        found: list[float] = []
        for x, y in zip(self.x, self.y, strict=True):
            high = math.hypot(x, y)
            if high > 0 and abs(level - self.level) < high:
                peak, half = math.atan2(y, x), math.acos((level - self.level) / high)
                found += [peak - half, peak + half]
        return found


def proves(
    cores_a: Sequence[Core],
    cores_b: Sequence[Core],
    take_up_mm: Sequence[float],
    certificates: Sequence[Certificate],
    *,
    turned_over: bool,
    margin_mm: float,
    tolerance_mm: float,
) -> bool:
    """Whether the certificates show that no rotation and shift of A has a margin above margin + tolerance."""
    limit_mm = margin_mm + tolerance_mm
    try:
        bounds = [_bound(cores_a, cores_b, take_up_mm, c, turned_over=turned_over) for c in certificates]
    except ValueError:
        return False
    if not math.isfinite(limit_mm):
        return False
    if any(b.level + float(np.hypot(b.x, b.y).max()) <= limit_mm for b in bounds):
        return True
    ends = np.array([end for b in bounds for end in b.ends(limit_mm)])
    owner = np.array([k for k, b in enumerate(bounds) for _ in b.ends(limit_mm)])
    if len(ends) == 0 or len(bounds) == 1:
        return False
    heights = np.array([b.at(ends) for b in bounds])
    heights[owner, np.arange(len(ends))] = math.inf  # at its own end a bound is level by definition
    return bool((heights.min(axis=0) <= limit_mm - CLEAR_STEP * tolerance_mm).all())


def _bound(
    cores_a: Sequence[Core],
    cores_b: Sequence[Core],
    take_up_mm: Sequence[float],
    certificate: Certificate,
    *,
    turned_over: bool,
) -> _Bound:
    """The bound in mm; raises ValueError where the certificate is not sound."""
    weights, rays = np.array(certificate.weights), np.array(certificate.rays)
    sound = (
        len(weights) == len(rays) == len(certificate.pairs) > 0
        and bool(np.isfinite(weights).all() and np.isfinite(rays).all())
        and float(weights.min()) >= 0
        and abs(float(weights.sum()) - 1) <= UNIT
        and float(np.abs(rays).max()) <= 1 + UNIT
    )
    left_over = abs(complex((weights * rays).sum())) if sound else 1.0
    if not sound or left_over > UNIT:
        raise ValueError("unsound certificate")
    sign = -1.0 if turned_over else 1.0
    home_a, home_b = _home(cores_a), _home(cores_b)
    level = x = y = 0.0
    swings: list[tuple[float, float]] = []
    for k, weight, ray in zip(certificate.pairs, weights, rays, strict=True):
        # u . R(t) a = (u . a) cos t + (u x a)' sin t; where u turns with A, u . R(t)' b likewise, t negated
        a, b = _middle(cores_a[k], home_a, sign), _middle(cores_b[k], home_b, 1.0)
        ((still, half), (moved, swung), way) = (a, b, -1.0) if certificate.turning else (b, a, 1.0)
        u, v = float(ray.real), float(ray.imag)
        level += weight * (
            take_up_mm[k] + way * (u * still[0] + v * still[1]) + abs(u * half[0] + v * half[1])
        )
        x -= way * weight * (u * moved[0] + v * moved[1])
        y -= weight * (v * moved[0] - u * moved[1])
        if swung != (0.0, 0.0):
            swings.append(
                (weight * (u * swung[0] + v * swung[1]), way * weight * (v * swung[0] - u * swung[1]))
            )
    level += 2 * left_over * (_span(cores_a, home_a) + _span(cores_b, home_b))
    signs = list(product((1.0, -1.0), repeat=len(swings)))
    xs = np.array([x + sum(s * p for s, (p, _) in zip(row, swings, strict=True)) for row in signs])
    ys = np.array([y + sum(s * q for s, (_, q) in zip(row, swings, strict=True)) for row in signs])
    return _Bound(float(level), xs, ys)


def _home(cores: Sequence[Core]) -> tuple[float, float]:
    """A place near the cores, so that numbers stay small: the mean of their ends."""
    ends = [p for core in cores for p in core]
    return math.fsum(p[0] for p in ends) / len(ends), math.fsum(p[1] for p in ends) / len(ends)


def _span(cores: Sequence[Core], home: tuple[float, float]) -> float:
    return max(math.dist(p, home) for core in cores for p in core)


def _middle(
    core: Core, home: tuple[float, float], sign: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Middle about `home` and half vector, y turned over where sign is -1."""
    (px, py), (qx, qy) = core[0], core[-1]
    middle = ((px + qx) / 2 - home[0], sign * ((py + qy) / 2 - home[1]))
    return middle, ((qx - px) / 2, sign * (qy - py) / 2)
