"""
How far the plies of a stack can turn against each other, from two bolts at a time.

At a half margin of h an axis lies within room - h of every core that its bolt goes through. So the ways from one bolt
to another, v in one ply and w in the other, differ by no more than s, the four rooms and half slots less 4 h, and
    |v exp(i turn) - w| <= s
bounds the turn: an interval about the one that lays v along w, everything, or nothing at all.
"""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np

from ledger.fit.joint import Real
from ledger.fit.stack_layout import StackLayout

Interval = tuple[float, float]  # middle, half width
ROUNDING: float = 1e-9


def first_box(layout: StackLayout, half_margin_mm: float) -> tuple[Real, Real] | None:
    """
    Angles of every ply but the first, outside of which no pose has more than this half margin, in radians.

    None where there are none at all. A ply that shares two bolts with none of those before it can have any angle.
    """
    between: dict[tuple[int, int], Interval] = {}
    for one, other in combinations(range(layout.plies), 2):
        found = _turn(layout, one, other, half_margin_mm)
        if found is None:
            return None
        between[one, other] = found
        between[other, one] = -found[0], found[1]
    reached: dict[int, Interval] = {0: (0.0, 0.0)}
    while len(reached) < layout.plies:  # the ply whose angle is known best, through those that are known
        width, k, middle = min(
            (at[1] + turn[1], j, at[0] + turn[0])
            for i, at in reached.items()
            for (of, j), turn in between.items()
            if of == i and j not in reached
        )
        reached[k] = math.remainder(middle, 2 * math.pi), min(width, math.pi)
    middles = np.array([reached[k][0] for k in range(1, layout.plies)])
    widths = np.array([reached[k][1] for k in range(1, layout.plies)])
    return middles - widths, middles + widths


def _turn(layout: StackLayout, one: int, other: int, half_margin_mm: float) -> Interval | None:
    """The angle of `other` less that of `one`."""
    shared = np.flatnonzero(layout.there[one] & layout.there[other])
    if len(shared) < 2:  # noqa: PLR2004 - two bolts
        return 0.0, math.pi
    first, second = (shared[x] for x in np.triu_indices(len(shared), 1))
    v = layout.middles[other, first] - layout.middles[other, second]
    w = layout.middles[one, first] - layout.middles[one, second]
    play = layout.rooms[[one, other]] + np.abs(layout.halves[[one, other]])
    s = play[:, first].sum(axis=0) + play[:, second].sum(axis=0) - 4 * half_margin_mm
    s = s + ROUNDING * layout.reach_mm
    if np.any(s < np.abs(np.abs(v) - np.abs(w))):
        return None
    square = 2 * np.abs(v) * np.abs(w)
    cosine = (np.abs(v) ** 2 + np.abs(w) ** 2 - s**2) / np.where(square > 0, square, 1.0)
    half = np.where(square > 0, np.arccos(np.clip(cosine, -1, 1)), math.pi)
    middle = np.angle(w * v.conj())
    best = int(half.argmin())
    low, high = float(middle[best] - half[best]), float(middle[best] + half[best])
    for at, width in zip(middle.tolist(), half.tolist(), strict=True):
        near = at + 2 * math.pi * round((middle[best] - at) / (2 * math.pi))
        if width + half[best] < math.pi:  # else it may come in from both ends
            low, high = max(low, near - width), min(high, near + width)
    return ((low + high) / 2, (high - low) / 2) if low <= high else None
