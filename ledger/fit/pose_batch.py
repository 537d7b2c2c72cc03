"""
Many poses of round holes at once: problems of one size side by side in arrays.

Each is led downhill by an interior-point method on its *watched* pairs, those with the greatest excess (a row each in
arrays problems x pairs); its active pairs are then polished by Newton steps and make its certificate. What is not
proven that way is solved by itself: the answers are those of best_pose.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from ledger.fit.joint import Real
from ledger.fit.layout import Layout, Plane
from ledger.fit.minimax import Best, Certificate, best_pose, of_one
from ledger.fit.pose_choice import least_squares

Flags = npt.NDArray[np.bool_]
Index = npt.NDArray[np.intp]
FEWEST: Final = 4  # problems of one size from which on it pays
WATCHED: Final = 16
BLOCK: Final = 1024  # problems at a time: what is at hand stays near
ROUNDS: Final = 4
INWARD: Final = 16
POLISH: Final = 2
MOST_HELD: Final = 4
TINY: Final = 1e-300
STIFF: Final = 1e-6
NEAR_ENOUGH: Final = 1e-6  # of the spread: for Newton steps to do the rest
LEAST: Final = 1e-16  # of room
AIM, SHORT, BACK = 0.05, 0.99, 0.1
DIAGONAL: Final = np.arange(3)
BALANCED: Final = 1e-13


def best_poses(layouts: Sequence[Layout]) -> list[Best]:
    """The margin over all rotations and shifts of every layout, each as best_pose has it from least squares."""
    found: dict[int, Best] = {}
    sizes: dict[int, list[int]] = {}
    for k, layout in enumerate(layouts):
        if not layout.slotted and len(layout.c) > 2:  # noqa: PLR2004 - two are solved at once
            sizes.setdefault(len(layout.c), []).append(k)
    for same in sizes.values():
        for first in range(0, len(same), BLOCK):
            some = same[first : first + BLOCK]
            if len(some) >= FEWEST:
                found.update(zip(some, _side_by_side([layouts[k] for k in some]), strict=True))
    return [found.get(k) or best_pose(x, least_squares(x)[0]) for k, x in enumerate(layouts)]


def _side_by_side(layouts: Sequence[Layout]) -> list[Best]:
    with np.errstate(all="ignore"):  # what is not finite is not proven, and solved by itself
        return _solved_side_by_side(layouts)


def _solved_side_by_side(layouts: Sequence[Layout]) -> list[Best]:
    a, b, c = (np.array([getattr(x, name) for x in layouts]) for name in "abc")
    near = np.array([x.tolerance for x in layouts])
    state = Poses(a, b, c)
    level = state.excess().max(axis=1)
    cap = c.min(axis=1)
    lying = level <= near / 2 - cap
    at = np.flatnonzero(~lying)
    made: dict[int, Best] = {}
    if len(at):
        some = state.only(at)
        weights, watched = some.descend()
        state.turn[at], state.shift[at] = some.turn, some.shift
        for k, best in some.proven(weights, watched, near[at]).items():
            made[int(at[k])] = best
    for k in np.flatnonzero(lying).tolist():
        angle, shift = float(np.angle(state.turn[k])), complex(state.shift[k])
        made[k] = Best(angle, shift, -float(level[k]), float(cap[k]), (of_one(layouts[k]),), 1)
    return [made.get(k) or best_pose(x, least_squares(x)[0]) for k, x in enumerate(layouts)]


class Poses:
    """Problems side by side with a pose each, at first that of least squares."""

    def __init__(
        self, a: Plane, b: Plane, c: Real, turn: Plane | None = None, shift: Plane | None = None
    ) -> None:
        self.a, self.b, self.c = a, b, c
        if turn is None or shift is None:
            home_a, home_b = a.mean(axis=1), b.mean(axis=1)
            total = ((a - home_a[:, None]).conj() * (b - home_b[:, None])).sum(axis=1)
            turn = np.where(np.abs(total) > 1e-15 * a.shape[1], total, 1.0)
            turn = turn / np.abs(turn)
            shift = home_b - turn * home_a
        self.turn, self.shift = turn, shift

    def only(self, rows: Index | Flags) -> Poses:
        """Some of the problems."""
        return Poses(self.a[rows], self.b[rows], self.c[rows], self.turn[rows], self.shift[rows])

    def picked(self, pairs: Index) -> Poses:
        """The same problems with some of their pairs."""
        rows = np.arange(len(pairs))[:, None]
        return Poses(self.a[rows, pairs], self.b[rows, pairs], self.c[rows, pairs], self.turn, self.shift)

    def excess(self) -> Real:
        """e_i - c_i of all pairs."""
        return np.asarray(np.abs(self.turn[:, None] * self.a - self.b + self.shift[:, None]) - self.c)

    def around(self) -> tuple[Real, Plane, Real, Real, Real]:
        """Excess, rays, slopes (angle, x, y by problem and pair), what lies across, and offsets."""
        placed = self.turn[:, None] * self.a
        gap = placed - self.b + self.shift[:, None]
        offset: Real = np.maximum(np.abs(gap), TINY)
        rays = np.asarray(gap / offset, dtype=np.complex128)
        arms = rays.conj() * placed
        slopes = np.stack([-arms.imag, rays.real, rays.imag], axis=1)
        across = np.stack([arms.real, -rays.imag, rays.real], axis=1)
        return np.asarray(offset - self.c), rays, slopes, across, offset

    def move(self, step: Real) -> None:
        """By small turns and shifts, a row (angle, x, y) for each problem."""
        self.turn = self.turn * np.exp(1j * step[:, 0])
        self.shift = self.shift + step[:, 1] + 1j * step[:, 2]

    def descend(self) -> tuple[Real, Index]:
        """To the local optima, roughly; the weights of watched pairs, and which they are."""
        n = self.a.shape[1]
        rows = np.arange(len(self.a))
        count = min(n, WATCHED)
        watched = np.zeros((len(rows), count), dtype=np.intp)
        weights = np.zeros((len(rows), count))
        for _ in range(ROUNDS):
            part = self.only(rows)
            excess = part.excess()
            most = (
                np.argpartition(-excess, count - 1, axis=1)[:, :count]
                if count < n
                else np.tile(np.arange(n), (len(rows), 1))
            )
            small = part.picked(most)
            weights[rows], watched[rows] = _inward(small), most
            self.turn[rows], self.shift[rows] = small.turn, small.shift
            if count == n:
                break
            after = self.only(rows).excess()
            rows = rows[after.max(axis=1) > small.excess().max(axis=1)]
            if not len(rows):
                break
        return weights, watched

    def proven(self, weights: Real, watched: Index, near: Real) -> dict[int, Best]:
        """Polished and proven answers, by problem; those that fail are left out."""
        order = np.argsort(-weights, axis=1, kind="stable")[:, :MOST_HELD]
        heavy = np.take_along_axis(weights, order, axis=1)
        pairs = np.take_along_axis(watched, order, axis=1)
        held = np.maximum((heavy > 0).sum(axis=1), 2)
        found: dict[int, Best] = {}
        for count in range(2, min(MOST_HELD, self.a.shape[1]) + 1):
            rows = np.flatnonzero(held == count)
            if len(rows):
                some = self.only(rows)
                for k, best in _polished(some, pairs[rows, :count], heavy[rows, :count], near[rows]).items():
                    found[int(rows[k])] = best
        return found


def _inward(poses: Poses) -> Real:
    """Moves the poses to their optima by a primal-dual interior-point method; weights, 0 where a pair has room."""
    m, n = poses.c.shape
    excess, _, slopes, across, offset = poses.around()
    top = excess.max(axis=1)
    spread = np.maximum(top - excess.min(axis=1), TINY)
    level = top + spread / 4
    weights = np.full((m, n), 1.0 / n)
    matrix, right = np.empty((m, 4, 4)), np.empty((m, 4, 1))
    for _ in range(INWARD):
        room = np.maximum(level[:, None] - excess, LEAST)
        aim = AIM * (weights * room).mean(axis=1)
        if (aim <= NEAR_ENOUGH * spread).all():
            break
        firm = weights / room
        pull = slopes * firm[:, None, :]
        bend = (across * (weights / offset)[:, None, :]) @ across.transpose(0, 2, 1)
        matrix[:, :3, :3] = bend + pull @ slopes.transpose(0, 2, 1)
        matrix[:, 0, 0] -= np.minimum((weights * across[:, 0]).sum(axis=1), 0)
        matrix[:, DIAGONAL, DIAGONAL] += STIFF * np.trace(bend, axis1=1, axis2=2)[:, None]
        matrix[:, :3, 3] = matrix[:, 3, :3] = -pull.sum(axis=2)
        matrix[:, 3, 3] = firm.sum(axis=1)
        share = aim[:, None] / room
        right[:, :3, 0] = -(slopes * share[:, None, :]).sum(axis=2)
        right[:, 3, 0] = share.sum(axis=1) - 1
        step = _solved(matrix, right)
        sinks = step[:, 3:] - (slopes * step[:, :3, None]).sum(axis=1)
        gains = share - weights - firm * sinks
        part = np.minimum(_as_far(room, sinks), _as_far(weights, gains))
        poses.move(part[:, None] * step[:, :3])
        weights += part[:, None] * gains
        excess, _, slopes, across, offset = poses.around()
        top = excess.max(axis=1)
        expected = level + part * step[:, 3]
        level = np.where(expected > top, expected, top + BACK * room.min(axis=1))
    room = level[:, None] - excess
    return np.asarray(np.where(weights * spread[:, None] > room, weights, 0.0))


def _as_far(values: Real, steps: Real) -> Real:
    """How much of the steps keeps all values of a row positive, a little short of it."""
    falls = np.where(steps < 0, values / np.minimum(steps, -TINY), -np.inf).max(axis=1)
    return np.asarray(np.minimum(1.0, -SHORT * falls))


def _polished(poses: Poses, pairs: Index, weights: Real, near: Real) -> dict[int, Best]:
    """Newton steps on the pairs that hold, all the same number of them; the answers that their waves prove."""
    m, held = pairs.shape
    small = poses.picked(pairs)
    size = held + 4
    matrix, right = np.zeros((m, size, size)), np.zeros((m, size, 1))
    inner = slice(3, 3 + held)
    for _ in range(POLISH):
        excess, _, slopes, across, offset = small.around()
        bend = (across * (weights / offset)[:, None, :]) @ across.transpose(0, 2, 1)
        matrix[:, :3, :3] = bend
        matrix[:, 0, 0] -= (weights * across[:, 0]).sum(axis=1)
        matrix[:, DIAGONAL, DIAGONAL] += STIFF * np.trace(bend, axis1=1, axis2=2)[:, None]
        matrix[:, :3, inner] = slopes
        matrix[:, inner, :3] = slopes.transpose(0, 2, 1)
        matrix[:, inner, -1] = matrix[:, -1, inner] = -1
        right[:, inner, 0], right[:, -1, 0] = -excess, -1
        step = _solved(matrix, right)
        small.move(step[:, :3])
        weights = step[:, inner]
    turn, shift = small.turn, small.shift
    top = Poses(poses.a, poses.b, poses.c, turn, shift).excess().max(axis=1)
    _, rays, slopes, _, _ = small.around()
    shares, rays = _shares(rays, slopes)
    fixed = (shares * rays.conj() * small.a).sum(axis=1)
    turned = (shares * rays.conj() * small.b).sum(axis=1)
    inwards = (fixed * turn).real < 0
    level = (shares * small.c).sum(axis=1)
    ceiling = level + np.where(inwards, turned.real + np.abs(fixed), np.abs(turned) - (fixed * turn).real)
    loose = np.abs((shares * rays).sum(axis=1))
    good = (shares.min(axis=1) >= 0) & (loose <= BALANCED) & (ceiling <= near / 2 - top)
    rays = np.where(inwards[:, None], rays, rays * turn.conj()[:, None])
    rows = np.flatnonzero(good)
    columns = (
        rows, np.angle(turn)[rows], shift[rows], -top[rows], np.maximum(ceiling, -top)[rows], pairs[rows],
        shares[rows], rays[rows], ~inwards[rows],
    )  # fmt: skip
    return {
        k: Best(angle, at, margin, most, (Certificate(tuple(p), tuple(w), tuple(u), turning=t),), 1)
        for k, angle, at, margin, most, p, w, u, t in zip(*(x.tolist() for x in columns), strict=True)
    }


def _solved(matrix: Real, right: Real) -> Real:
    """Solutions of many small systems; not a number where one is singular."""
    try:
        return np.asarray(np.linalg.solve(matrix, right)[:, :, 0])
    except np.linalg.LinAlgError:
        half = len(matrix) // 2
        if half == 0:
            return np.full(right.shape[:2], np.nan)
        return np.concatenate([_solved(matrix[:half], right[:half]), _solved(matrix[half:], right[half:])])


def _shares(rays: Plane, slopes: Real) -> tuple[Real, Plane]:
    """Weights in balance of force (and of moment where four hold), and the rays, of two made opposite."""
    held = rays.shape[1]
    if held == 2:  # noqa: PLR2004 - two, three or four pairs hold a pose
        pull = rays[:, 0] - rays[:, 1]
        pull /= np.maximum(np.abs(pull), TINY)
        return np.full(rays.shape, 0.5), np.stack([pull, -pull], axis=1)
    if held == 3:  # noqa: PLR2004
        u, v, w = rays.T
        parts = np.stack([_cross(v, w), _cross(w, u), _cross(u, v)], axis=1)
    else:
        x = slopes.transpose(2, 0, 1)

        def volume(i: int, j: int, k: int) -> Real:
            return np.asarray((np.cross(x[i], x[j]) * x[k]).sum(axis=1))

        parts = np.stack([volume(1, 2, 3), -volume(0, 2, 3), volume(0, 1, 3), -volume(0, 1, 2)], axis=1)
    total = parts.sum(axis=1)
    return parts / np.where(total == 0, np.nan, total)[:, None], rays


def _cross(x: Plane, y: Plane) -> Real:
    return np.asarray(x.real * y.imag - x.imag * y.real)
