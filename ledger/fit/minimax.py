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

Round holes are first led downhill to a local optimum: one wave with its peak there is most often the whole proof.
"""

from __future__ import annotations

import cmath
import heapq
import math
from dataclasses import dataclass, field
from itertools import combinations
from typing import Final

import numpy as np

from ledger.fit.certificate import Certificate, Wave, peak, split, three, two, waves
from ledger.fit.descent import descend
from ledger.fit.layout import Layout, gaps
from ledger.fit.shift import HOT, NOISE, best_shift, cooled

EVALUATIONS: Final = 600
ACTIVE: Final = 7
SHARP: Final = 1e-3
LUKEWARM, ROUGHLY = 3e-3, 3e-2  # where slots are first told whether an angle could be the best one
__all__ = ["Best", "Certificate", "best_pose", "certificate_at", "margin_at", "waves"]


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
    floor: float = -math.inf
    angle: float = 0.0
    shift: complex = 0j
    margin: float = -math.inf
    certificates: list[Certificate] = field(default_factory=list)
    evaluations: int = 0

    @property
    def settled(self) -> float:
        """An angle whose bound is lower is of no interest."""
        return max(self.margin, self.floor)

    def look(self, angle: float) -> tuple[Wave, ...]:
        """Evaluate one angle exactly; its waves."""
        self.evaluations += 1
        shift = self.shift
        if self.layout.slotted:
            shift = cooled(self.layout, angle, shift, HOT, LUKEWARM)
            rough = certificate_at(self.layout, angle, shift, ROUGHLY)
            family = waves(self.layout, rough)
            if _bound(family, angle) < self.settled:
                self.certificates.append(rough)
                return family
            shift = cooled(self.layout, angle, shift, LUKEWARM, self.layout.tolerance / 50)
        else:
            shift = best_shift(self.layout, angle, shift)
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
    if not layout.slotted:
        found = downhill(layout, start, enough)
        if isinstance(found, Best):
            return found
        start = found
    cap = float(layout.c.min())
    search = _Search(layout, cap, floor)
    search.certificates.append(of_one(layout))
    edges = [start, start + math.pi / 2, start + math.pi, start + 3 * math.pi / 2]
    waves_at = [search.look(start)]
    if search.margin >= cap - layout.tolerance / 2 or search.margin >= enough:
        return search.best(cap)
    waves_at += [search.look(edge) for edge in edges[1:]]
    queue: list[tuple[float, float, float, float, tuple[Wave, ...], tuple[Wave, ...]]] = []

    def push(low: float, high: float, left: tuple[Wave, ...], right: tuple[Wave, ...]) -> None:
        value, at = _highest(left, right, low, high)
        heapq.heappush(queue, (-min(value, cap), at, low, high, left, right))

    for k in range(4):
        push(edges[k], edges[k + 1] if k < 3 else start + 2 * math.pi, waves_at[k], waves_at[(k + 1) % 4])  # noqa: PLR2004
    while True:
        ceiling, at, low, high, left, right = heapq.heappop(queue)
        ceiling = -ceiling
        done = ceiling <= search.margin + layout.tolerance / 2 or search.margin >= enough or ceiling < floor
        if done or search.evaluations >= EVALUATIONS or not low < at < high:
            return search.best(max(ceiling, search.margin))
        middle = search.look(at)
        push(low, at, left, middle)
        push(at, high, middle, right)


def downhill(layout: Layout, start: float, enough: float = math.inf) -> Best | float:
    """The answer for round holes where a local optimum or the least take up proves it, else an angle to begin at."""
    cap, half = float(layout.c.min()), layout.tolerance / 2
    held = descend(layout, start, layout.tolerance / 8, min(enough, cap - half))
    if held is None:
        return _pinned(layout, start) or start
    if not held.pairs:
        return Best(held.angle, held.shift, -held.excess, cap, (of_one(layout),), 1)
    made = peak(layout, held)
    if made is not None and made[1] <= half - held.excess:
        ceiling = max(made[1], -held.excess)
        return Best(held.angle, held.shift, -held.excess, ceiling, (made[0],), 1)
    return held.angle


def _pinned(layout: Layout, start: float) -> Best | None:
    """The pair with the least take up laid exactly, where the others then have as much room in their nearest turn."""
    k = int(layout.c.argmin())
    a, b = layout.a - layout.a[k], layout.b - layout.b[k]
    total = complex((a.conj() * b).sum())
    angle = cmath.phase(total) if abs(total) > NOISE else start
    shift = complex(layout.b[k] - cmath.rect(1, angle) * layout.a[k])
    margin, cap = margin_at(layout, angle, shift), float(layout.c[k])
    if margin < cap - layout.tolerance / 2:
        return None
    return Best(angle, shift, margin, cap, (of_one(layout),), 1)


def of_one(layout: Layout) -> Certificate:
    """No pose leaves more than the least take up."""
    return Certificate((int(layout.c.argmin()),), (1.0,), (0j,))


def margin_at(layout: Layout, angle: float, shift: complex) -> float:
    """Least c_i - e_i at a pose, from the true offsets."""
    return float((layout.c - np.abs(gaps(layout, angle, shift).gap)).min())


def certificate_at(layout: Layout, angle: float, shift: complex, near: float = 0.0) -> Certificate:
    """The tightest certificate that the pairs at this pose allow that are active, or nearly so."""
    gap = gaps(layout, angle, shift).gap
    room = layout.c - np.abs(gap)
    order = np.argsort(room, kind="stable")[:ACTIVE]
    near = max(near, 1e-5 if layout.slotted else 1e-9)
    active = [int(k) for k in order if room[k] <= room[order[0]] + near and abs(gap[k]) > 0]
    tightest = int(layout.c.argmin())
    best = (float(layout.c[tightest]), Certificate((tightest,), (1.0,), (0j,)))
    for size in (2, 3):
        for some in combinations(active, size):
            made = two(some, gap) if size == 2 else three(some, gap)  # noqa: PLR2004
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
        swings = split(layout, made)[2]
        return sum(abs(q) for q in swings if abs((q * cmath.rect(1, angle)).real) < SHARP * abs(q))

    return turning if sharpness(turning) < sharpness(fixed) else fixed


def _bound(family: tuple[Wave, ...], angle: float) -> float:
    turned = cmath.rect(1, angle)
    return max(const - (z * turned).real for const, z in family)


def _highest(left: tuple[Wave, ...], right: tuple[Wave, ...], low: float, high: float) -> tuple[float, float]:
    """Greatest value, and where, of the lesser of two bounds over an interval of angles."""
    best = (-math.inf, (low + high) / 2)
    for first in left:
        for second in right:
            for at in _places(first, second, low, high):
                turned = cmath.rect(1, at)
                value = min(first[0] - (first[1] * turned).real, second[0] - (second[1] * turned).real)
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
