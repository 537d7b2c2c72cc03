"""
The poses that leave the tightest link the most, by a primal-dual interior point method.

Every link keeps  f = |g|²/s - s <= 0  with  s = room - share m,  g its gap with the turns as they truly are; sought is
the greatest m. Newton's method is led along y f = -1/t for a growing t, from poses whose m is low enough to keep every
f below 0. The multipliers y give weights L = y (1 + |g|²/s²) and vectors u = 2 y g/s, |u| <= L, in balance of force at
every body and point: the proof that near by nothing is better.

Source: S. Boyd and L. Vandenberghe, Convex Optimization (2004), 11.7, for constraints that are convex but for the
turns; the turns make the answer a local optimum.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from ledger.assembly.links import Links, Place, margins
from ledger.fit.joint import Real
from ledger.fit.layout import Plane

SHARP_MM: Final = 1e-7  # how far the margin may be from the best near by
STEPS: Final = 60
CENTRING: Final = 8.0
BACK: Final = 0.5
SHORTEST: Final = 1e-10
ENOUGH: Final = 0.01
BALANCED: Final = 1e-9
MOST_TURN: Final = 0.3  # radians in one step
STEADY: Final = 1e-13
Box = tuple[Real, Real]


@dataclass(frozen=True, slots=True)
class Found:
    """A set of poses, its margin, and the weights and vectors of every link; `margin_mm` is what is truly there."""

    place: Place
    margin_mm: float
    weights: Real
    vectors: Plane


@dataclass(slots=True)
class _State:
    """Everything that is known at x: the constraints' values and slopes, and how the links lie."""

    f: Real
    gap: Plane
    room: Real
    turns: Plane
    moves: Plane
    slopes: Real
    cores: tuple[Plane, Plane]


def best_poses(links: Links, start: Place, box: Box | None = None) -> Found:
    """
    The poses near `start` with the greatest margin; with a box (lowest and highest angle of every body but the first)
    only within it, where the start must lie.
    """
    return _Search(links, start, box).solve()


