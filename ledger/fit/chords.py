"""
Rings of lines and arcs as chords, many at once.

The *edges* of a ring are its lines and arcs without those of no length; a bulge that is straight within rounding is
none. A *chord* belongs to one edge and leaves its arc by at most a sagitta.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from ledger.domain.shape import Contour
from ledger.fit.joint import Real
from ledger.fit.layout import Plane

STRAIGHT: Final = 1e-8  # a bulge below this: the arc's own rounding is as large as its height
RUN: Final = 128  # chords to a box
PROMISING: Final = 16
Index = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Edges:
    """The edges of rings: start, end (complex) and bulge; `ring` tells whose each is."""

    start: Plane
    end: Plane
    bulge: Real
    ring: Index

    def by_ring(self, rings: int) -> list[Edges]:
        """The edges of each ring by themselves."""
        ends = np.searchsorted(self.ring, np.arange(rings + 1)).tolist()
        parts = [slice(low, high) for low, high in itertools.pairwise(ends)]
        return [Edges(self.start[p], self.end[p], self.bulge[p], self.ring[p]) for p in parts]


@dataclass(frozen=True, slots=True)
class Chords:
    """Chords from `start` to `end`, the edge that each belongs to, and how far it leaves that."""

    start: Plane
    end: Plane
    edge: Index
    off_mm: Real

    def only(self, keep: npt.NDArray[np.bool_]) -> Chords:
        """Some of the chords."""
        return Chords(self.start[keep], self.end[keep], self.edge[keep], self.off_mm[keep])


def corners_of(ring: Contour) -> Real:
    """The corners of a ring: rows of x, y and bulge."""
    flat = itertools.chain.from_iterable(ring.vertices)
    return np.fromiter(flat, float, 3 * len(ring.vertices)).reshape(-1, 3)


def edges_of(rings: Iterable[Contour]) -> Edges:
    """All edges of rings, in order."""
    return edges_between([corners_of(ring) for ring in rings])


def edges_between(corners: Iterable[Real]) -> Edges:
    """All edges of rings that are given by their corners, in order."""
    start, end, bulge, owner = [], [], [], []
    for number, v in enumerate(corners):
        a = v[:, 0] + 1j * v[:, 1]
        b = np.roll(a, -1)
        bend = np.where(np.abs(v[:, 2]) >= STRAIGHT, v[:, 2], 0.0)
        keep = a != b
        if not keep.all():
            a, b, bend = a[keep], b[keep], bend[keep]
        start.append(a)
        end.append(b)
        bulge.append(bend)
        owner.append(np.full(len(a), number, dtype=np.intp))
    return Edges(*(np.concatenate(x) for x in (start, end, bulge, owner)))


def chords_of(edges: Edges, sagitta_mm: float) -> Chords:
    """Every arc as chords no farther from it than the sagitta; lines as they are."""
    arcs = np.flatnonzero(edges.bulge)
    b, begin = edges.bulge[arcs], edges.start[arcs]
    chord = edges.end[arcs] - begin
    arm = -(chord / 2 + 1j * chord * (1 - b * b) / (4 * b))
    sweep, radius = 4 * np.arctan(b), np.abs(arm)
    step = 2 * np.arccos(np.maximum(-1.0, 1 - sagitta_mm / np.maximum(radius, 1e-300)))
    step = np.where(step > 0, step, 1e-3)
    count = np.maximum(2, np.ceil(np.abs(sweep) / step)).astype(np.intp)
    pieces, off = np.ones(len(edges.bulge), dtype=np.intp), np.zeros(len(edges.bulge))
    pieces[arcs], off[arcs] = count, 2 * radius * np.sin(sweep / count / 4) ** 2
    owner = np.repeat(np.arange(len(pieces)), pieces)
    first = np.cumsum(pieces) - pieces
    start = edges.start[owner]
    inner = np.repeat(np.arange(len(arcs)), count - 1)  # of arcs, the points between the ends
    place = np.arange(len(inner)) - np.repeat(np.cumsum(count - 1) - (count - 1), count - 1) + 1
    turn = sweep[inner] / count[inner] * place
    swung = arm[inner] * (np.cos(turn) + 1j * np.sin(turn) - 1)
    start[first[arcs][inner] + place] = begin[inner] + swung
    end = np.roll(start, -1)
    end[first + pieces - 1] = edges.end
    return Chords(start, end, owner, off[owner])


def near_ones(one: Chords, two: Chords, slack_mm: float) -> tuple[Chords, Chords]:
    """
    Those of two sets of chords that may come nearest to the other set, within a slack.

    Runs of chords lie in boxes. No chord is nearer than the boxes are apart; the ends of those in the boxes that are
    nearest tell how far apart the sets are at most.
    """
    box, other = _boxes(one), _boxes(two)
    x = np.maximum(0, np.maximum(box[0][:, None] - other[1][None, :], other[0][None, :] - box[1][:, None]))
    y = np.maximum(0, np.maximum(box[2][:, None] - other[3][None, :], other[2][None, :] - box[3][:, None]))
    apart = x * x + y * y
    nearest = apart.argmin(axis=1)
    least = apart[np.arange(len(apart)), nearest]
    some = np.argsort(least, kind="stable")[:PROMISING]
    most = min(
        float(
            np.abs(one.start[RUN * i : RUN * (i + 1), None] - two.start[None, RUN * k : RUN * (k + 1)]).min()
        )
        for i, k in zip(some.tolist(), nearest[some].tolist(), strict=True)
    )
    limit = (most * (1 + 1e-9) + slack_mm) ** 2
    mine, theirs = least <= limit, apart.min(axis=0) <= limit
    return (
        one.only(np.repeat(mine, RUN)[: len(one.edge)]),
        two.only(np.repeat(theirs, RUN)[: len(two.edge)]),
    )


def _boxes(chords: Chords) -> tuple[Real, Real, Real, Real]:
    """Least and greatest x, least and greatest y of every run."""
    runs = np.arange(0, len(chords.edge), RUN)
    a, b = chords.start, chords.end
    return (
        np.minimum.reduceat(np.minimum(a.real, b.real), runs),
        np.maximum.reduceat(np.maximum(a.real, b.real), runs),
        np.minimum.reduceat(np.minimum(a.imag, b.imag), runs),
        np.maximum.reduceat(np.maximum(a.imag, b.imag), runs),
    )
