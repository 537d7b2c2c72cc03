"""
The best shift at one rotation.

For round holes, max over s of min_i (c_i - |v_i + s|) asks for the smallest circle that encloses discs (centres -v_i,
radii greater for smaller c_i): a problem with at most three *active* discs. It is solved by exchange: the disc that
sticks out farthest enters, the best circle of the at most four at hand stays, and circles only grow.
Slots make the offsets distances to parallelograms: still convex, solved by Newton steps on a smoothed maximum.
A *ray* u_i is the unit vector from B's core to A's: the direction in which e_i grows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations
from typing import Final

import numpy as np

from ledger.fit.joint import Real
from ledger.fit.layout import Layout, Plane, gaps

NOISE: Final = 1e-15
FITS: Final = 1e-13
EXCHANGES: Final = 80
THREE: Final = 3
FLAT, NEARLY_FLAT, SHORTEST, STRIDE = 1e-9, 0.05, 1e-8, 1000.0
SHORT, WARM = 1e-3, 1e-4
HOT: Final = 0.3
Disc = tuple[complex, float]
Circle = tuple[complex, float]


def best_shift(layout: Layout, angle: float, near: complex = 0j) -> complex:
    """The shift with the largest margin at this angle, in scaled units; `near` is a guess, used for slots."""
    if layout.slotted:
        return cooled(layout, angle, near, HOT, layout.tolerance / 50)
    turned = complex(math.cos(angle), math.sin(angle))
    centres = layout.b - turned * layout.a
    return enclosing(centres, float(layout.c.max()) - layout.c)[0]


def enclosing(centres: Plane, radii: Real) -> tuple[complex, tuple[int, ...]]:
    """
    Centre of the smallest circle around discs, and which discs (one to three) hold it; any unit, wherever they lie.

    It is sought around their middle and in units of their spread, for what counts as noise is a share of that. A
    length that all radii have in common moves nothing and is left out.
    """
    middle, least = complex(centres.mean()), float(radii.min())
    spread = float(np.abs(centres - middle).max() + (radii.max() - least))
    if not (math.isfinite(spread) and spread > 0):
        return complex(centres[0]), (0,)
    centre, held = _enclosing((centres - middle) / spread, (radii - least) / spread)
    return middle + spread * centre, held


def _enclosing(centres: Plane, radii: Real) -> tuple[complex, tuple[int, ...]]:
    """The same for discs around 0 of a spread near 1."""
    first = int(np.argmax(np.abs(centres - centres.mean()) + radii))
    held: tuple[int, ...] = (first,)
    centre, radius = complex(centres[first]), float(radii[first])
    for _ in range(EXCHANGES):
        out = np.abs(centres - centre) + radii
        worst = int(np.argmax(out))
        if out[worst] <= radius + NOISE or worst in held:
            break
        discs = {k: (complex(centres[k]), float(radii[k])) for k in (*held, worst)}
        found = _best_of(discs, worst)
        if found is None or found[1] <= radius:
            break
        centre, radius, held = found
    return centre, held


def _best_of(discs: dict[int, Disc], must: int) -> tuple[complex, float, tuple[int, ...]] | None:
    """The smallest circle held by `must` and at most two others that encloses all of these discs."""
    others = [k for k in discs if k != must]
    best: tuple[float, float, complex, tuple[int, ...]] | None = None
    for size in range(THREE):
        for some in combinations(others, size):
            held = (must, *some)
            for centre, radius in _held_by([discs[k] for k in held]):
                out = max(abs(q - centre) + r for q, r in discs.values()) - radius
                key = (max(out, FITS), radius)
                if best is None or key < best[:2]:
                    best = (*key, centre, held)
    return (best[2], best[1], best[3]) if best else None


def _held_by(discs: Sequence[Disc]) -> list[Circle]:
    """Circles that touch each of one, two or three discs from outside."""
    (p, a), *rest = discs
    if not rest:
        return [(p, a)]
    if len(rest) == 1:
        ((q, b),) = rest
        apart = abs(q - p)
        if apart <= abs(b - a):
            return []
        radius = (apart + a + b) / 2
        return [(p + (q - p) * ((radius - a) / apart), radius)]
    return _held_by_three(discs[0], discs[1], discs[2])


def _held_by_three(one: Disc, two: Disc, three: Disc) -> list[Circle]:
    """Apollonius: with r = R - a the differences of the three equations are linear, s = m + n r; then a quadratic."""
    (p, a), (q, b), (o, c) = one, two, three
    x, y = q - p, o - p
    det = x.real * y.imag - x.imag * y.real
    if abs(det) <= NOISE * abs(x) * abs(y):
        return []
    m = _solve(x, y, det, (abs(x) ** 2 - (b - a) ** 2) / 2, (abs(y) ** 2 - (c - a) ** 2) / 2)
    n = _solve(x, y, det, b - a, c - a)
    square, half, rest = abs(n) ** 2 - 1, (m * n.conjugate()).real, abs(m) ** 2
    under = half * half - square * rest
    if under < 0:
        return []
    big = -(half + math.copysign(math.sqrt(under), half))
    roots = [root for root in (_over(big, square), _over(rest, big)) if root is not None]
    return [(p + m + n * r, r + a) for r in roots if r >= max(0.0, b - a, c - a) - FITS]


def _solve(x: complex, y: complex, det: float, along_x: float, along_y: float) -> complex:
    """The point whose products with x and y are given."""
    return complex(along_x * y.imag - along_y * x.imag, along_y * x.real - along_x * y.real) / det


def _over(top: float, bottom: float) -> float | None:
    return top / bottom if abs(bottom) > NOISE * NOISE else None


def cooled(layout: Layout, angle: float, near: complex, hot: float, cold: float) -> complex:
    """Newton's method on t log sum exp((e_i - c_i) / t) while t falls; damped, so that it never climbs."""
    shift, heat = near, hot
    while heat > cold:
        heat = max(heat / 10, cold)
        level = FLAT if heat == cold else NEARLY_FLAT
        for _ in range(25):
            value, slope, step = _newton(layout, angle, shift, heat)
            size = min(1.0, STRIDE * heat / max(abs(step), NOISE))
            shortest = size * (SHORTEST if heat <= WARM else SHORT)
            while size > shortest and _value(layout, angle, shift + size * step, heat) > value + NOISE:
                size /= 3
            shift += size * step if size > shortest else 0
            if size <= shortest or abs(slope) < level or abs(step) * size < cold * 1e-3:
                break
    return shift


