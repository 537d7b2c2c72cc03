"""
A local optimum of the pose of round holes, with weights that often prove it the global one.

Newton steps on the *excess* g_i = e_i - c_i: near a pose each g_i is a plane in (angle, x, y), and all share the
bend of their weighted sum. The greatest of the planes plus the bend is least where at most four *active* pairs hold
it; their weights balance in force and moment. They are exchanged one at a time until no pair is above.

A certificate with these weights is a wave that is stationary at the pose. Where the wave has its peak there, with the
vectors fixed or turning with A, nothing on the whole circle is better: one certificate is the whole proof.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from ledger.fit.joint import Real
from ledger.fit.layout import Layout, Plane

STEPS: Final = 24
EXCHANGES: Final = 40
FULL: Final = 4
STILL: Final = 1e-15
STIFF: Final = 1e-5  # of the bend, added to it where it is flat
Triple = tuple[float, float, float]


@dataclass(slots=True)
class Held:
    """The active pairs, their weights, and the rays of all pairs at the pose."""

    angle: float
    shift: complex
    excess: float
    pairs: list[int]
    weights: list[float]
    rays: Plane


class Astray(ArithmeticError):
    """No local optimum is found this way: a pair at offset 0, a bend the wrong way, no end of exchanges."""


def descend(layout: Layout, angle: float, near: float, enough: float = math.inf) -> Held | None:
    """
    From this angle to the local optimum, within `near` of its excess; None where that fails.

    Stops early, without pairs, where the margin reaches `enough`.
    """
    try:
        return _descend(layout, angle, near, enough)
    except (Astray, ZeroDivisionError, OverflowError):
        return None


def _descend(layout: Layout, angle: float, near: float, enough: float) -> Held:
    a, b, c = layout.a, layout.b, layout.c
    turn = cmath.rect(1, angle)
    shift = complex((b - turn * a).sum()) / len(a)
    pairs: list[int] = []
    weights: list[float] = []
    before, step = math.inf, (0.0, 0.0, 0.0)
    for _ in range(STEPS):
        placed = turn * a
        gap = placed - b
        gap += shift
        offset = np.abs(gap)
        excess = offset - c
        if not offset.all():
            offset = np.maximum(offset, 1e-300)
        rays = gap / offset
        arms = np.conj(rays)
        arms *= placed
        top = float(excess.max())
        if top <= -enough:
            return Held(angle, shift, top, [], [], rays)
        if top > before + STILL * 100:  # too far: half of the step back
            step = (step[0] / 2, step[1] / 2, step[2] / 2)
            angle -= step[0]
            turn = cmath.rect(1, angle)
            shift -= complex(step[1], step[2])
            continue
        before = top
        low = _factor(*(_bend if pairs else _first_bend)(excess, rays, arms, offset, pairs, weights))
        planes = _Planes(excess, rays, arms, placed, low, pairs, weights)
        step, level = planes.least()
        pairs, weights = planes.pairs, planes.weights
        if top - level <= near or max(map(abs, step)) <= STILL:
            return Held(angle, shift, top, pairs, weights, rays)
        angle += step[0]
        turn = cmath.rect(1, angle)
        shift += complex(step[1], step[2])
    raise Astray


def _first_bend(
    excess: Real, rays: Plane, arms: Plane, offset: Real, _pairs: list[int], _weights: list[float]
) -> tuple[list[float], float]:
    """The bend where the active pairs are not known yet: weights fall off from the greatest excess."""
    top = excess.max()
    weight = np.exp((excess - top) * (4 / max(float(top - excess.mean()), 1e-300)))
    weight /= weight.sum()
    across = np.array([arms.real, -rays.imag, rays.real])
    bend = ((across * (weight / offset)) @ across.T).tolist()
    return [bend[0][0], *bend[1][:2], *bend[2]], float(weight @ arms.real)


def _bend(
    _excess: Real, rays: Plane, arms: Plane, offset: Real, pairs: list[int], weights: list[float]
) -> tuple[list[float], float]:
    """
    Second derivatives of the weighted sum of offsets in (angle, x, y): the lower triangle, row by row.

    Apart from it what is taken from the first, since holes turn on circles.
    """
    tt = xt = xx = yt = yx = yy = less = 0.0
    for k, weight in zip(pairs, weights, strict=True):
        ray, arm, share = complex(rays[k]), arms[k].real.item(), weight / offset[k].item()
        x, y = -ray.imag, ray.real
        tt += share * arm * arm
        xt += share * arm * x
        yt += share * arm * y
        xx += share * x * x
        yx += share * x * y
        yy += share * y * y
        less += weight * arm
    return [tt, xt, xx, yt, yx, yy], less


def _factor(bend: list[float], less: float) -> list[float]:
    """Cholesky's lower triangle of a bend, a little stiffened; without what is taken from it where it would tip."""
    return _triangle(bend, less) or _triangle(bend, 0.0) or _astray()


