"""
The pose that leaves the tightest hole the most room, and why no pose leaves it more.

*Margin* = max over angle and shift of min_i (c_i - e_i). At one angle the shift is a convex problem. Its dual is a
*certificate*: weights L_i >= 0 with sum 1 and vectors |u_i| <= 1 with sum L_i u_i = 0. Shifts cancel in it, so that
at EVERY angle the margin is at most sum L_i (c_i - u_i . (R a_i - b_i)): a *wave* (sinusoid) in the angle. A slot
of A in it makes the bound the greater of two waves a slot, since its core may lie either way along u. The vectors
may as well *turn* with A: then A's slots are fixed to them, and those of B make the bound the greater of two.
The lower envelope of the waves is kept. Its highest point is the only place where a better angle could be: the
margin there is evaluated exactly, its wave joins the envelope, and when the highest point is no higher than the
best margin found, that margin is the global one.
"""

from __future__ import annotations

import cmath
import heapq
import math
from dataclasses import dataclass, field
from itertools import combinations, product
from typing import Final

import numpy as np

from ledger.fit.layout import Layout, Plane, gaps
from ledger.fit.shift import NOISE, best_shift

EVALUATIONS: Final = 600
ACTIVE: Final = 7
SHARP: Final = 1e-3
Wave = tuple[float, complex]  # const, z: const - Re(z exp(i angle))


@dataclass(frozen=True, slots=True)
class Certificate:
    """
    A dual bound on the margin at every angle: which pairs, with what weights and vectors.

    The vectors are in B's directions, or in those of A (flipped where it is) when they turn with it.
    """

    pairs: tuple[int, ...]
    weights: tuple[float, ...]
    rays: tuple[complex, ...]
    turning: bool = False


@dataclass(frozen=True, slots=True)
class Best:
    """A pose in scaled units, its margin, the ceiling that no pose exceeds, and the certificates that say so."""

    angle: float
    shift: complex
    margin: float
    ceiling: float
    certificates: tuple[Certificate, ...]
    evaluations: int


@dataclass(slots=True)
class _Search:
    layout: Layout
    cap: float
    angle: float = 0.0
    shift: complex = 0j
    margin: float = -math.inf
    certificates: list[Certificate] = field(default_factory=list)
    evaluations: int = 0

    def look(self, angle: float) -> tuple[Wave, ...]:
        """Evaluate one angle exactly; its waves."""
        shift = best_shift(self.layout, angle, self.shift)
        self.evaluations += 1
        margin = margin_at(self.layout, angle, shift)
        if margin > self.margin:
            self.angle, self.shift, self.margin = angle, shift, margin
        certificate = certificate_at(self.layout, angle, shift)
        self.certificates.append(certificate)
        return waves(self.layout, certificate)

    def best(self, ceiling: float) -> Best:
        kept = tuple(self.certificates)
        return Best(self.angle, self.shift, self.margin, ceiling, kept, self.evaluations)


def best_pose(
    layout: Layout, start: float = 0.0, *, floor: float = -math.inf, enough: float = math.inf
) -> Best:
    """
    The margin over all rotations and shifts; `start` is an angle near the answer, if one is known.

    Stops early when the margin surely lies below `floor`, or when `enough` is reached; all in scaled units.
    """
    cap = float(layout.c.min())
    search = _Search(layout, cap)
    search.certificates.append(Certificate((int(layout.c.argmin()),), (1.0,), (0j,)))
    edges = [start, start + math.pi / 2, start + math.pi, start + 3 * math.pi / 2]
    found = [search.look(start)]
    if search.margin >= cap - layout.tolerance / 2 or search.margin >= enough:
        return search.best(cap)
    found += [search.look(edge) for edge in edges[1:]]
    queue: list[tuple[float, float, float, float, tuple[Wave, ...], tuple[Wave, ...]]] = []

    def push(low: float, high: float, left: tuple[Wave, ...], right: tuple[Wave, ...]) -> None:
        value, at = _highest(left, right, low, high)
        heapq.heappush(queue, (-min(value, cap), at, low, high, left, right))

    for k in range(4):
        push(edges[k], edges[k + 1] if k < 3 else start + 2 * math.pi, found[k], found[(k + 1) % 4])  # noqa: PLR2004
    while True:
        ceiling, at, low, high, left, right = heapq.heappop(queue)
        ceiling = -ceiling
        done = ceiling <= search.margin + layout.tolerance / 2 or search.margin >= enough or ceiling < floor
        if done or search.evaluations >= EVALUATIONS or not low < at < high:
            return search.best(max(ceiling, search.margin))
        middle = search.look(at)
        push(low, at, left, middle)
        push(at, high, middle, right)


def margin_at(layout: Layout, angle: float, shift: complex) -> float:
    """Least c_i - e_i at a pose, from the true offsets."""
    return float((layout.c - np.abs(gaps(layout, angle, shift).gap)).min())