class _Search:
    """Unknowns: m; of every body but the first its turn (times its reach) and shift; shifts of points; slides."""

    def __init__(self, links: Links, start: Place, box: Box | None) -> None:
        self.links, self.turns, self.box = links, start.turns, box
        movers = links.bodies + links.points
        self.reach = np.concatenate([[1.0], links.reach[1 : links.bodies]])
        self.at_shift = links.bodies
        self.at_slide = self.at_shift + 2 * (movers - 1)
        slots = [(j, side) for side in (0, 1) for j in np.flatnonzero((links.ha, links.hb)[side])]
        self.slot_row = np.array([j for j, _ in slots], dtype=np.intp)
        self.slot_side = np.array([side for _, side in slots], dtype=np.intp)
        self.half = np.where(self.slot_side == 0, links.ha[self.slot_row], links.hb[self.slot_row])
        self.slot_body = np.where(self.slot_side == 0, links.one[self.slot_row], links.other[self.slot_row])
        self.unknowns = self.at_slide + len(slots)
        self.steady = self._shift_columns()
        self.turning = [
            (rows := np.flatnonzero((side > 0) & (side < links.bodies)), side[rows])
            for side in (links.one, links.other)
        ]
        self.origin = start.shifts[:1]
        self.angles = np.angle(start.turns[1 : links.bodies])
        if box is not None:  # the same angles, counted where the box is
            middle = (box[0] + box[1]) / 2
            self.angles += 2 * math.pi * np.round((middle - self.angles) / (2 * math.pi))
        self.start = np.zeros(self.unknowns)
        self.start[self.at_shift : self.at_slide : 2] = start.shifts[1:].real
        self.start[self.at_shift + 1 : self.at_slide : 2] = start.shifts[1:].imag
        apart = np.abs(self._cores(self.start)[0])
        shared = links.share > 0
        worst = float(((links.room - apart)[shared] / links.share[shared]).min())
        self.start[0] = worst - 0.3 * max(float(apart.max()), abs(worst), 1e-2)

    def _shift_columns(self) -> Plane:
        made = np.zeros((len(self.links.one), self.unknowns), dtype=complex)
        line = np.arange(len(made))
        for side, sign in ((self.links.one, 1), (self.links.other, -1), (self.links.loose, 1)):
            free = side > 0
            np.add.at(made, (line[free], self.at_shift + 2 * (side[free] - 1)), sign)
            np.add.at(made, (line[free], self.at_shift + 2 * (side[free] - 1) + 1), sign * 1j)
        return made

    def solve(self) -> Found:
        x, many = self.start, len(self.links.one)
        state = self._state(x)
        if state is None:  # what has no room at all, whatever the margin, has no poses
            return Found(
                Place(self._turned(x), self._shifts(x)),
                -math.inf,
                np.zeros(many),
                np.zeros(many, dtype=complex),
            )
        y = 1.0 / (many * -state.f)
        y /= max(
            1e-300, float((y[:many] * (1 + (np.abs(state.gap) / state.room) ** 2) * self.links.share).sum())
        )
        for _ in range(STEPS):
            surrogate = float(-(state.f * y).sum())
            t = max(CENTRING * len(y) / surrogate, 1.0)
            rest = y @ state.slopes
            rest[0] -= 1
            if surrogate <= SHARP_MM and float(np.abs(rest).max()) <= BALANCED:
                break
            step, rise = self._step(state, y, t)
            moved = self._moved(x, y, state, (step, rise), (rest, t))
            if moved is None:
                break
            x, y, state = moved
        y = y[:many]
        stretch = np.abs(state.gap) / state.room
        place = Place(state.turns, self._shifts(x))
        return Found(
            place, float(margins(self.links, place).min()), y * (1 + stretch**2),
            np.asarray(2 * y * state.gap / state.room),
        )  # fmt: skip

    def _moved(
        self, x: Real, y: Real, state: _State, way: tuple[Real, Real], at: tuple[Real, float]
    ) -> tuple[Real, Real, _State] | None:
        """As far along a step as keeps every constraint and makes what is left of the conditions less."""
        (step, rise), (rest, t) = way, at
        left = math.hypot(float(np.linalg.norm(rest)), float(np.linalg.norm(-state.f * y - 1 / t)))
        falling = rise < 0
        length = min(1.0, 0.99 * float((-y[falling] / rise[falling]).min(initial=2.0)))
        turned = float(np.abs(step[1 : self.at_shift] / self.reach[1:]).max(initial=0.0))
        length = min(length, MOST_TURN / turned) if turned > 0 else length
        while length > SHORTEST:
            new = x + length * step
            found = self._state(new)
            if found is not None:
                higher = y + length * rise
                over = higher @ found.slopes
                over[0] -= 1
                now = math.hypot(
                    float(np.linalg.norm(over)), float(np.linalg.norm(-found.f * higher - 1 / t))
                )
                if now <= (1 - ENOUGH * length) * left:
                    return new, higher, found
            length *= BACK
        return None

    def _turned(self, x: Real) -> Plane:
        turns = self.turns.copy()
        turns[1 : self.links.bodies] *= np.exp(1j * x[1 : self.at_shift] / self.reach[1:])
        return turns

    def _shifts(self, x: Real) -> Plane:
        pairs = x[self.at_shift : self.at_slide]
        return np.concatenate([self.origin, pairs[::2] + 1j * pairs[1::2]])

    def _cores(self, x: Real) -> tuple[Plane, Plane, Plane, Plane]:
        """Gaps, the turned cores of both sides with their slides, and the turns."""
        links, turns, shifts = self.links, self._turned(x), self._shifts(x)
        a, b = links.a, links.b
        if len(self.half):
            a, b = a.copy(), b.copy()
            slid = x[self.at_slide :] * self.half
            first = self.slot_side == 0
            a[self.slot_row[first]] += slid[first]
            b[self.slot_row[~first]] += slid[~first]
        one, other = turns[links.one] * a, turns[links.other] * b
        moved = np.where(links.loose >= 0, shifts[links.loose], 0)
        return one + shifts[links.one] - other - shifts[links.other] + moved, one, other, turns

    def _state(self, x: Real) -> _State | None:
        """None where some constraint does not hold."""
        gap, one, other, turns = self._cores(x)
        room = self.links.room - self.links.share * x[0]
        if float(room.min()) <= 0:
            return None
        parts = [np.abs(gap) ** 2 / room - room]
        if len(self.half):
            parts.append(x[self.at_slide :] ** 2 - 1)
        if self.box is not None:
            angles = self.angles + x[1 : self.at_shift] / self.reach[1:]
            parts += [self.box[0] - angles, angles - self.box[1]]
        f = np.concatenate(parts) if len(parts) > 1 else parts[0]
        if not float(f.max()) < 0:
            return None
        moves = self._moves((one, other), turns)
        return _State(f, gap, room, turns, moves, self._slopes(x, (gap, room), moves), (one, other))

    def _moves(self, cores: tuple[Plane, Plane], turns: Plane) -> Plane:
        """How every gap follows the unknowns."""
        made = self.steady.copy()
        for (rows, body), arm, sign in zip(self.turning, cores, (1j, -1j), strict=True):
            made[rows, body] += sign * arm[rows] / self.reach[body]
        if len(self.half):
            signs = np.where(self.slot_side == 0, 1, -1)
            made[self.slot_row, np.arange(self.at_slide, self.unknowns)] = (
                signs * turns[self.slot_body] * self.half
            )
        return made

    def _slopes(self, x: Real, lying: tuple[Plane, Real], moves: Plane) -> Real:
        """The slope of every constraint, by row."""
        links, stretch = self.links, lying[0] / lying[1]
        made = 2 * (stretch.real[:, None] * moves.real + stretch.imag[:, None] * moves.imag)
        made[:, 0] = (np.abs(stretch) ** 2 + 1) * links.share
        rows = [made]
        if len(self.half):
            ends = np.zeros((len(self.half), self.unknowns))
            at = np.arange(self.at_slide, self.unknowns)
            ends[at - self.at_slide, at] = 2 * x[at]
            rows.append(ends)
        if self.box is not None:
            sides = np.zeros((links.bodies - 1, self.unknowns))
            at = np.arange(1, self.at_shift)
            sides[at - 1, at] = 1 / self.reach[1:]
            rows += [-sides, sides]
        return np.concatenate(rows) if len(rows) > 1 else made

    def _step(self, state: _State, y: Real, t: float) -> tuple[Real, Real]:
        """Newton's step of the unknowns and of the multipliers."""
        many, slopes = len(self.links.one), state.slopes
        bowl = state.moves.copy()
        bowl[:, 0] = state.gap * self.links.share / state.room
        stretched = bowl * np.sqrt(2 * y[:many] / state.room)[:, None]
        curve = stretched.real.T @ stretched.real + stretched.imag.T @ stretched.imag
        if len(self.half):
            at = np.arange(self.at_slide, self.unknowns)
            curve[at, at] += 2 * y[many : many + len(self.half)]
        curve += (slopes * (y / -state.f)[:, None]).T @ slopes
        pull = slopes.T @ (1 / (t * -state.f))
        pull[0] -= 1
        step = self._solved(curve, self._bent(state, y[:many]), -pull)
        rise = (1 / t + state.f * y + y * (slopes @ step)) / -state.f
        return step, rise

    def _bent(self, state: _State, y: Real) -> Real:
        """What the bending of the turns adds to the curvature."""
        made = np.zeros((self.unknowns, self.unknowns))
        pull = 2 * y * (state.gap / state.room).conj()
        for (rows, body), arm, sign in zip(self.turning, state.cores, (-1, 1), strict=True):
            np.add.at(made, (body, body), sign * (pull[rows] * arm[rows]).real / self.reach[body] ** 2)
        for number, (row, side, body) in enumerate(
            zip(self.slot_row, self.slot_side, self.slot_body, strict=True)
        ):
            if 0 < body < self.links.bodies:
                round_ = 1j if side == 0 else -1j
                mixed = (pull[row] * round_ * state.turns[body] * self.half[number]).real / self.reach[body]
                made[body, self.at_slide + number] += mixed
                made[self.at_slide + number, body] += mixed
        return made

    @staticmethod
    def _solved(curve: Real, bent: Real, pull: Real) -> Real:
        """Newton's step with the bending of the turns where that leads down, else without it."""
        line = np.arange(len(curve))
        size = float(np.trace(curve)) / len(curve)
        for matrix in (curve + bent, curve):
            scale = 1 / np.sqrt(np.maximum(matrix[line, line], size * STEADY))
            scaled = matrix * scale[:, None] * scale
            scaled[line, line] += STEADY
            try:
                np.linalg.cholesky(scaled)
            except np.linalg.LinAlgError:
                continue
            return np.asarray(np.linalg.solve(scaled, pull * scale) * scale)
        return np.asarray(pull / np.maximum(curve[line, line], size * STEADY))
