"""
In which pose the most holes of two drawings agree, whatever sizes they have.

Holes *agree* where they lie within what two drawings of one hole differ by: first `CLOSE_MM`, then `LOOSE_MM`.
"""

from __future__ import annotations

import cmath
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from ledger.fit.chance import CLOSE_MM
from ledger.fit.layout import Plane
from ledger.fit.pairing import Pairs, Plates, find_pairings

LOOSE_MM: Final = 0.4
MOST_TRIED: Final = 24


@dataclass(frozen=True, slots=True)
class Agreement:
    """Pairs that agree where A is turned (unit number), after its mirroring where turned over, and shifted."""

    pairs: Pairs
    turn: complex
    shift: complex
    turned_over: bool
    apart_mm: float

    @property
    def used_a(self) -> frozenset[int]:
        """The holes of A that agree."""
        return frozenset(i for i, _ in self.pairs)

    @property
    def used_b(self) -> frozenset[int]:
        """The holes of B that agree."""
        return frozenset(k for _, k in self.pairs)


def agreements(a: Plane, b: Plane, ways_up: tuple[bool, ...], least: int) -> Agreement | None:
    """
    The pose in which most holes agree, then those left over lie nearest, then A is turned least; None with fewer.

    `a` and `b` are middles of holes, mm, as complex numbers.
    """
    if min(len(a), len(b)) < max(2, least):
        return None
    for within in (CLOSE_MM, LOOSE_MM):
        every = np.full((len(a), len(b)), within)
        search = find_pairings(Plates(a, b, every, every), ways_up, least)
        found = [
            _agreed(a, b, p.pairs, within, turned_over=p.turned_over) for p in search.pairings[:MOST_TRIED]
        ]
        good = [x for x in found if len(x.pairs) >= least]
        if good:
            return min(
                good,
                key=lambda x: (
                    -len(x.pairs),
                    round(_left_apart(x, a, b), 6),
                    x.turned_over,
                    round(abs(cmath.phase(x.turn)), 6),
                    x.apart_mm,
                ),
            )
    return None


def _agreed(a: Plane, b: Plane, pairs: Pairs, within_mm: float, *, turned_over: bool) -> Agreement:
    """The least-squares pose of these pairs, and those of them that agree there."""
    i, k = np.array(pairs, dtype=np.intp).reshape(-1, 2).T
    laid = a.conj() if turned_over else a
    p, q = laid[i] - laid[i].mean(), b[k] - b[k].mean()
    total = complex((p.conj() * q).sum())
    turn = total / abs(total) if abs(total) > 0 else 1 + 0j
    shift = complex(b[k].mean() - turn * laid[i].mean())
    off = np.abs(turn * laid[i] + shift - b[k])
    kept = tuple(pair for pair, x in zip(pairs, off.tolist(), strict=True) if x <= within_mm)
    return Agreement(kept, turn, shift, turned_over, float(off.max(initial=0.0)))


def _left_apart(found: Agreement, a: Plane, b: Plane) -> float:
    """How far apart the holes lie that are left over, the nearest of them; 0 where a plate has none left."""
    left_a = [z for i, z in enumerate(a.tolist()) if i not in found.used_a]
    left_b = [z for k, z in enumerate(b.tolist()) if k not in found.used_b]
    placed = over(found, left_a, from_a=True)
    return min((abs(x - y) for x in placed for y in left_b), default=0.0)


def over(found: Agreement, points: Sequence[complex], *, from_a: bool) -> list[complex]:
    """Points of one drawing in the coordinates of the other."""
    z: npt.NDArray[np.complex128] = np.array(points, dtype=complex)
    if from_a:
        return [complex(x) for x in found.turn * (z.conj() if found.turned_over else z) + found.shift]
    back = (z - found.shift) / found.turn
    return [complex(x) for x in (back.conj() if found.turned_over else back)]