def _triangle(bend: list[float], less: float) -> list[float] | None:
    tt, xt, xx, yt, yx, yy = bend
    more = STIFF * (tt + xx + yy)
    tt, xx, yy = tt + more - less, xx + more, yy + more
    if not tt > 0:
        return None
    l00 = math.sqrt(tt)
    l10, l20 = xt / l00, yt / l00
    d = xx - l10 * l10
    if not d > 0:
        return None
    l11 = math.sqrt(d)
    l21 = (yx - l20 * l10) / l11
    d = yy - l20 * l20 - l21 * l21
    return [l00, l10, l11, l20, l21, math.sqrt(d)] if d > 0 else None


def _astray() -> list[float]:
    raise Astray


@dataclass(slots=True)
class _Planes:
    """Excess as planes about a pose, and the ones that hold: pair, weight, level and slope (where the bend is 1)."""

    excess: Real
    rays: Plane
    arms: Plane
    placed: Plane
    low: list[float]
    pairs: list[int]
    weights: list[float]
    levels: list[float] = field(default_factory=list)
    slopes: list[Triple] = field(default_factory=list)

    def take(self, k: int) -> None:
        """The level and slope of one more pair."""
        l00, l10, l11, l20, l21, l22 = self.low
        ray, arm = complex(self.rays[k]), complex(self.arms[k])
        y0 = -arm.imag / l00
        y1 = (ray.real - l10 * y0) / l11
        self.slopes.append((y0, y1, (ray.imag - l20 * y0 - l21 * y1) / l22))
        self.levels.append(self.excess[k].item())

    def drop(self, place: int) -> None:
        """Let go of one."""
        del self.pairs[place], self.weights[place], self.levels[place], self.slopes[place]

    def least(self) -> tuple[Triple, float]:
        """Where the greatest of the planes plus the bend is least: the step there and its level."""
        if not self.pairs:
            self.pairs, self.weights = [int(self.excess.argmax())], [1.0]
        for k in self.pairs:
            self.take(k)
        for _ in range(EXCHANGES):
            self.weigh()
            step, level = self.lowest()
            planes = self.excess + (self.rays.conj() * (1j * step[0] * self.placed + complex(*step[1:]))).real
            worst = int(planes.argmax())
            if worst in self.pairs or planes[worst].item() <= level + STILL:
                return step, level
            self.pairs.append(worst)
            self.weights.append(0.0)
            self.take(worst)
            if len(self.pairs) > FULL:
                self.pivot()
        raise Astray

    def weigh(self) -> None:
        """The weights that balance; pairs that would pull are let go of."""
        while True:
            expected = _balanced(self.levels, self.slopes)
            if min(expected) >= 0:
                self.weights = expected
                return
            both = list(zip(self.weights, expected, strict=True))
            part, out = min((w / (w - v), k) for k, (w, v) in enumerate(both) if v < 0)
            self.weights = [w + part * (v - w) for w, v in both]
            self.drop(out)

    def lowest(self) -> tuple[Triple, float]:
        """The step to where the planes that hold are level, and that level."""
        l00, l10, l11, l20, l21, l22 = self.low
        z0 = z1 = z2 = level = 0.0
        for w, g, (y0, y1, y2) in zip(self.weights, self.levels, self.slopes, strict=True):
            z0 += w * y0
            z1 += w * y1
            z2 += w * y2
            level += w * g
        s2 = -z2 / l22
        s1 = (-z1 - l21 * s2) / l11
        s0 = (-z0 - l10 * s1 - l20 * s2) / l00
        return (s0, s1, s2), level - (z0 * z0 + z1 * z1 + z2 * z2)

    def pivot(self) -> None:
        """A fifth pair takes over the weight of one of the four."""
        o = self.slopes[0]
        d = [(y[0] - o[0], y[1] - o[1], y[2] - o[2]) for y in self.slopes[1:]]
        x = _shares(d[:3], d[3])
        made = [1 - sum(x), *x]
        part, out = min((w / m, k) for k, (w, m) in enumerate(zip(self.weights, made, strict=False)) if m > 0)
        for k, m in enumerate(made):
            self.weights[k] -= part * m
        self.weights[FULL] = part
        self.drop(out)


