"""
Tabs of a plate's outline, slots in another plate, and whether they go together.

A *tab* is a straight tip between two square corners, with a shoulder on both sides, or on one where no tab of the
plate has two. Its *width* runs along the tip, its *length* is what it stands out. A *slot* is a rectangular opening,
with or without reliefs in its corners, or a hole drawn as a slot. Tabs that point one way go into slots of one line;
the plate is shifted along that line, either way round, to where the tightest tab has the most room.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from ledger.domain.shape import Contour, Hole, Point

_SQUARE: Final = math.sin(math.radians(2.0))  # corners this near to square count as square
_SAME_WAY: Final = math.cos(math.radians(1.0))
_ONE_LINE_MM: Final = 2.0
_SHARE: Final = 0.3  # an edge of a slot counts with this much of the longest one's length
_LEAST_MM: Final = 0.5

Edge = tuple[Point, Point, float]


@dataclass(frozen=True, slots=True)
class Tab:
    """`middle` of the tip, the direction `out` of the plate, width along the tip, length from the shoulder."""

    middle: Point
    out: Point
    width_mm: float
    length_mm: float
    shoulders: int

    @property
    def place_mm(self) -> float:
        """Where it lies along its tip's direction, which is `out` turned by a quarter."""
        return -self.middle[0] * self.out[1] + self.middle[1] * self.out[0]


@dataclass(frozen=True, slots=True)
class Slot:
    """A slot's middle, the direction it runs in, and its clear length and width."""

    middle: Point
    along: Point
    length_mm: float
    width_mm: float
    round_ends: bool = False

    def clear_length_mm(self, thickness_mm: float) -> float:
        """The length that a sheet of a thickness finds; in round ends its corners stop it sooner."""
        if not self.round_ends:
            return self.length_mm
        radius = self.width_mm / 2
        if not thickness_mm / 2 < radius:
            return self.length_mm - self.width_mm
        return self.length_mm - self.width_mm + 2 * math.sqrt(radius**2 - (thickness_mm / 2) ** 2)

    def at(self, along: Point) -> tuple[float, float]:
        """Where it lies along a direction and across it."""
        x, y = self.middle
        return x * along[0] + y * along[1], -x * along[1] + y * along[0]


@dataclass(frozen=True, slots=True)
class Seated:
    """One tab in its slot: both sizes, and how far their middles are apart at the best place."""

    tab: Tab
    slot: Slot
    off_mm: float


@dataclass(frozen=True, slots=True)
class TabFit:
    """Tabs in slots at the best place. `spare` is the least room along the line, negative where it does not go."""

    seated: tuple[Seated, ...]
    spare_mm: float
    tabs_left: tuple[Tab, ...] = ()
    slots_left: int = 0


def tabs_of(outline: Contour) -> tuple[Tab, ...]:
    """The tabs of an outline: those with two shoulders, else those with one."""
    ring = outline if outline.area_mm2 >= 0 else outline.reversed()
    edges = [e for e in ring.edges() if math.dist(e[0], e[1]) > 0]
    found = [tab for k in range(len(edges)) if (tab := _tab(edges, k))]
    both = tuple(t for t in found if t.shoulders > 1)
    return both or tuple(found)


def slots_of(openings: Iterable[Contour], holes: Iterable[Hole]) -> tuple[Slot, ...]:
    """The slots among openings and holes."""
    drawn = (s for ring in openings if (s := _rectangle(ring)))
    return (*drawn, *(_obround(h) for h in holes if h.is_slot))


def seat_tabs(
    tabs: Sequence[Tab], slots: Sequence[Slot], thickness_mm: float, loss_mm: float = 0.0
) -> TabFit | None:
    """
    The tabs of one side in the slots of one line that leave fewest over, then the most room.

    `loss_mm` is what each tab's room along the line is smaller by in the worst case. None without tabs or slots.
    """
    best: TabFit | None = None
    for side in _sides(tabs):
        for line, along in _lines(slots):
            fit = _Row(side, line, [s.at(along)[0] for s in line], thickness_mm, loss_mm).best()
            if best is None or _better(fit, best):
                best = fit
    return best


