"""
The pose of a stack that leaves the tightest hole the most room, with the certificates that prove it.

At given angles the problem is convex; every distance to a core is the greatest of its shadows on all directions, so
a linear program with a few directions for each hole, added where the last answer broke a circle, comes as near as
expected. Small turns are its unknowns, too: solved again about its own answer it walks to a local optimum, and its
dual is a certificate. Then the boxes of angles that no certificate covers are taken one by one, the program is
solved in the middle of each for a certificate more, and what is still not covered is split.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from ledger.fit.joint import SAME_MM, Real
from ledger.fit.layout import Plane
from ledger.fit.stack_layout import StackLayout, away, best_axes, half_rooms
from ledger.fit.stack_polish import polish
from ledger.fit.stack_program import certificate_from, solve_program
from ledger.fit.stack_proof import Bound, Bounds, StackCertificate, bound_of, halves
from ledger.fit.stack_turns import first_box

TOLERANCE_MM: Final = 5e-6  # of the half margin: the margin is proven to 0.00001 mm
DIRECTIONS: Final = 5
SLACK_MM: Final = 0.02
CUTS: Final = 16
WALKS: Final = 12
CLOSE_MM: Final = 2e-10
MOST_PROGRAMS: Final = 80
FEW_BOLTS: Final = 10
WIDE: Final = 0.2
SETTLED: Final = 20
NARROWEST: Final = 1e-9
NEAR: Final = 1e-2
NARROW: Final = 1e-5
COARSE_MM: Final = 1e-2


@dataclass(frozen=True, slots=True)
class StackBest:
    """Turns (unit complex) and shifts of every ply, axes of the bolts, the half margin; proven where it says so."""

    turns: Plane
    shifts: Plane
    axes: Plane
    half_margin_mm: float
    certificates: tuple[StackCertificate, ...]
    complete: bool
    programs: int


@dataclass(slots=True)
class _Search:
    layout: StackLayout
    watched: list[int]  # bolts in the linear program
    best: tuple[float, Plane, Plane, Plane] | None = None
    certificates: list[StackCertificate] = field(default_factory=list)
    bounds: list[Bound] = field(default_factory=list)
    pool: Bounds | None = None
    programs: int = 0
    floor_mm: float = -math.inf  # of the half margin: what lies below it need not be told apart

    @property
    def half_margin_mm(self) -> float:
        return self.best[0] if self.best else -math.inf

    @property
    def limit_mm(self) -> float:
        """What no pose is to exceed."""
        return max(self.half_margin_mm + TOLERANCE_MM / 2, self.floor_mm)

    def covers(self, low: Real, high: Real) -> bool:
        """Whether some certificate shows that no pose in the box is better than the best, or than the floor."""
        return self.pool is not None and self.pool.least(low, high) <= self.limit_mm

    def stands(self) -> bool:
        """Whether the certificates show that at its own angles the best pose leaves the most."""
        angles = np.angle(self.best[1])[1:] if self.best else np.zeros(0)
        return self.covers(angles, angles)

    def keep(self, made: StackCertificate, angles: Real, reach: float = NEAR) -> None:
        """A certificate more, where it is sound, in the frame in which it is lowest about the angles it is of."""
        low, high = angles[1:] - reach, angles[1:] + reach
        framed = [self.framed(made, float(angle), k) for k, angle in enumerate(angles)]
        sound = [(bound.most(low, high), k) for k, (_, bound) in enumerate(framed) if bound]
        if sound:
            certificate, bound = framed[min(sound)[1]]
            self.certificates.append(certificate)
            self.bounds += [bound] if bound else []
            self.pool = Bounds.of(self.bounds)

    def framed(
        self, made: StackCertificate, angle: float, frame: int
    ) -> tuple[StackCertificate, Bound | None]:
        """A certificate, made in the frame of the first ply, in that of another one at its angle; its bound."""
        vectors = made.vectors * np.exp(-1j * angle)
        certificate = StackCertificate(made.weights, np.asarray(vectors, dtype=np.complex128), frame)
        try:
            return certificate, bound_of(self.layout, certificate, self.half_margin_mm if self.best else 0.0)
        except ValueError:
            return certificate, None


def best_stack(
    layout: StackLayout, start: Real, *, prove: int = MOST_PROGRAMS, floor_mm: float = -math.inf
) -> StackBest:
    """
    The half margin over all poses, or near `start` where no proof is needed; `start` has an angle for every ply.

    `complete` where the certificates show that no pose leaves more than this, or than `floor_mm` where that is more;
    `prove` linear programs at most are spent on showing it.
    """
    search = _Search(layout, _first_watched(layout, start), floor_mm=floor_mm)
    _cap(search)
    _walk(search, np.asarray(start, dtype=float))
    complete = prove > 0 and _cover(search, prove)
    margin, turns, shifts, axes = search.best or (-math.inf, *(np.zeros(0, dtype=complex),) * 3)
    return StackBest(turns, shifts, axes, margin, tuple(search.certificates), complete, search.programs)


def worst_of(layout: StackLayout, hard: StackLayout, found: StackBest) -> float:
    """The half margin with the rooms of the worst case: the same less a constant, where all plies lose alike."""
    there = layout.there
    lost = (layout.rooms - np.where(there, hard.rooms, 0))[there]
    if float(np.ptp(lost)) <= SAME_MM:
        return found.half_margin_mm - float(lost.max())
    again = best_stack(hard, np.angle(found.turns), prove=0)
    return again.half_margin_mm  # a pose that was found: never more than the best one


def _first_watched(layout: StackLayout, start: Real) -> list[int]:
    """Slots, and the bolts that lie worst at the first pose: the others join when they turn out to matter."""
    if layout.bolts <= FEW_BOLTS:
        return list(range(layout.bolts))
    turns = np.exp(1j * start)
    axes = (turns[:, None] * layout.middles).mean(axis=0)
    left = half_rooms(layout, turns, np.zeros(layout.plies, dtype=complex), axes).min(axis=0)
    slotted = np.flatnonzero(np.any(layout.halves != 0, axis=0)).tolist()
    return sorted({*slotted, *np.argsort(left, kind="stable")[:FEW_BOLTS].tolist()})


def _cap(search: _Search) -> None:
    """The certificate of the smallest room alone."""
    weights = np.zeros(search.layout.rooms.shape)
    weights[np.unravel_index(int(search.layout.rooms.argmin()), weights.shape)] = 1.0
    made = StackCertificate(weights, np.zeros(weights.shape, dtype=complex))
    search.keep(made, np.zeros(search.layout.plies))


def _walk(search: _Search, angles: Real) -> None:
    """From these angles to a local optimum: straight there, else by linear programs, which do not lose their way."""
    directions = _Directions(search.layout)
    _note(search, *polish(search.layout, search.watched, _begun(search.layout, angles)))
    if search.best:
        before, watched = search.half_margin_mm, len(search.watched)
        angles = np.angle(search.best[1])
        directions.aim(search.watched, search.best[1:])
        _solve(search, angles, np.full(search.layout.plies, NARROW), directions)
        if search.half_margin_mm - before <= CLOSE_MM and len(search.watched) == watched and search.stands():
            return
    for _ in range(WALKS):
        before, watched = search.half_margin_mm, len(search.watched)
        solved = _solve(search, angles, np.full(search.layout.plies, WIDE), directions)
        if solved is None:
            return
        angles = solved
        if search.half_margin_mm >= search.layout.cap_mm - CLOSE_MM:
            return
        gained = search.half_margin_mm - before
        if gained <= COARSE_MM and search.best and len(search.watched) == watched:
            before = search.half_margin_mm
            _note(search, *polish(search.layout, search.watched, search.best[1:]))
            angles = np.angle(search.best[1])
            _solve(search, angles, np.full(search.layout.plies, NARROW), directions)
            if search.half_margin_mm - before <= CLOSE_MM and len(search.watched) == watched:
                return


def _begun(layout: StackLayout, angles: Real) -> tuple[Plane, Plane, Plane]:
    """A pose to begin with: plies and bolts each in the middle of what they meet, in turn."""
    turns = np.exp(1j * angles)
    placed, there = turns[:, None] * layout.middles, layout.there
    shifts = np.zeros(layout.plies, dtype=complex)
    axes = np.zeros(layout.bolts, dtype=complex)
    for _ in range(SETTLED):
        axes = np.where(there, placed + shifts[:, None], 0).sum(axis=0) / np.maximum(there.sum(axis=0), 1)
        off = np.where(there, axes[None, :] - placed, 0).sum(axis=1) / np.maximum(there.sum(axis=1), 1)
        shifts = off - off[0]
    return turns, shifts, axes


def _cover(search: _Search, programs: int) -> bool:
    """Whether certificates cover every box; takes more of them, and a better pose where one turns up."""
    layout, free = search.layout, search.layout.plies - 1
    box = first_box(layout, search.limit_mm)
    boxes = [] if box is None else [box]
    directions = _Directions(layout)
    most = search.programs + programs
    while boxes:
        low, high = boxes.pop()
        if search.covers(low, high):
            continue
        if search.programs >= most or float((high - low).max()) < NARROWEST:
            return False
        wide = float((high - low).max()) > 2 * WIDE
        play = np.concatenate([[0.0], np.zeros(free) if wide else (high - low) / 2])
        middle = np.concatenate([[0.0], (low + high) / 2])
        _solve(search, middle, play, directions, box=(low, high))
        if not search.covers(low, high):
            boxes += halves(low, high)
    return True


@dataclass(slots=True)
class _Directions:
    """The directions in which each hole's circle is kept: rows (ply, bolt, unit vector)."""

    layout: StackLayout
    rows: list[tuple[int, int, complex]] = field(default_factory=list)
    holds: set[int] = field(default_factory=set)

    def begin(self, bolts: list[int]) -> None:
        for i in bolts:
            if i not in self.holds:
                self.holds.add(i)
                for k in np.flatnonzero(self.layout.there[:, i]):
                    turn = 0.3 * float(k)
                    self.rows += [
                        (int(k), i, complex(np.exp(1j * (turn + 2 * math.pi * d / DIRECTIONS))))
                        for d in range(DIRECTIONS)
                    ]

    def aim(self, bolts: list[int], pose: tuple[Plane, Plane, Plane]) -> None:
        """Adds the directions in which the axes lie at a pose."""
        gap = away(self.layout, *pose)
        self.begin(bolts)
        self.rows += [
            (int(k), i, complex(gap[k, i] / abs(gap[k, i])))
            for i in bolts
            for k in np.flatnonzero(np.abs(gap[:, i]) > 0)
        ]