def _balanced(levels: list[float], slopes: list[Triple]) -> list[float]:
    """Weights (sum 1, any sign) with which one to four planes are level at the least point of theirs."""
    if len(levels) == 1:
        return [1.0]
    (o0, o1, o2), home = slopes[0], levels[0]
    d = [(y0 - o0, y1 - o1, y2 - o2) for y0, y1, y2 in slopes[1:]]
    r = [g - home - (x0 * o0 + x1 * o1 + x2 * o2) for g, (x0, x1, x2) in zip(levels[1:], d, strict=True)]
    if len(d) == FULL - 1:
        x = _shares(d, _lift(d, r))
    elif len(d) == 1:
        x = [r[0] / _dot(d[0], d[0])]
    else:
        x = _two_shares(d[0], d[1], r)
    return [1 - sum(x), *x]


def _two_shares(p: Triple, q: Triple, r: list[float]) -> list[float]:
    """The shares of two vectors in the vector of their plane whose products with them are given; by QR."""
    long = math.sqrt(_dot(p, p))
    u = (p[0] / long, p[1] / long, p[2] / long)
    along = _dot(u, q)
    v = (q[0] - along * u[0], q[1] - along * u[1], q[2] - along * u[2])
    square = _dot(v, v)
    y = (r[1] - along * r[0] / long) / square
    return [(r[0] / long - along * y) / long, y]


def _lift(d: list[Triple], r: list[float]) -> Triple:
    """The vector whose products with three others are given."""
    (ax, ay, az), (bx, by, bz), (cx, cy, cz) = d
    p = (by * cz - bz * cy, bz * cx - bx * cz, bx * cy - by * cx)
    q = (cy * az - cz * ay, cz * ax - cx * az, cx * ay - cy * ax)
    o = (ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx)
    det = ax * p[0] + ay * p[1] + az * p[2]
    r0, r1, r2 = (x / det for x in r)
    return (
        r0 * p[0] + r1 * q[0] + r2 * o[0],
        r0 * p[1] + r1 * q[1] + r2 * o[1],
        r0 * p[2] + r1 * q[2] + r2 * o[2],
    )


def _shares(d: list[Triple], v: Triple) -> list[float]:
    """How much of each of three vectors makes up another."""
    (ax, ay, az), (bx, by, bz), (cx, cy, cz) = d
    p = (by * cz - bz * cy, bz * cx - bx * cz, bx * cy - by * cx)
    q = (cy * az - cz * ay, cz * ax - cx * az, cx * ay - cy * ax)
    o = (ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx)
    det = ax * p[0] + ay * p[1] + az * p[2]
    return [_dot(p, v) / det, _dot(q, v) / det, _dot(o, v) / det]


def _dot(x: Triple, y: Triple) -> float:
    return x[0] * y[0] + x[1] * y[1] + x[2] * y[2]