def _better(one: TabFit, other: TabFit) -> bool:
    return (-len(one.tabs_left), len(one.seated), one.spare_mm) > (
        -len(other.tabs_left),
        len(other.seated),
        other.spare_mm,
    )


@dataclass(frozen=True, slots=True)
class _Row:
    """Tabs of one side before slots of one line, whose places along it are known."""

    side: list[Tab]
    line: list[Slot]
    places: list[float]
    thickness_mm: float
    loss_mm: float

    def best(self) -> TabFit:
        """Each tab, or each slot where there are fewer, takes the nearest; tried from every first place, both ways."""
        best = TabFit((), -math.inf, tuple(self.side), len(self.line))
        for sign in (1.0, -1.0):
            for first in self.side:
                for place in self.places:
                    fit = self._at_best(self._pair(sign, place - sign * first.place_mm), sign)
                    if _better(fit, best):
                        best = fit
        return best

    def _pair(self, sign: float, shift: float) -> list[tuple[int, int]]:
        """Tabs and slots by their numbers, nearest first, none twice."""
        near = sorted(
            (abs(sign * tab.place_mm + shift - place), i, j)
            for i, tab in enumerate(self.side)
            for j, place in enumerate(self.places)
        )
        pairs: dict[int, int] = {}
        for _apart, i, j in near:
            if i not in pairs and j not in pairs.values():
                pairs[i] = j
        return list(pairs.items())

    def _at_best(self, pairs: list[tuple[int, int]], sign: float) -> TabFit:
        """The shift that leaves the tightest tab the most room: the middle of where all go, or miss least."""
        lows, highs = [], []
        for i, j in pairs:
            room = (
                self.line[j].clear_length_mm(self.thickness_mm) - self.side[i].width_mm - self.loss_mm
            ) / 2
            expected = self.places[j] - sign * self.side[i].place_mm
            lows.append(expected - room)
            highs.append(expected + room)
        low, high = max(lows), min(highs)
        shift = (low + high) / 2
        seated = tuple(
            Seated(self.side[i], self.line[j], abs(sign * self.side[i].place_mm + shift - self.places[j]))
            for i, j in pairs
        )
        taken = {i for i, _ in pairs}
        left = tuple(tab for i, tab in enumerate(self.side) if i not in taken)
        return TabFit(seated, (high - low) / 2, left, len(self.line) - len(pairs))


def _sides(tabs: Sequence[Tab]) -> list[list[Tab]]:
    """Tabs that point one way."""
    sides: list[list[Tab]] = []
    for tab in tabs:
        home = next((s for s in sides if _dot(s[0].out, tab.out) >= _SAME_WAY), None)
        if home is None:
            sides.append([tab])
        else:
            home.append(tab)
    return sides


def _lines(slots: Sequence[Slot]) -> Iterator[tuple[list[Slot], Point]]:
    """Slots that run in one line, with the line's direction."""
    left = list(slots)
    while left:
        along = left[0].along
        across = left[0].at(along)[1]
        line = [
            s
            for s in left
            if abs(_dot(s.along, along)) >= _SAME_WAY and abs(s.at(along)[1] - across) <= _ONE_LINE_MM
        ]
        yield line, along
        left = [s for s in left if s not in line]


