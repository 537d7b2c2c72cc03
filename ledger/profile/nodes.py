"""
Where the ends of pieces meet.

Two *ends* meet at a *node*. Ends within SNAP_MM are one point: that is number noise, of which no plate knows.
An end left alone joins the nearest lone end within GAP_MM, which is a drafting gap: closed, and told. A node then
has two ends (a contour runs through), one (it is open) or more (it branches). Points go into a grid of cells, so
the work grows with their number, not its square.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence

from ledger.domain.shape import Point
from ledger.profile.piece import apart

SNAP_MM = 1e-4
GAP_MM = 0.01


class Grid:
    """Points by cell; `near` looks at the nine cells around."""

    def __init__(self, reach_mm: float) -> None:
        self.reach_mm = reach_mm
        self._cells: defaultdict[tuple[int, int], list[int]] = defaultdict(list)
        self._points: dict[int, Point] = {}

    def add(self, index: int, point: Point) -> None:
        """One more point, under a number."""
        self._points[index] = point
        self._cells[self._cell(point)].append(index)

    def near(self, point: Point) -> Iterator[tuple[float, int]]:
        """(distance, number) of every point within reach."""
        cx, cy = self._cell(point)
        for x in (cx - 1, cx, cx + 1):
            for y in (cy - 1, cy, cy + 1):
                for index in self._cells.get((x, y), ()):
                    distance = apart(point, self._points[index])
                    if distance <= self.reach_mm:
                        yield distance, index

    def _cell(self, point: Point) -> tuple[int, int]:
        return (math.floor(point[0] / self.reach_mm), math.floor(point[1] / self.reach_mm))


class Nodes:
    """
    Nodes over a list of ends, the two of a piece next to each other.

    `node[k]` is the node of end k, `point[n]` its place, `ends[n]` the ends at it.

    The place of a node is its lowest, leftmost end: the same whatever the order of the ends.
    """

    def __init__(self, ends: Sequence[Point], *, short: Collection[int] = ()) -> None:
        """`short` are ends of pieces so short that a gap must not be closed between their own two ends."""
        self._parent = list(range(len(ends)))
        self._points = list(ends)
        self._short = frozenset(short)
        self.gaps: list[tuple[float, Point]] = []
        self._snap()
        self._close_gaps()
        self._gather()

    def _find(self, k: int) -> int:
        while self._parent[k] != k:
            self._parent[k] = self._parent[self._parent[k]]
            k = self._parent[k]
        return k

    def _snap(self) -> None:
        grid = Grid(SNAP_MM)
        first: dict[Point, int] = {}
        for k, point in enumerate(self._points):
            if point in first:
                self._parent[self._find(k)] = self._find(first[point])
                continue
            first[point] = k
            for _, other in grid.near(point):
                self._parent[self._find(k)] = self._find(other)
            grid.add(k, point)

    def _close_gaps(self) -> None:
        """Lone ends that are each other's nearest are joined; a lone end beside a node joins it and branches."""
        size: defaultdict[int, int] = defaultdict(int)
        for k in range(len(self._points)):
            size[self._find(k)] += 1
        grid = Grid(GAP_MM)
        first = {point: k for k, point in enumerate(self._points)}
        for point, k in first.items():
            grid.add(k, point)
        lone = [k for k in range(len(self._points)) if size[self._find(k)] == 1]
        nearest = {k: self._nearest(grid, k, size) for k in lone}
        for k, found in nearest.items():
            if found is None:
                continue
            gap, other = found
            back = nearest.get(other)
            mutual = other not in nearest or (back is not None and back[1] == k)
            if mutual and self._find(k) != self._find(other):
                self._parent[self._find(k)] = self._find(other)
                self.gaps.append((gap, min(self._points[k], self._points[other])))

    def _nearest(self, grid: Grid, k: int, size: dict[int, int]) -> tuple[float, int] | None:
        """The nearest end of another node; a lone one goes before one that has its partner."""
        found = [
            (size[self._find(other)] > 1, gap, self._points[other], other)
            for gap, other in grid.near(self._points[k])
            if self._find(other) != self._find(k) and not (other == k ^ 1 and k in self._short)
        ]
        if not found:
            return None
        _, gap, _, other = min(found)
        return gap, other

    def _gather(self) -> None:
        members: defaultdict[int, list[int]] = defaultdict(list)
        for k in range(len(self._points)):
            members[self._find(k)].append(k)
        self.node = [self._find(k) for k in range(len(self._points))]
        self.ends = dict(members)
        self.point = {
            n: min((self._points[k] for k in ks), key=lambda p: (p[1], p[0])) for n, ks in members.items()
        }
