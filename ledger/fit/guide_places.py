"""
The best places along a guide: A slides along one direction or turns about one point, and may do nothing else.

The spans of all pairs of holes cut the guide into *cells* with the same passing pairs everywhere. Those cells count in
which most holes find a partner each, one to one. Of the pairs met there the margin is raised until their spans have no
place in common; then a last look at all pairs tells whether any other pairing of as many still has more room. All of
it is exact to rounding, for slots as for round holes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from ledger.fit.case import MOST_WAYS
from ledger.fit.joint import SAME_MM, TOUCH_MM, Real
from ledger.fit.pairing import Pairs, match
from ledger.fit.spans import Index, Spans, Track

HALVINGS: Final = 100
FINE: Final = 1e-12  # of the largest number at hand: where halving ends
SLACK_MM: Final = 1e-10  # rounding of the spans' ends; a ceiling is lowered only beyond it
ROUNDS: Final = 40


@dataclass(frozen=True, slots=True)
class Along:
    """Where on the guide these pairs have their largest margin, and whether nowhere on it they have a larger one."""

    place: float
    pairs: Pairs
    margin_mm: float
    proven: bool


@dataclass(frozen=True, slots=True)
class _Cell:
    """From place to place the same pairs pass; no more than `most` of them can be told apart."""

    low: float
    high: float
    most: int


def best_along(track: Track, room: Real) -> tuple[tuple[Along, ...], bool]:
    """
    The pairings in which most holes meet, each where it has the most room, the roomiest first; and whether these
    are all of them that matter.

    `room` (A x B, in mm) is how far apart a pair may lie; negative for holes that never meet.
    """
    every: Pairs = tuple(zip(*(x.tolist() for x in np.nonzero(room >= 0)), strict=True))
    rooms = np.array([room[p] for p in every])
    if not every:
        return (), True
    found: dict[Pairs, Along] = {}
    hopeful = sorted(_pairings(track, every, rooms).items(), key=lambda x: -x[1][1])
    for pairs, (place, _) in hopeful[:MOST_WAYS]:
        found[pairs] = best_of(track, pairs, np.array([room[p] for p in pairs]), place)
    size = max(map(len, found), default=0)
    closed = not found
    for _ in range(ROUNDS):
        if closed:
            break
        least = max(x.margin_mm for x in found.values()) + SAME_MM
        better = _pairings(track, every, rooms - least, size)
        new = [(pairs, place) for pairs, (place, _) in better.items() if pairs not in found]
        closed = not new
        for pairs, place in new:
            found[pairs] = best_of(track, pairs, np.array([room[p] for p in pairs]), place)
    return tuple(sorted(found.values(), key=lambda x: -x.margin_mm)), closed and len(hopeful) <= MOST_WAYS


def best_of(track: Track, pairs: Pairs, room: Real, near: float) -> Along:
    """The largest margin of these pairs over the whole guide; `near` is a place that is not bad."""

    def margin_at(place: float) -> float:
        return float((room - track.apart(pairs, np.array([place]))[:, 0]).min())

    place, best = near, margin_at(near)
    floor, ceiling = best, float(room.min())
    fine = FINE * max(1.0, abs(floor), abs(ceiling))
    for _ in range(HALVINGS):
        if ceiling - floor <= fine:
            break
        middle = (floor + ceiling) / 2
        cells = _common(track.spans(pairs, room - middle + SLACK_MM), len(pairs))
        if not cells:
            ceiling = middle
            continue
        low, high = max(cells, key=lambda c: (c[1] - c[0], -abs(c[0] - near)))
        floor = middle
        if (now := margin_at((low + high) / 2)) > best:
            place, best = (low + high) / 2, now
            floor = max(floor, best)
    return Along(place, pairs, best, ceiling - best <= SAME_MM)


def pairs_met(apart: Real, room: Real) -> Pairs:
    """
    Most pairs that lie within their room, one to one; of such pairings one whose tightest pair has the most room.

    `apart` and `room` are A x B, in mm.
    """
    left = room - apart
    allowed = left >= -TOUCH_MM
    rows, columns = match(apart, allowed)
    if len(rows) and not _alone(allowed):
        levels = np.unique(left[allowed])  # any pairing as large passes at the least of them
        low, high = int(np.searchsorted(levels, left[rows, columns].min())), len(levels) - 1
        while low < high:
            middle = (low + high + 1) // 2
            if _size(left >= levels[middle]) < len(rows):
                high = middle - 1
            else:
                low = middle
        rows, columns = match(apart, left >= levels[low])
    return tuple(zip(rows.tolist(), columns.tolist(), strict=True))


def _pairings(track: Track, every: Pairs, level: Real, least: int = 1) -> dict[Pairs, tuple[float, float]]:
    """The pairings of most holes, at least so many, with a place where each passes and its margin there."""
    spans = track.spans(every, level + SAME_MM)
    i, k = np.array(every, dtype=np.intp).T
    found: dict[Pairs, tuple[float, float]] = {}
    for cell in sorted(_cells(spans, i, k), key=lambda c: -c.most):
        if cell.most < least:
            break
        place = (cell.low + cell.high) / 2
        here = np.unique(spans.owner[(spans.low <= place) & (spans.high >= place)])
        apart, room = (
            np.full((len(track.a), len(track.b)), np.inf),
            np.full((len(track.a), len(track.b)), -1.0),
        )
        apart[i[here], k[here]] = track.apart(tuple(every[n] for n in here), np.array([place]))[:, 0]
        room[i[here], k[here]] = np.maximum(
            level[here], apart[i[here], k[here]]
        )  # its span says that it passes
        pairs = pairs_met(apart, room)
        if len(pairs) > least:
            found, least = {}, len(pairs)
        if len(pairs) == least:
            margin = min(float(room[p] - apart[p]) for p in pairs)
            if pairs not in found or margin > found[pairs][1]:
                found[pairs] = place, margin
    return found


def _cells(spans: Spans, i: Index, k: Index) -> Iterator[_Cell]:
    """Where a span has begun and the next to end follows: every other place has fewer pairs than one of these."""
    rows: Counter[int] = Counter()
    columns: Counter[int] = Counter()
    for low, high, begun, ended in _turns(spans):
        for n in begun:
            rows[int(i[n])] += 1
            columns[int(k[n])] += 1
        yield _Cell(low, high, min(len(rows), len(columns)))
        for n in ended:
            for count, hole in ((rows, int(i[n])), (columns, int(k[n]))):
                count[hole] -= 1
                if not count[hole]:
                    del count[hole]


def _turns(spans: Spans) -> Iterator[tuple[float, float, list[int], list[int]]]:
    """From the last of some beginnings to the first end after them; with the pairs that begin before and end after."""
    at = np.concatenate([spans.low, spans.high])
    ends = np.repeat([False, True], len(spans.low))
    order = np.lexsort((ends, at))
    places, owner, is_end = at[order], np.concatenate([spans.owner, spans.owner])[order], ends[order]
    starts = np.flatnonzero(np.concatenate([[True], is_end[:-1]]) & ~is_end) if len(at) else ()
    for n, first in enumerate(starts):
        turn = int(first + np.argmax(is_end[first:]))
        last = int(starts[n + 1]) if n + 1 < len(starts) else len(at)
        yield (
            float(places[turn - 1]), float(places[turn]), owner[first:turn].tolist(), owner[turn:last].tolist()
        )  # fmt: skip


def _common(spans: Spans, pairs: int) -> list[tuple[float, float]]:
    """From where to where all the pairs pass."""
    if len(spans.owner) < pairs:
        return []
    if len(spans.owner) == pairs and len(np.unique(spans.owner)) == pairs:
        low, high = float(spans.low.max()), float(spans.high.min())
        return [(low, high)] if low <= high else []
    depth, found = 0, []
    for low, high, begun, ended in _turns(spans):
        depth += len(begun)
        if depth == pairs:
            found.append((low, high))
        depth -= len(ended)
    return found


def _alone(allowed: npt.NDArray[np.bool_]) -> bool:
    """Whether no hole has a choice."""
    return bool(allowed.sum(axis=0).max() <= 1 and allowed.sum(axis=1).max() <= 1)


def _size(allowed: npt.NDArray[np.bool_]) -> int:
    """How many pairs a one-to-one pairing can have."""
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import maximum_bipartite_matching

    return int((maximum_bipartite_matching(csr_array(allowed)) >= 0).sum())
