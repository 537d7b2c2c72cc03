"""
Whether it is certain that no poses at all have so large a margin.

A *box* is an interval of the angle of every body but the first. The first box comes from what the holes let the bodies
turn; where no certificate covers it, poses are sought within it for another one, and what is still not covered is
split. Which body stays differs from ring to ring in how well the certificates cover: the best is taken.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ledger.assembly.certificate import Bound, Certificate, balanced, bound_of
from ledger.assembly.links import Links, Place
from ledger.assembly.poses import Found, best_poses
from ledger.assembly.turns import Turn, first_box, narrowed, turns_between
from ledger.fit.joint import Real

MOST_SOLVED: Final = 120
NARROWEST: Final = 1e-9
INSIDE: Final = 1e-3  # of a box's width: how far from its sides a search begins


@dataclass(frozen=True, slots=True)
class Refutation:
    """Certificates that together show, seen from body `root`, that no poses have a margin above `limit_mm`."""

    root: int
    limit_mm: float
    certificates: tuple[Certificate, ...]


@dataclass(frozen=True, slots=True)
class _Root:
    body: int
    links: Links
    place: Place
    box: tuple[Real, Real]
    made: Certificate | None
    over_mm: float


def refuted(
    links: Links, found: Found, limit_mm: float, *, most_solved: int = MOST_SOLVED
) -> tuple[Refutation | None, Found | None]:
    """
    The proof that no poses have a margin above the limit, or poses that have it, or neither.

    `found` are the best poses that are known, below the limit; so many boxes are solved at most.
    """
    roots: list[_Root] = []
    for body in range(links.bodies):
        seen = links.seen_from(body)
        box = first_box(seen, limit_mm)
        if box is None:
            return Refutation(body, limit_mm, ()), None
        place = found.place.about(body)
        made = balanced(seen, found.weights, found.vectors * found.place.turns[body].conjugate())
        bound = bound_of(seen, made, limit_mm) if made else None
        over = bound.most_mm(*box) - limit_mm if bound else np.inf
        roots.append(_Root(body, seen, place, box, made, over))
        if over <= 0 and made:
            return Refutation(body, limit_mm, (made,)), None
    return _split(min(roots, key=lambda r: r.over_mm), limit_mm, most_solved)


def _split(root: _Root, limit_mm: float, most_solved: int) -> tuple[Refutation | None, Found | None]:
    links = root.links
    between = turns_between(links, limit_mm) or {}
    kept: list[Certificate] = [root.made] if root.made else []
    bounds = [b for c in kept if (b := bound_of(links, c, limit_mm))]
    boxes, solved = [root.box], 0
    while boxes:
        low, high = boxes.pop()
        if covered(bounds, low, high, limit_mm):
            continue
        tight = tightened(low, high, between)
        if tight is None:
            continue
        low, high = tight
        if covered(bounds, low, high, limit_mm):
            continue
        if solved >= most_solved or float((high - low).max()) < NARROWEST:
            return None, None
        solved += 1
        found = best_poses(links, _within(root.place, low, high), (low, high))
        if found.margin_mm > limit_mm:
            return None, Found(found.place.about(root.body), found.margin_mm, found.weights, found.vectors)
        made = balanced(links, found.weights, found.vectors)
        bound = bound_of(links, made, limit_mm) if made else None
        if made and bound:
            kept.append(made)
            bounds.append(bound)
        if not covered(bounds[-1:], low, high, limit_mm):
            boxes += halves(low, high, bounds[-1] if bound else None)
    return Refutation(root.body, limit_mm, tuple(kept)), None


def _within(place: Place, low: Real, high: Real) -> Place:
    """Poses with every angle inside its interval, near to where it was."""
    wide = (high - low) * INSIDE
    angles = place.angles.copy()
    own = angles[1 : len(low) + 1]
    own += 2 * np.pi * np.round(((low + high) / 2 - own) / (2 * np.pi))
    angles[1 : len(low) + 1] = np.clip(own, low + wide, high - wide)
    return Place(np.exp(1j * angles), place.shifts)


def covered(bounds: Sequence[Bound], low: Real, high: Real, limit_mm: float) -> bool:
    """Whether some certificate shows that nothing in the box is above the limit."""
    return any(b.most_mm(low, high) <= limit_mm for b in bounds)


def tightened(low: Real, high: Real, between: dict[tuple[int, int], Turn]) -> tuple[Real, Real] | None:
    """A box without what the turns between its bodies do not allow; None where nothing is left."""
    known = {
        0: (0.0, 0.0),
        **{k: (float(x), float(y)) for k, (x, y) in enumerate(zip(low, high, strict=True), 1)},
    }
    found = narrowed(known, between)
    if found is None:
        return None
    return np.array([found[k][0] for k in range(1, len(known))]), np.array(
        [found[k][1] for k in range(1, len(known))]
    )


def halves(low: Real, high: Real, bound: Bound | None) -> list[tuple[Real, Real]]:
    """A box split in the middle of the side on which its bound loses the most, else of its widest."""
    wide = high - low
    lost = wide if bound is None else np.abs(bound.waves[1 : len(low) + 1]) * wide**2 + wide * 1e-9
    side = int(np.argmax(lost))
    middle = (low[side] + high[side]) / 2
    left, right = high.copy(), low.copy()
    left[side] = right[side] = middle
    return [(low, left), (right, high)]
