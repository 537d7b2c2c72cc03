"""
The best pose along a guide: A slides along one direction or turns about one point, and may do nothing else.

Every pair of holes passes on an *interval* of the guide (of slots on several). Where most intervals overlap, most
fasteners go in. Of the pairs met there the margin is raised until their intervals have no point in common: for round
holes that is exact, over the whole guide. With slots the guide is halved until no part of it can hold a better
margin, which changes by at most the *speed* of the farthest hole (Lipschitz), to 1e-6 mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from ledger.domain.pose import Pose
from ledger.fit.candidates import Table
from ledger.fit.guide import Guide, Slide
from ledger.fit.joint import SAME_MM, Real
from ledger.fit.layout import Plane, as_plane, between
from ledger.fit.pairing import Pairs, match

FULL: Final = 2 * math.pi
MOST_CELLS: Final = 48
HALVINGS: Final = 90
SLOT_MM: Final = 1e-6
STEPS: Final = 7200
MOST_PARTS: Final = 400_000


@dataclass(frozen=True, slots=True)
class Along:
    """A pose on the guide, the pairs that meet there, and their best margins as drawn and in the worst case."""

    pose: Pose
    pairs: Pairs
    margin_mm: float
    worst_mm: float
    proven: bool


@dataclass(frozen=True, slots=True)
class _Track:
    """Candidates of A as they move: at s they lie at a·e^(is) (turning) or a + s·along (sliding), about B's origin."""

    a: Plane
    ha: Plane
    b: Plane
    hb: Plane
    along: complex | None

    @property
    def period(self) -> float | None:
        return FULL if self.along is None else None

    @property
    def slotted(self) -> bool:
        return bool(np.any(self.ha != 0) or np.any(self.hb != 0))

    def apart(self, pairs: Pairs, where: Real) -> Real:
        """Core distances, pairs x places."""
        i, k = (np.array(side) for side in zip(*pairs, strict=True))
        if self.along is None:
            turned = np.exp(1j * where)[None, :]
            a, ha = self.a[i, None] * turned, self.ha[i, None] * turned
        else:
            a, ha = self.a[i, None] + where[None, :] * self.along, np.repeat(self.ha[i, None], len(where), 1)
        v = a - self.b[k, None]
        if not self.slotted:
            return np.asarray(np.abs(v))
        hb = np.repeat(self.hb[k, None], len(where), 1)
        return np.asarray(np.abs(between(v.ravel(), ha.ravel(), hb.ravel())).reshape(v.shape))

    def intervals(self, pairs: Pairs, level: Real) -> tuple[Real, Real]:
        """Of round holes: from where to where each pair is no farther apart than its level; NaN for nowhere."""
        i, k = (np.array(side) for side in zip(*pairs, strict=True))
        a, b = self.a[i], self.b[k]
        with np.errstate(invalid="ignore", divide="ignore"):
            if self.along is not None:
                middle = ((b - a) * np.conj(self.along)).real
                aside = ((b - a) * np.conj(self.along)).imag
                half = np.sqrt(np.where(level >= 0, level**2 - aside**2, np.nan))
                return middle - half, middle + half
            middle = np.angle(b) - np.angle(a)
            both = 2 * np.abs(a) * np.abs(b)
            cosine = (np.abs(a) ** 2 + np.abs(b) ** 2 - level**2) / np.where(both > 0, both, 1.0)
            cosine = np.where(both > 0, cosine, np.where(np.abs(np.abs(a) - np.abs(b)) <= level, -1.0, 2.0))
            cosine = np.where(level >= 0, np.maximum(cosine, -1.0), 2.0)
            half = np.arccos(np.where(cosine <= 1.0, cosine, np.nan))
        return middle - half, middle + half


def best_along(table: Table, guide: Guide) -> Along | None:
    """The place where most pairs pass, else where most holes lie near one another, then with the largest margin."""
    return _best_within(table, guide, table.swallow) or _best_within(table, guide, table.astray)


def _best_within(table: Table, guide: Guide, reach: Real) -> Along | None:
    """The same for one reach of every pair; None where nowhere on the guide a pair lies within it."""
    track = _track(table, guide)
    every: Pairs = tuple(zip(*(x.tolist() for x in np.nonzero(table.swallow >= 0)), strict=True))
    if not every:
        return None
    cells = _deepest(*_where(track, every, np.array([reach[p] for p in every]) + SAME_MM), track.period)
    found: dict[Pairs, tuple[float, float, bool]] = {}
    grid: Pairs = tuple((i, k) for i in range(len(table.a)) for k in range(len(table.b)))
    for place in cells:
        apart = track.apart(grid, np.array([place])).reshape(table.swallow.shape)
        rows, columns = match(apart, apart <= reach + SAME_MM)
        pairs: Pairs = tuple(zip(rows.tolist(), columns.tolist(), strict=True))
        if pairs and pairs not in found:
            found[pairs] = _best_of(track, pairs, np.array([table.allowed[p] for p in pairs]), place)
    if not found:
        return None
    pairs, (place, margin, proven) = max(found.items(), key=lambda x: (len(x[0]), x[1][1]))
    left = np.array([table.allowed[p] - table.charge[p] for p in pairs])
    _, worst, also = _best_of(track, pairs, left, place)
    return Along(guide.at(place), pairs, margin, worst, proven and also)


