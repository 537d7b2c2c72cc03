"""
Which patterns of holes share a triangle: the index by which few of all pairs of drawings are looked at closely.

A *pattern* is the holes of one size in one plate. Every three of its holes make a triangle; its key is its three sides,
each dealt into cells of `CELL_MM`. Each triangle is put down once and looked for in every cell that its sides could lie
in if they were `CLOSE_MM` longer or shorter, so that no pair that agrees as closely is missed. Unrelated plates hardly
ever share a key: the work grows as the triangles do, which are sorted, not as the pairs of drawings.

Patterns of more than `MOST_WHOLE` holes put down a share of their triangles, chosen by key and so the same ones in each
plate; of more than `MOST_HOLES` none: such a plate is perforated.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import comb
from typing import Final

import numpy as np
import numpy.typing as npt

from ledger.fit.chance import CLOSE_MM
from ledger.fit.joint import Real
from ledger.fit.layout import Plane
from ledger.fit.lengths import Index

CELL_MM: Final = 4 * CLOSE_MM
MOST_WHOLE: Final = 100
MOST_HOLES: Final = 260
SHORTEST_MM: Final = 1.0
_BITS: Final = 20
_MIX: Final = np.uint64(0x9E3779B97F4A7C15)  # the golden ratio: spreads keys that follow each other
Keys = npt.NDArray[np.uint64]


def sharing(patterns: Sequence[Plane]) -> Iterator[tuple[int, int, int]]:
    """Every two patterns (index, index) that share triangles, with how many of the second one's the first may have."""
    owned: list[_Cells] = []
    asked: list[_Cells] = []
    for k, points in enumerate(patterns):
        sides = _sides(points)
        if len(sides):
            share = comb(len(points), 3) / comb(MOST_WHOLE, 3)
            owned.append(
                _Cells.of_pattern(k, *np.unique(_kept(_key(sides, 0), share), return_counts=True), share)
            )
            near = np.concatenate([_key(sides, signs) for signs in product((-1, 1), repeat=3)])
            asked.append(_Cells.of_pattern(k, *np.unique(_kept(near, share), return_counts=True), share))
    if owned:
        yield from _joined(_Cells.all(owned), _Cells.all(asked))


@dataclass(frozen=True, slots=True)
class _Cells:
    """Keys, each once a pattern, with the pattern and how many triangles have it."""

    keys: Keys
    of: Index
    count: Real

    @staticmethod
    def of_pattern(k: int, keys: Keys, count: Index, share: float) -> _Cells:
        """Of a pattern that put down a share only, each triangle stands for the others."""
        return _Cells(keys, np.full(len(keys), k), np.asarray(count * max(1.0, share), dtype=float))

    @staticmethod
    def all(some: Sequence[_Cells]) -> _Cells:
        """Those of all patterns."""
        return _Cells(*(np.concatenate([getattr(c, name) for c in some]) for name in ("keys", "of", "count")))


def _sides(points: Plane) -> Real:
    """The sides of every triangle, shortest first, one to a row."""
    n = len(points)
    if not 3 <= n <= MOST_HOLES:  # noqa: PLR2004 - a triangle
        return np.empty((0, 3))
    i, j = np.triu_indices(n, 1)
    apart = np.abs(points[:, None] - points[None, :])
    after = n - 1 - j
    first, second = np.repeat(i, after), np.repeat(j, after)
    starts = np.repeat(np.cumsum(after) - after, after)
    third = np.repeat(j, after) + 1 + (np.arange(len(first)) - starts)
    sides = np.sort(
        np.stack([apart[first, second], apart[first, third], apart[second, third]], axis=1), axis=1
    )
    return sides[sides[:, 0] >= SHORTEST_MM]


def _key(sides: Real, signs: Sequence[int] | int) -> Keys:
    cells = np.floor((sides + CLOSE_MM * np.asarray(signs)) / CELL_MM).astype(np.uint64)
    cells &= np.uint64((1 << _BITS) - 1)
    key: Keys = (cells[:, 0] << np.uint64(2 * _BITS)) | (cells[:, 1] << np.uint64(_BITS)) | cells[:, 2]
    return key


def _kept(keys: Keys, share: float) -> Keys:
    """All keys of a pattern that is small enough, else a share that depends on the key alone."""
    if share <= 1:
        return keys
    mixed = (keys * _MIX) >> np.uint64(40)
    return keys[mixed < np.uint64(int((1 << 24) / share))]


def _joined(owned: _Cells, asked: _Cells) -> Iterator[tuple[int, int, int]]:
    order = np.argsort(owned.keys, kind="stable")
    keys = owned.keys[order]
    low, high = np.searchsorted(keys, asked.keys, "left"), np.searchsorted(keys, asked.keys, "right")
    some = high > low
    low, count, askers = low[some], (high - low)[some], asked.of[some]
    place = order[np.repeat(low - np.cumsum(count) + count, count) + np.arange(int(count.sum()))]
    one, two = np.repeat(askers, count), owned.of[place]
    later = one < two
    pairs, where = np.unique(np.stack([one, two], axis=1)[later], axis=0, return_inverse=True)
    shared = np.bincount(where.ravel(), weights=owned.count[place][later], minlength=len(pairs))
    for (a, b), triangles in zip(pairs.tolist(), shared.tolist(), strict=True):
        yield int(a), int(b), math.ceil(triangles)