def _solve(
    search: _Search, angles: Real, play: Real, directions: _Directions, box: tuple[Real, Real] | None = None
) -> Real | None:
    """
    Solve about these angles with small turns up to `play`; note pose and certificate; the angles found.

    With a box it stops as soon as a certificate covers it.
    """
    layout, close = search.layout, CLOSE_MM if box is None else TOLERANCE_MM / 20
    slides = np.zeros(layout.rooms.shape)
    made = None
    for _ in range(CUTS):
        directions.begin(search.watched)
        search.programs += 1
        found = solve_program(layout, search.watched, (angles, play, slides), directions.rows)
        if found is None:
            return None
        level, small, shifts, axes, slid, duals, slack = found
        made = certificate_from(layout, duals, directions.rows)
        if box and made and _covers(search, made, angles + small, box):
            break
        directions.rows = [
            r for r, s, d in zip(directions.rows, slack, duals, strict=True) if s < SLACK_MM or d > 0
        ]
        linear = np.exp(1j * angles)[:, None] * (layout.middles + slides * layout.halves)
        placed = linear * (1 + 1j * small[:, None]) + shifts[:, None]
        placed += (slid - slides) * np.exp(1j * angles)[:, None] * layout.halves
        gap = np.where(layout.there, axes[None, :] - placed, 0)
        over = np.abs(gap) + level - layout.rooms
        new = [
            (int(k), int(i), complex(gap[k, i] / abs(gap[k, i])))
            for i in search.watched
            for k in np.flatnonzero(over[:, i] > close)
            if abs(gap[k, i]) > 0
        ]
        directions.rows += new
        if not new:
            break
    _note(search, angles + small, shifts, axes)
    if made is not None:
        search.keep(made, angles + small)
    return np.asarray(angles + small)


def _covers(search: _Search, made: StackCertificate, angles: Real, box: tuple[Real, Real]) -> bool:
    """Whether a certificate in some frame covers the box."""
    bounds = [b for k, angle in enumerate(angles) if (b := search.framed(made, float(angle), k)[1])]
    return bool(bounds) and Bounds.of(bounds).least(*box) <= search.limit_mm


def _note(search: _Search, angles: Real, shifts: Plane, axes: Plane) -> None:
    """The true margin at a pose; bolts that were not watched and are the tightest are from now on."""
    layout, turns = search.layout, np.exp(1j * angles)
    if len(search.watched) < layout.bolts:
        best = best_axes(layout, turns, shifts, axes)
        unwatched = np.setdiff1d(np.arange(layout.bolts), search.watched)
        axes = axes.copy()
        axes[unwatched] = best[unwatched]
    left = half_rooms(layout, turns, shifts, axes).min(axis=0)
    if search.best is None or float(left.min()) > search.best[0]:
        search.best = (float(left.min()), turns, shifts, axes)
    tight = float(left[search.watched].min())
    worse = [int(i) for i in np.argsort(left, kind="stable") if left[i] < tight - CLOSE_MM]
    search.watched = sorted({*search.watched, *worse[:4]})