def _track(table: Table, guide: Guide) -> _Track:
    a, ha = as_plane([h.core for h in table.a])
    b, hb = as_plane([h.core for h in table.b])
    if guide.flipped:
        a, ha = a.conj(), ha.conj()
    if isinstance(guide, Slide):
        turned = complex(
            math.cos(math.radians(guide.pose.angle_deg)), math.sin(math.radians(guide.pose.angle_deg))
        )
        a = a * turned + complex(guide.pose.x_mm, guide.pose.y_mm)
        return _Track(a, ha * turned, b, hb, complex(*guide.along))
    about_a = complex(*guide.about_a)
    a = a - (about_a.conjugate() if guide.flipped else about_a)
    return _Track(a, ha, b - complex(*guide.about_b), hb, None)


def _where(track: _Track, pairs: Pairs, level: Real) -> tuple[Real, Real]:
    """Intervals of all pairs on which they pass."""
    if not track.slotted:
        low, high = track.intervals(pairs, level)
        some = np.isfinite(low)
        return low[some], high[some]
    low_, high_ = [], []
    places = _places(track, pairs, level)
    step = float(places[1] - places[0])
    for n, pair in enumerate(pairs):
        inside = track.apart((pair,), places)[0] <= level[n]
        edges = np.flatnonzero(np.diff(np.concatenate([[False], inside, [False]]).astype(int)))
        low_ += [float(places[e]) - step / 2 for e in edges[::2]]
        high_ += [float(places[e - 1]) + step / 2 for e in edges[1::2]]
    return np.array(low_), np.array(high_)


def _places(track: _Track, pairs: Pairs, level: Real) -> Real:
    """Evenly spaced places over all of the guide where a pair could pass."""
    if track.along is None:
        return np.linspace(-math.pi, math.pi, STEPS, endpoint=False)
    i, k = (np.array(side) for side in zip(*pairs, strict=True))
    middle = ((track.b[k] - track.a[i]) * np.conj(track.along)).real
    reach = float(level.max()) + float(np.abs(track.ha).max()) + float(np.abs(track.hb).max())
    return np.linspace(float(middle.min()) - reach, float(middle.max()) + reach, STEPS)


def _deepest(low: Real, high: Real, period: float | None) -> list[float]:
    """Places inside the most intervals, from cell to cell; on a circle where there is a period."""
    if not len(low):
        return []
    if period is not None:
        width = np.minimum(high - low, period)
        low = np.mod(low, period)
        high = low + width
        over = high >= period
        low, high = np.concatenate([low, low[over] - period]), np.concatenate([high, high[over] - period])
    at = np.concatenate([low, high])
    step = np.concatenate([np.ones(len(low)), -np.ones(len(high))])
    order = np.lexsort((-step, at))
    at, depth = at[order], np.cumsum(step[order])
    starts = np.flatnonzero((step[order] > 0) & (depth >= depth.max()))
    return [float(at[s] + at[s + 1]) / 2 for s in starts[:MOST_CELLS]]


def _best_of(track: _Track, pairs: Pairs, room: Real, near: float) -> tuple[float, float, bool]:
    """Place, margin and proof for one pairing over the whole guide."""
    if track.slotted:
        return _halved(track, pairs, room, near)
    floor = float((room - track.apart(pairs, np.array([near]))[:, 0]).min())
    ceiling = float(room.min())
    place = near
    for _ in range(HALVINGS):
        middle = (floor + ceiling) / 2
        if not floor < middle < ceiling:
            break
        low, high = track.intervals(pairs, room - middle)
        cells = [] if np.isnan(low).any() else _common(low, high, track.period)
        if cells:
            place = min(cells, key=lambda s: abs(s - near))
            floor = max(middle, float((room - track.apart(pairs, np.array([place]))[:, 0]).min()))
        else:
            ceiling = middle
    margin = float((room - track.apart(pairs, np.array([place]))[:, 0]).min())
    return place, margin, ceiling - margin <= SAME_MM


def _common(low: Real, high: Real, period: float | None) -> list[float]:
    """Places that lie in all of the intervals."""
    if period is None:
        return [float(low.max() + high.min()) / 2] if low.max() <= high.min() else []
    middle, half = (low + high) / 2, (high - low) / 2
    return [
        s
        for s in _deepest(low, high, period)
        if bool((np.abs((s - middle + math.pi) % FULL - math.pi) <= half + 1e-15).all())
    ]


def _halved(track: _Track, pairs: Pairs, room: Real, near: float) -> tuple[float, float, bool]:
    """Branch and bound: parts of the guide that cannot beat the best by 1e-6 mm are dropped, the rest are halved."""
    i = [p[0] for p in pairs]
    speed = 1.0 if track.along is not None else float((np.abs(track.a[i]) + np.abs(track.ha[i])).max())
    places = _places(track, pairs, np.maximum(room, 0))
    half = float(places[1] - places[0]) / 2
    best, place = float((room - track.apart(pairs, np.array([near]))[:, 0]).min()), near
    while len(places) <= MOST_PARTS:
        margins = (room[:, None] - track.apart(pairs, places)).min(axis=0)
        top = int(margins.argmax())
        if margins[top] > best:
            best, place = float(margins[top]), float(places[top])
        places = places[margins + speed * half > best + SLOT_MM]
        if not len(places):
            return place, best, True
        half /= 2
        places = np.concatenate([places - half, places + half])
    return place, best, False
