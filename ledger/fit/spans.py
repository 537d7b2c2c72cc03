"""
Where on a guide a pair of holes passes: its *spans*, from place to place.

A *track* is the guide with the candidates of both plies: at s the cores of A lie at a e^(is) (turning, s in radians
from -pi to pi) or a + s along (sliding, s in mm), about B's origin. Two cores come to lie a given distance apart only
where an end of one is that far from an end of the other, or from the other's line: all of these *events* have closed
forms.
Between two neighbouring events a pair passes everywhere or nowhere, so that its spans are exact, however narrow.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ledger.fit.candidates import Table
from ledger.fit.guide import Guide, Slide
from ledger.fit.joint import Real
from ledger.fit.layout import Plane, as_plane, between
from ledger.fit.pairing import Pairs

Index = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Spans:
    """From `low` to `high` the pair `owner` (an index) passes; the spans of one pair have no place in common."""

    owner: Index
    low: Real
    high: Real


@dataclass(frozen=True, slots=True)
class Track:
    """Middles and half vectors of the candidates; `along` is None where A turns."""

    a: Plane
    ha: Plane
    b: Plane
    hb: Plane
    along: complex | None

    @staticmethod
    def of(table: Table, guide: Guide) -> Track:
        """The track of all candidates of a table."""
        a, ha = as_plane([h.core for h in table.a])
        b, hb = as_plane([h.core for h in table.b])
        if guide.turned_over:
            a, ha = a.conj(), ha.conj()
        if isinstance(guide, Slide):
            angle = math.radians(guide.pose.angle_deg)
            turned = complex(math.cos(angle), math.sin(angle))
            a = a * turned + complex(guide.pose.x_mm, guide.pose.y_mm)
            along = complex(*guide.along)
            return Track(a, ha * turned, b, hb, along / abs(along))
        about_a = complex(*guide.about_a)
        a = a - (about_a.conjugate() if guide.turned_over else about_a)
        return Track(a, ha, b - complex(*guide.about_b), hb, None)

    def apart(self, pairs: Pairs, where: Real) -> Real:
        """Core distances: pairs x places, where the places are the same for all pairs or a row for each."""
        i, k = np.array(pairs, dtype=np.intp).T
        where = np.broadcast_to(np.atleast_2d(where), (len(i), np.shape(where)[-1]))
        if self.along is None:
            turned = np.exp(1j * where)
            a, ha = self.a[i, None] * turned, self.ha[i, None] * turned
        else:
            a, ha = self.a[i, None] + where * self.along, np.broadcast_to(self.ha[i, None], where.shape)
        v = a - self.b[k, None]
        if not (self.ha[i].any() or self.hb[k].any()):
            return np.asarray(np.abs(v))
        hb = np.broadcast_to(self.hb[k, None], where.shape)
        return np.asarray(np.abs(between(v.ravel(), ha.ravel(), hb.ravel())).reshape(v.shape))

    def spans(self, pairs: Pairs, level: Real) -> Spans:
        """Where each pair is no farther apart than its level, in mm."""
        i, k = np.array(pairs, dtype=np.intp).reshape(-1, 2).T
        slotted = (self.ha[i] != 0) | (self.hb[k] != 0)
        round_, long_ = np.flatnonzero(~slotted & (level >= 0)), np.flatnonzero(slotted & (level >= 0))
        found = [self._of_round(i[round_], k[round_], level[round_]).named(round_)] if len(round_) else []
        if len(long_):
            found.append(self._of_slots([pairs[n] for n in long_], level[long_]).named(long_))
        empty = np.zeros(0)
        owner = np.concatenate([f.owner for f in found]) if found else np.zeros(0, dtype=np.intp)
        low = np.concatenate([f.low for f in found]) if found else empty
        return Spans(owner, low, np.concatenate([f.high for f in found]) if found else empty)

    def _of_round(self, i: Index, k: Index, level: Real) -> _Found:
        middle, half = self._circle(self.a[i], self.b[k], level)
        if self.along is not None:
            some = np.flatnonzero(np.isfinite(half))
            return _Found(some, middle[some] - half[some], middle[some] + half[some])
        fixed = (self.a[i] == 0) | (self.b[k] == 0)
        half = np.where(fixed & (np.abs(np.abs(self.a[i]) - np.abs(self.b[k])) <= level), math.pi, half)
        some = np.flatnonzero(np.isfinite(half))
        middle, half = np.angle(np.exp(1j * middle[some])), half[some]
        whole = half >= math.pi
        low, high = np.where(whole, -math.pi, middle - half), np.where(whole, math.pi, middle + half)
        under, over = np.flatnonzero(low < -math.pi), np.flatnonzero(high > math.pi)
        return _Found(
            np.concatenate([some, some[under], some[over]]),
            np.concatenate(
                [np.maximum(low, -math.pi), low[under] + 2 * math.pi, np.full(len(over), -math.pi)]
            ),
            np.concatenate(
                [np.minimum(high, math.pi), np.full(len(under), math.pi), high[over] - 2 * math.pi]
            ),
        )

    def _of_slots(self, pairs: list[tuple[int, int]], level: Real) -> _Found:
        """Events of every pair in order, and whether it passes between them; a touch is a span without length."""
        events = np.sort(self._events(pairs, level), axis=1)  # not a number: none; at the end
        if self.along is None:
            edge = np.full((len(pairs), 1), math.pi)
            events = np.concatenate([-edge, np.where(np.isnan(events), math.pi, events), edge], axis=1)
        else:
            some = np.flatnonzero(np.isfinite(events[:, 0]))
            if len(some) < len(pairs):
                found = self._of_slots([pairs[n] for n in some], level[some]) if len(some) else None
                return found.named(some) if found else _Found.none()
            events = np.where(np.isnan(events), np.nanmax(events, axis=1)[:, None], events)
        middles = (events[:, :-1] + events[:, 1:]) / 2
        between_, at = (self.apart(tuple(pairs), x) <= level[:, None] for x in (middles, events))
        beside = np.pad(between_, ((0, 0), (1, 1)))
        at |= beside[:, :-1] | beside[:, 1:]
        steps = np.empty((len(pairs), 2 * events.shape[1] + 1), dtype=bool)
        steps[:, 0] = steps[:, -1] = False
        steps[:, 1::2], steps[:, 2:-1:2] = at, between_
        owner, first = np.nonzero(steps[:, 1:] & ~steps[:, :-1])
        _, last = np.nonzero(steps[:, :-1] & ~steps[:, 1:])
        return _Found(owner, events[owner, (first + 1) // 2], events[owner, (last - 1) // 2])

    def _events(self, pairs: list[tuple[int, int]], level: Real) -> Real:
        """Places where an end of one core lies a level away from an end, or from the line, of the other."""
        i, k = np.array(pairs, dtype=np.intp).T
        found = []
        for p in (self.a[i] - self.ha[i], self.a[i] + self.ha[i]):
            for q in (self.b[k] - self.hb[k], self.b[k] + self.hb[k]):
                middle, half = self._circle(p, q, level)
                found += [middle - half, middle + half]
            for away in (level, -level):
                found += self._line(p, self.b[k], self.hb[k], away)
        for q in (self.b[k] - self.hb[k], self.b[k] + self.hb[k]):
            for away in (level, -level):
                found += self._line_of_a(q, self.a[i], self.ha[i], away)
        events = np.stack(found, axis=1)
        events[~np.isfinite(events)] = np.nan  # the line of a slot along the slide is never crossed
        return np.angle(np.exp(1j * events)) if self.along is None else events

    def _circle(self, p: Plane, q: Plane, level: Real) -> tuple[Real, Real]:
        """Around which place, and how far to each side, p is no farther from q than the level; NaN for nowhere."""
        with np.errstate(invalid="ignore", divide="ignore"):
            if self.along is not None:
                to = (q - p) * np.conj(self.along)
                aside = np.abs(to.imag)
                return to.real, np.sqrt((level - aside) * (level + aside))
            far, near = np.abs(p), np.abs(q)
            out = np.abs(far - near)
            return np.angle(q) - np.angle(p), _half((level - out) * (level + out) / (4 * far * near))

    def _line(self, p: Plane, b: Plane, hb: Plane, away: Real) -> list[Real]:
        """Where p of A lies `away` to the left of B's line."""
        with np.errstate(invalid="ignore", divide="ignore"):
            normal = 1j * hb / np.abs(hb)
            if self.along is not None:
                rise = (self.along * normal.conj()).real
                return [((b - p) * normal.conj()).real / rise + away / rise]
            return _crossings(p * normal.conj(), (b * normal.conj()).real + away)

    def _line_of_a(self, q: Plane, a: Plane, ha: Plane, away: Real) -> list[Real]:
        """Where q of B lies `away` to the left of A's line."""
        with np.errstate(invalid="ignore", divide="ignore"):
            normal = 1j * ha / np.abs(ha)
            if self.along is not None:
                rise = (self.along * normal.conj()).real
                return [((q - a) * normal.conj()).real / rise - away / rise]
            return [-x for x in _crossings(q * normal.conj(), (a * normal.conj()).real + away)]


@dataclass(frozen=True, slots=True)
class _Found(Spans):
    """Spans of some of the pairs."""

    def named(self, which: Index) -> _Found:
        """The same with the indices that these pairs have among all."""
        return _Found(which[self.owner], self.low, self.high)

    @staticmethod
    def none() -> _Found:
        return _Found(np.zeros(0, dtype=np.intp), np.zeros(0), np.zeros(0))


def _half(share: Real) -> Real:
    """The angle whose half has this square of its sine: from 0 to pi, NaN below; exact where an arccos is not."""
    return np.asarray(2 * np.arcsin(np.sqrt(np.where(share < 0, np.nan, np.minimum(share, 1.0)))))


def _crossings(z: Plane, value: Real) -> list[Real]:
    """Angles s at which Re(z e^(is)) has the value; NaN where it never has."""
    size = np.abs(z)
    share = (size - value) / (2 * size)
    half = _half(np.where(share > 1, np.nan, share))
    return [-np.angle(z) - half, -np.angle(z) + half]
