"""
The odds that two plies go together: lots drawn from what process or vendor holds, each decided.

Where the pose is free, it is free for each lot. A lot is *together* when one pose lets all fasteners in; that is so
where the pose of least squares does (a cheap sufficient test), not so where two holes of the plies lie farther from
the same distance than both joints take up (a cheap necessary one), and else as the minimax pose with its proof says.
At a stated pose every offset is looked at as it is. The pairing and the side up are those of the fit: a lot that goes
together only another way is not counted, which leans to the safe side. What could not be decided is counted apart.

Wilson's score interval: E. B. Wilson, "Probable inference, the law of succession, and statistical inference", J. Am.
Stat. Assoc. 22 (1927) 209-212; z = 1.96 for 95 %.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from ledger.domain.pose import Pose
from ledger.fit.joint import SAME_MM, Real
from ledger.fit.layout import Layout, Plane, between, lay_out_planes
from ledger.fit.lots import Draws, Lots, PairMade, made
from ledger.fit.minimax import Best, best_pose
from ledger.fit.pose_batch import Poses
from ledger.fit.pose_choice import least_squares

Z: Final = 1.959963984540054
AT_ONCE: Final = 1_000_000  # numbers of a block of lots
FEW: Final = 24  # pairs up to which all distances are compared
MOST_ALONE: Final = 12  # lots with slots that are solved one by one: each takes long
ROUNDS: Final = 40
SHARP: Final = 1.0
NEAR: Final = 1e-9
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Odds:
    """Of `lots` so many go `together`; `undecided` ones may or may not."""

    together: int
    lots: int
    undecided: int = 0

    @property
    def share(self) -> float:
        """The share that goes together for sure."""
        return self.together / self.lots

    @property
    def low(self) -> float:
        """The lower end of Wilson's score interval of the share that goes together for sure."""
        return wilson(self.together, self.lots)[0]

    @property
    def low_at_best(self) -> float:
        """The same if every undecided lot went together."""
        return wilson(self.together + self.undecided, self.lots)[0]

    @property
    def high_at_best(self) -> float:
        """The upper end of the interval if every undecided lot went together."""
        return wilson(self.together + self.undecided, self.lots)[1]


def wilson(good: int, of: int) -> tuple[float, float]:
    """Wilson's score interval of a share, 95 %."""
    share, z2 = good / of, Z * Z / of
    middle = share + z2 / 2
    half = Z * math.sqrt(share * (1 - share) / of + z2 / (4 * of))
    return max(0.0, (middle - half) / (1 + z2)), min(1.0, (middle + half) / (1 + z2))