def _tab(edges: list[Edge], k: int) -> Tab | None:
    before, tip, after = edges[k - 1], edges[k], edges[(k + 1) % len(edges)]
    if before[2] or tip[2] or after[2]:
        return None
    down, across, up = _way(before), _way(tip), _way(after)
    square = abs(_dot(down, across)) <= _SQUARE and abs(_dot(across, up)) <= _SQUARE
    if not (square and _cross(down, across) > 0 and _cross(across, up) > 0):
        return None
    n = len(edges)
    around = (
        (before, edges[k - 2], edges[(k - 3) % n], _shoulder(edges[k - 2], before)),
        (after, edges[(k + 2) % n], edges[(k + 3) % n], _shoulder(after, edges[(k + 2) % n])),
    )
    sides = [_stands_out(side, floor, beyond) for side, floor, beyond, there in around if there]
    width = math.dist(tip[0], tip[1])
    if not sides or not width > _LEAST_MM or not min(sides) > _LEAST_MM:
        return None
    middle = ((tip[0][0] + tip[1][0]) / 2, (tip[0][1] + tip[1][1]) / 2)
    return Tab(middle, (across[1], -across[0]), width, min(sides), len(sides))


def _stands_out(side: Edge, floor: Edge, beyond: Edge) -> float:
    """
    How far a side stands out over its shoulder. Where the shoulder is the floor of a square relief, the line that the
    relief is cut into counts; the line between two reliefs is no tip, and stands out by nothing.
    """
    length, depth = math.dist(side[0], side[1]), math.dist(beyond[0], beyond[1])
    narrow = not (floor[2] or beyond[2]) and math.dist(floor[0], floor[1]) < max(length, depth)
    if not narrow or _dot(_way(side), _way(beyond)) > -_SAME_WAY or abs(length - depth) <= _LEAST_MM:
        return length
    return max(0.0, length - depth)


def _shoulder(one: Edge, other: Edge) -> bool:
    """Whether the outline turns inwards from one edge to the next, or a relief is cut there."""
    if one[2] or other[2]:
        return True
    return _cross(_way(one), _way(other)) < -_SQUARE


def _rectangle(ring: Contour) -> Slot | None:
    straight = [e for e in ring.edges() if not e[2] and math.dist(e[0], e[1]) > 0]
    if len(straight) < 4:  # noqa: PLR2004 - the sides of a rectangle
        return None
    along = _way(max(straight, key=lambda e: math.dist(e[0], e[1])))
    across = (-along[1], along[0])
    wide, long = _between(straight, across), _between(straight, along)
    if wide is None or long is None:
        return None
    (low, high), (start, end) = wide, long
    middle_along, middle_across = (start + end) / 2, (low + high) / 2
    middle = (
        middle_along * along[0] + middle_across * across[0],
        middle_along * along[1] + middle_across * across[1],
    )
    if end - start >= high - low:
        return Slot(middle, along, end - start, high - low)
    return Slot(middle, across, high - low, end - start)


def _between(straight: list[Edge], off: Point) -> tuple[float, float] | None:
    """The two places, along a direction, of edges square to it that face each other with nothing between."""
    running = [
        (math.dist(a, b), _dot(a, off))
        for a, b, _ in straight
        if abs(_dot(_way((a, b, 0.0)), off)) <= _SQUARE
    ]
    longest = max((length for length, _ in running), default=0.0)
    places = sorted(place for length, place in running if length >= _SHARE * longest)
    widest = max(pairwise(places), key=lambda pair: pair[1] - pair[0], default=None)
    return widest if widest and widest[1] - widest[0] > _LEAST_MM else None


def _obround(hole: Hole) -> Slot:
    (ax, ay), (bx, by) = hole.core
    run = math.dist(hole.core[0], hole.core[1])
    return Slot(
        hole.centre,
        ((bx - ax) / run, (by - ay) / run),
        run + hole.diameter_mm,
        hole.diameter_mm,
        round_ends=True,
    )


def _way(edge: Edge) -> Point:
    (ax, ay), (bx, by) = edge[0], edge[1]
    length = math.hypot(bx - ax, by - ay)
    return ((bx - ax) / length, (by - ay) / length)


def _dot(p: Point, q: Point) -> float:
    return p[0] * q[0] + p[1] * q[1]


def _cross(p: Point, q: Point) -> float:
    return p[0] * q[1] - p[1] * q[0]
