"""
Rings of lines and arcs as chords, many at once.

The *edges* of a ring are its lines and arcs without those of no length; a bulge that is straight within rounding is
none. A *chord* belongs to one edge and leaves its arc by at most a sagitta.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from ledger.domain.shape import Contour
from ledger.fit.joint import Real
from ledger.fit.layout import Plane

STRAIGHT: Final = 1e-8  # a bulge below this: the arc's own rounding is as large as its height
Index = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Edges:
    """The edges of rings: start, end (complex) and bulge; `ring` tells whose each is."""

    start: Plane
    end: Plane
    bulge: Real
    ring: Index


@dataclass(frozen=True, slots=True)
class Chords:
    """Chords from `start` to `end`, and the edge that each belongs to."""

    start: Plane
    end: Plane
    edge: Index


def edges_of(rings: Iterable[Contour]) -> Edges:
    """All edges of rings, in order."""
    start, end, bulge, owner = [], [], [], []
    for number, ring in enumerate(rings):
        v = np.asarray(ring.vertices, dtype=float).reshape(-1, 3)
        a = v[:, 0] + 1j * v[:, 1]
        b = np.roll(a, -1)
        keep = a != b
        start.append(a[keep])
        end.append(b[keep])
        bulge.append(np.where(np.abs(v[keep, 2]) >= STRAIGHT, v[keep, 2], 0.0))
        owner.append(np.full(int(keep.sum()), number, dtype=np.intp))
    return Edges(*(np.concatenate(x) for x in (start, end, bulge, owner)))


def chords_of(edges: Edges, sagitta_mm: float) -> Chords:
    """Every arc as chords no farther from it than the sagitta; lines as they are."""
    curved = edges.bulge != 0
    b = np.where(curved, edges.bulge, 1.0)
    chord = edges.end - edges.start
    centre = (edges.start + edges.end) / 2 + 1j * chord * (1 - b * b) / (4 * b)
    arm = edges.start - centre
    sweep = 4 * np.arctan(b)
    ratio = np.maximum(-1.0, 1 - sagitta_mm / np.maximum(np.abs(arm), 1e-300))
    step = 2 * np.arccos(ratio)
    step = np.where(step > 0, step, 1e-3)
    pieces = np.where(curved, np.maximum(2, np.ceil(np.abs(sweep) / step)), 1).astype(np.intp)
    owner = np.repeat(np.arange(len(pieces)), pieces)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    turned = centre[owner] + arm[owner] * np.exp(1j * sweep[owner] * place / pieces[owner])
    start = np.where(place == 0, edges.start[owner], turned)
    last = place == pieces[owner] - 1
    end = np.where(last, edges.end[owner], np.roll(start, -1))
    return Chords(start, end, owner)