def _value(layout: Layout, angle: float, shift: complex, heat: float) -> float:
    gap = gaps(layout, angle, shift).gap
    level = (np.sqrt(np.abs(gap) ** 2 + heat**2) - layout.c) / heat
    top = float(level.max())
    return heat * (top + math.log(float(np.exp(level - top).sum())))


def _newton(layout: Layout, angle: float, shift: complex, heat: float) -> tuple[float, complex, complex]:
    """Smoothed value, its slope and the Newton step."""
    at = gaps(layout, angle, shift)
    square = np.abs(at.gap) ** 2
    far = np.sqrt(square + heat**2)
    level = (far - layout.c) / heat
    top = float(level.max())
    weight = np.exp(level - top)
    total = float(weight.sum())
    weight /= total
    x, y = at.gap.real / far, at.gap.imag / far
    slope = complex((weight * x).sum(), (weight * y).sum())
    # A corner's distance bends across its ray, an edge's does not; the smoothing bends both along it.
    across = np.where(
        at.corner, 1.0, np.where(square > 0, heat**2 / far**2 / np.maximum(x * x + y * y, NOISE), 0)
    )
    bend = weight / far
    along = np.where(at.corner, weight / heat - bend, weight / heat + bend * across)
    xx = float((along * x * x + bend * at.corner).sum()) - slope.real**2 / heat + NOISE
    yy = float((along * y * y + bend * at.corner).sum()) - slope.imag**2 / heat + NOISE
    xy = float((along * x * y).sum()) - slope.real * slope.imag / heat
    det = xx * yy - xy * xy
    if det <= NOISE * NOISE:
        step = -slope * heat
    else:
        step = -complex(yy * slope.real - xy * slope.imag, xx * slope.imag - xy * slope.real) / det
    return heat * (top + math.log(total)), slope, step