def certificate_at(layout: Layout, angle: float, shift: complex) -> Certificate:
    """The tightest certificate that the active pairs at this pose allow."""
    gap = gaps(layout, angle, shift).gap
    room = layout.c - np.abs(gap)
    order = np.argsort(room, kind="stable")[:ACTIVE]
    near = 1e-5 if layout.slotted else 1e-9
    active = [int(k) for k in order if room[k] <= room[order[0]] + near and abs(gap[k]) > 0]
    tightest = int(layout.c.argmin())
    best = (float(layout.c[tightest]), Certificate((tightest,), (1.0,), (0j,)))
    for size in (2, 3):
        for some in combinations(active, size):
            made = _two(some, gap) if size == 2 else _three(some, gap)  # noqa: PLR2004
            if made is not None:
                value = _bound(waves(layout, made), angle)
                if value < best[0] - NOISE:
                    best = (value, made)
    return _steadier(layout, best[1], angle) if layout.slotted else best[1]


def _steadier(layout: Layout, fixed: Certificate, angle: float) -> Certificate:
    """The certificate with its vectors fixed or turning with A, whichever bends less sharply at this angle."""
    back = cmath.rect(1, -angle)
    turning = Certificate(fixed.pairs, fixed.weights, tuple(back * u for u in fixed.rays), turning=True)

    def sharpness(made: Certificate) -> float:
        swings = _split(layout, made)[2]
        return sum(abs(q) for q in swings if abs((q * cmath.rect(1, angle)).real) < SHARP * abs(q))

    return turning if sharpness(turning) < sharpness(fixed) else fixed


def _two(pairs: tuple[int, ...], gap: Plane) -> Certificate | None:
    """Two pairs that pull opposite ways."""
    one, two = (complex(gap[k]) / abs(complex(gap[k])) for k in pairs)
    pull = one - two
    if abs(pull) < 1:
        return None
    ray = pull / abs(pull)
    return Certificate(pairs, (0.5, 0.5), (ray, -ray))


def _three(pairs: tuple[int, ...], gap: Plane) -> Certificate | None:
    """Three pairs whose rays enclose the origin; weights by the triangle's areas."""
    u, v, w = (complex(gap[k]) / abs(complex(gap[k])) for k in pairs)
    areas = [_cross(v, w), _cross(w, u), _cross(u, v)]
    total = sum(areas)
    if abs(total) < 1e-7 or min(x / total for x in areas) < 0:  # noqa: PLR2004
        return None
    return Certificate(pairs, (areas[0] / total, areas[1] / total, areas[2] / total), (u, v, w))


def _cross(x: complex, y: complex) -> float:
    return x.real * y.imag - x.imag * y.real


def waves(layout: Layout, certificate: Certificate) -> tuple[Wave, ...]:
    """The certificate's bound as waves; the bound is the greatest of them."""
    const, z, swings = _split(layout, certificate)
    signs = product((1, -1), repeat=len(swings))
    return tuple((const, z + sum(s * q for s, q in zip(row, swings, strict=True))) for row in signs)


def _split(layout: Layout, certificate: Certificate) -> tuple[float, complex, list[complex]]:
    """Constant, wave, and what each slot that lies crosswise to the vectors may swing it by."""
    const, z, swings = 0.0, 0j, []
    for k, weight, ray in zip(certificate.pairs, certificate.weights, certificate.rays, strict=True):
        still, half, moved, swung = layout.b, layout.hb, layout.a, layout.ha
        if certificate.turning:
            still, half, moved, swung = -layout.a, layout.ha, -layout.b.conj(), layout.hb.conj()
        back = ray.conjugate()
        const += weight * (
            float(layout.c[k]) + (back * complex(still[k])).real + abs((back * complex(half[k])).real)
        )
        along = ray if certificate.turning else back
        z += weight * along * complex(moved[k])
        if swung[k]:
            swings.append(weight * along * complex(swung[k]))
    return const, z, swings


def _bound(family: tuple[Wave, ...], angle: float) -> float:
    turned = cmath.rect(1, angle)
    return max(const - (z * turned).real for const, z in family)


def _highest(left: tuple[Wave, ...], right: tuple[Wave, ...], low: float, high: float) -> tuple[float, float]:
    """Greatest value, and where, of the lesser of two bounds over an interval of angles."""
    best = (-math.inf, (low + high) / 2)
    for one in left:
        for two in right:
            for at in _places(one, two, low, high):
                turned = cmath.rect(1, at)
                value = min(one[0] - (one[1] * turned).real, two[0] - (two[1] * turned).real)
                best = max(best, (value, at))
    return best


def _places(one: Wave, two: Wave, low: float, high: float) -> list[float]:
    """Where the lesser of two waves can be highest: ends, peaks and crossings."""
    places = [low, high]
    angles = [math.pi - cmath.phase(z) for _, z in (one, two)]
    across, apart = one[1] - two[1], one[0] - two[0]
    if abs(across) > NOISE and abs(apart) <= abs(across):
        turn, half = -cmath.phase(across), math.acos(apart / abs(across))
        angles += [turn + half, turn - half]
    for angle in angles:
        lifted = low + (angle - low) % (2 * math.pi)
        if lifted < high:
            places.append(lifted)
    return places