def odds_of(
    pairs: Sequence[PairMade], pose: Pose, *, free: bool, draws: Draws | None = None, larger_mm: float = 0.0
) -> Odds:
    """The odds of these pairs: at this pose, or where it is `free` at the best one of each lot, as far turned over."""
    lots = made(pairs, draws or Draws.of(pairs), larger_mm)
    if pose.turned_over:
        lots = Lots(lots.a.conj(), lots.b, lots.ha.conj(), lots.hb, lots.c)
    count = len(lots.c)
    block = max(64, AT_ONCE // len(pairs) ** 2 if len(pairs) <= FEW else AT_ONCE // len(pairs))
    together = undecided = 0
    for first in range(0, count, block):
        some = lots.only(slice(first, first + block))
        alone = max(1, MOST_ALONE * block // max(count, block))
        good, known = _free(some, pose, alone) if free else _laid(some, pose)
        together += int(good.sum())
        undecided += int((~known).sum())
    return Odds(together, count, undecided)


def _laid(lots: Lots, pose: Pose) -> tuple[Flags, Flags]:
    """At a stated pose."""
    turn, move = cmath.rect(1, math.radians(pose.angle_deg)), complex(pose.x_mm, pose.y_mm)
    good = _excess(lots, np.full(len(lots.c), turn), np.full(len(lots.c), move)).max(axis=1) <= SAME_MM
    return np.asarray(good), np.ones(len(good), dtype=np.bool_)


def _excess(lots: Lots, turn: Plane, shift: Plane) -> Real:
    """Offset less take up of every pair, a pose for each lot."""
    return np.asarray(np.abs(_gaps(lots, turn, shift)) - lots.c)


def _gaps(lots: Lots, turn: Plane, shift: Plane) -> Plane:
    """The vector from B's core to A's of every pair."""
    v = turn[:, None] * lots.a - lots.b + shift[:, None]
    if not lots.slotted:
        return np.asarray(v)
    ga = turn[:, None] * lots.ha
    gb = np.broadcast_to(lots.hb, v.shape)
    return between(v.ravel(), ga.ravel(), gb.ravel()).reshape(v.shape)


def _free(lots: Lots, pose: Pose, alone: int = MOST_ALONE) -> tuple[Flags, Flags]:
    """At the best pose of each lot: which go together, and of which that is known."""
    with np.errstate(all="ignore"):
        passes: Flags = np.asarray((lots.c >= -SAME_MM).all(axis=1))
        rest = np.flatnonzero(passes)
        good: Flags = np.zeros(len(passes), dtype=np.bool_)
        known: Flags = np.ones(len(passes), dtype=np.bool_)
        if lots.a.shape[1] == 1:
            return passes, known
        some = lots.only(rest)
        at_once, turn = _at_once(some, pose)
        good[rest[at_once]] = True
        doubtful = np.flatnonzero(~at_once)
        if lots.a.shape[1] <= FEW:
            doubtful = doubtful[_distances_agree(some.only(doubtful))]
        if not len(doubtful):
            return good, known
        hard = some.only(doubtful)
        if lots.slotted:
            hard_good, hard_known = _one_by_one(hard, turn[doubtful], alone)
        else:
            hard_good, hard_known = _side_by_side(hard), np.ones(len(doubtful), dtype=np.bool_)
        good[rest[doubtful]] = hard_good
        known[rest[doubtful]] = hard_known
    return good, known


def _at_once(lots: Lots, pose: Pose) -> tuple[Flags, Plane]:
    """
    Which lots go together at the pose of least squares, of slots in a round of it; and its turn.

    Slots: least squares of the gaps along themselves, weighted by what each lacks, round by round.
    """
    if not lots.slotted:
        poses = Poses(lots.a, lots.b, lots.c)
        return poses.excess().max(axis=1) <= SAME_MM, poses.turn
    turn = np.full(len(lots.c), cmath.rect(1, math.radians(pose.angle_deg)))
    shift = np.full(len(lots.c), complex(pose.x_mm, pose.y_mm))
    weights = np.ones(lots.c.shape)
    good: Flags = np.zeros(len(turn), dtype=np.bool_)
    rows = np.arange(len(turn))
    for _ in range(ROUNDS):
        some = lots.only(rows)
        gap = _gaps(some, turn[rows], shift[rows])
        excess = np.abs(gap) - some.c
        passes = excess.max(axis=1) <= SAME_MM
        good[rows[passes]] = True
        rows, gap, excess = rows[~passes], gap[~passes], excess[~passes]
        if not len(rows):
            break
        scale = np.maximum(np.ptp(excess, axis=1, keepdims=True), SAME_MM)
        weights[rows] *= np.exp(SHARP * (excess - excess.max(axis=1, keepdims=True)) / scale)
        turn[rows], shift[rows] = _stepped(lots.only(rows), turn[rows], shift[rows], gap, weights[rows])
    return good, turn


def _stepped(lots: Lots, turn: Plane, shift: Plane, gap: Plane, weights: Real) -> tuple[Plane, Plane]:
    """One step of weighted least squares of the gaps along themselves."""
    length = np.maximum(np.abs(gap), 1e-300)
    ray = gap / length
    home = lots.a.mean(axis=1, keepdims=True)
    arm = turn[:, None] * (lots.a - home)
    slopes = np.stack([(ray.conj() * 1j * arm).real, ray.real, ray.imag], axis=2)
    pull = slopes * weights[:, :, None]
    matrix = pull.transpose(0, 2, 1) @ slopes
    steady = np.trace(matrix, axis1=1, axis2=2)[:, None, None] * 1e-9 + 1e-300
    matrix = matrix + steady * np.eye(3)
    step = np.linalg.solve(matrix, -(pull.transpose(0, 2, 1) @ length[:, :, None]))[:, :, 0]
    spin = np.exp(1j * step[:, 0])
    middle = (turn[:, None] * home)[:, 0] + shift
    return turn * spin, middle + step[:, 1] + 1j * step[:, 2] - (turn * spin) * home[:, 0]


def _distances_agree(lots: Lots) -> Flags:
    """Whether no two holes lie farther from the same distance in both plies than both joints take up."""
    n = lots.a.shape[1]
    i, k = np.triu_indices(n, 1)
    apart = np.abs(np.abs(lots.a[:, i] - lots.a[:, k]) - np.abs(lots.b[:, i] - lots.b[:, k]))
    long = np.abs(lots.ha) + np.abs(lots.hb)
    return np.asarray((apart <= lots.c[:, i] + lots.c[:, k] + long[i] + long[k] + SAME_MM).all(axis=1))


def _side_by_side(lots: Lots) -> Flags:
    """Round holes: the minimax pose of each lot, with its proof where it does not go together."""
    if lots.a.shape[1] == 2:  # noqa: PLR2004 - of two holes only the distance counts, and it agrees
        return np.ones(len(lots.c), dtype=np.bool_)
    a, b = (x - x.mean(axis=1, keepdims=True) for x in (lots.a, lots.b))
    reach = max(float(np.abs(a).max()), float(np.abs(b).max()), float(lots.c.max()), NEAR)
    poses = Poses(a / reach, b / reach, lots.c / reach)
    weights, watched = poses.descend()
    good = poses.excess().max(axis=1) <= SAME_MM / reach
    apart = np.flatnonzero(~good)
    proven = poses.only(apart).proven(weights[apart], watched[apart], np.full(len(apart), NEAR / reach))
    for place, row in enumerate(apart.tolist()):
        best = proven.get(place) or _solved(lots, row)[1]  # polished: a rough pose misses some 0.00001 mm
        good[row] = best.margin >= -NEAR / reach
    return np.asarray(good)


def _solved(lots: Lots, row: int, start: float | None = None) -> tuple[Layout, Best]:
    """One lot by itself, as far as needed to tell which side of 0 its margin lies."""
    layout = lay_out_planes((lots.a[row], lots.ha), (lots.b[row], lots.hb), lots.c[row], turned_over=False)
    angle = least_squares(layout)[0] if start is None else start
    return layout, best_pose(layout, angle, floor=-layout.tolerance, enough=0.0)


def _one_by_one(lots: Lots, turn: Plane, alone: int) -> tuple[Flags, Flags]:
    """Lots with slots: as many as there is time for are solved one by one."""
    good: Flags = np.zeros(len(turn), dtype=np.bool_)
    known: Flags = np.zeros(len(turn), dtype=np.bool_)
    for row in range(min(len(turn), alone)):
        layout, best = _solved(lots, row, float(np.angle(turn[row])))
        good[row] = best.margin >= -layout.tolerance
        known[row] = good[row] or best.ceiling < 0
    return good, known
