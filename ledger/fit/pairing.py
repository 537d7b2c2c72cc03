"""
Which hole meets which: found from the holes alone, at any origin, rotation and turning over.

Two holes of P (the ply with fewer) and two of Q that lie equally far apart, within what the joint takes up, make a
*hypothesis* of the pose. How far the true pose can stray from it is bounded, so the number of P's holes that could
meet a hole of Q is bounded too, and a hypothesis that cannot beat the best is dropped. What stays is refined by
least squares on the holes that meet. *Agreeing* holes lie within the take up there; *near* pairs are these and the
mutual nearest of the rest that lie within take up plus fastener: displaced ones, for the exact solver to judge.

To find every pattern of at least t holes it is enough to start from pairs inside t - 1 groups that P's holes are
dealt into: of t holes two share a group. A full match needs one pair, so that symmetric grids cost little.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

from ledger.fit.joint import TOUCH_MM, Real
from ledger.fit.layout import Plane
from ledger.fit.lengths import Lengths, lengths_of
from ledger.fit.nearby import Nearby

MOST_PLACED: Final = 20_000_000  # points of P
MOST_REFINED: Final = 1_500
BLOCK: Final = 200_000
FEWER: Final = 0.8
HOPEFUL: Final = 3.0
PROBE, LEAST_PROBED = 4, 16
APART: Final = 1e-9
Pairs = tuple[tuple[int, int], ...]
Index = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Pairing:
    """
    Near pairs (index in A, index in B), and how many of them agree at the pose by which they were found.

    `hopeful` are so near that they may agree in a better pose.
    """

    turned_over: bool
    pairs: Pairs
    agreeing: int
    hopeful: int


@dataclass(frozen=True, slots=True)
class Search:
    """What was found; `complete` unless the search was cut short."""

    pairings: tuple[Pairing, ...]
    complete: bool


@dataclass(frozen=True, slots=True)
class Plates:
    """Hole middles of the two plies, and for every possible pair the take up and how far a displaced hole may be."""

    a: Plane
    b: Plane
    take_up: Real
    astray: Real


@dataclass(slots=True)
class _Hunt:
    """One turning over's search, P on Q."""

    p: Plane
    q: Plane
    take_up: Real
    astray: Real
    best: int
    most_refined: int = MOST_REFINED
    found: dict[Pairs, tuple[int, int]] = field(default_factory=dict)
    seen: set[tuple[int, ...]] = field(default_factory=set)
    scored: int = 0
    refined: int = 0
    near: Nearby = field(init=False)
    alike: bool = field(init=False)
    tight: Real = field(init=False)
    slack: Real = field(init=False)
    own: Real = field(init=False)

    def __post_init__(self) -> None:
        self.near = Nearby(self.q, float(self.take_up.max()))
        self.own = self.take_up.max(axis=1) + TOUCH_MM
        self.alike = bool((self.take_up == self.take_up[0, 0]).all())
        of = self.take_up[:, :1] if self.alike else self.take_up
        self.tight, self.slack = 1.1 * of + 2 * TOUCH_MM, 1.5 * of + 3 * TOUCH_MM


def find_pairings(
    plates: Plates, ways_up: tuple[bool, ...], least: int, most_refined: int = MOST_REFINED
) -> Search:
    """All pairings with the most agreeing holes found, and those near them; none with fewer than `least`."""
    pairings: list[Pairing] = []
    complete, best = True, least
    for turned_over in ways_up:
        a = plates.a.conj() if turned_over else plates.a
        swap = len(a) > len(plates.b)
        if swap:
            hunt = _Hunt(plates.b, a, plates.take_up.T, plates.astray.T, best, most_refined)
        else:
            hunt = _Hunt(a, plates.b, plates.take_up, plates.astray, best, most_refined)
        complete &= _hunt(hunt)
        best = max(best, hunt.best)
        for pairs, (agreeing, hopeful) in hunt.found.items():
            turned = tuple(sorted((k, i) for i, k in pairs)) if swap else pairs
            pairings.append(Pairing(turned_over, turned, agreeing, hopeful))
    kept = [x for x in pairings if x.hopeful >= best]
    return Search(
        tuple(sorted(kept, key=lambda x: (-x.agreeing, -len(x.pairs), x.turned_over, x.pairs))), complete
    )


def match(apart: Real, allowed: npt.NDArray[np.bool_]) -> tuple[Index, Index]:
    """Most pairs that are allowed, each hole once, with the least total distance."""
    from scipy.optimize import linear_sum_assignment

    cost = np.where(allowed, apart, math.inf)
    rows = np.flatnonzero(allowed.any(axis=1))
    nearest = cost[rows].argmin(axis=1) if len(rows) else rows
    if len(set(nearest.tolist())) == len(rows):
        return rows, nearest
    columns = np.flatnonzero(allowed.any(axis=0))
    part = cost[np.ix_(rows, columns)]
    most = float(part[np.isfinite(part)].max()) * len(rows) + 1
    i, k = linear_sum_assignment(np.where(np.isfinite(part), part, most))
    good = np.isfinite(part[i, k])
    return rows[i[good]], columns[k[good]]


def mutual_nearest(apart: Real, limit: Real) -> Iterator[tuple[int, int]]:
    """Pairs that are each other's nearest and within the limit."""
    if apart.size:
        apart = np.where(limit >= 0, apart, math.inf)
        rows = np.arange(len(apart))
        nearest = apart.argmin(axis=1)
        good = (apart.argmin(axis=0)[nearest] == rows) & (apart[rows, nearest] <= limit[rows, nearest])
        yield from zip(rows[good].tolist(), nearest[good].tolist(), strict=True)


def _hunt(hunt: _Hunt) -> bool:
    """Deal the holes into ever fewer groups until the best is as good as what the groups can promise."""
    if np.abs(hunt.p - hunt.p[0]).max() <= APART / 2:
        _without_length(hunt)
        return True
    lengths = lengths_of(hunt.q)
    target, tried = len(hunt.p), set[tuple[int, int]]()
    while True:
        for pair in _base_pairs(hunt.p, target):
            if pair not in tried:
                tried.add(pair)
                _try(hunt, pair, lengths)
                if hunt.scored * len(hunt.p) > MOST_PLACED or hunt.refined > hunt.most_refined:
                    return False
        if hunt.best >= target or target <= 2:  # noqa: PLR2004 - two holes are the least that fix a pose
            return True
        target = max(hunt.best, 2, min(target - 1, int(target * FEWER)))


def _base_pairs(p: Plane, target: int) -> list[tuple[int, int]]:
    """Pairs inside target - 1 groups, dealt along the longest way of the pattern so that partners lie far apart."""
    spread = p - p.mean()
    axis = np.exp(0.5j * np.angle((spread**2).sum()))
    order = np.lexsort(((spread * np.conj(axis)).imag.round(6), (spread * np.conj(axis)).real.round(6)))
    groups = max(1, target - 1)
    pairs: list[tuple[int, int]] = []
    for first in range(groups):
        members = [int(x) for x in order[first::groups]]
        pairs += [(min(x, y), max(x, y)) for n, x in enumerate(members) for y in members[n + 1 :]]
    return sorted(pairs, key=lambda x: -abs(p[x[0]] - p[x[1]]))


def _try(hunt: _Hunt, pair: tuple[int, int], lengths: Lengths) -> None:
    """Every pose that lays one pair of P on a pair of Q of the same length."""
    i, j = pair
    base = complex(hunt.p[j] - hunt.p[i])
    if abs(base) <= APART:
        return
    play = float(hunt.take_up[i].max() + hunt.take_up[j].max())
    some = lengths.between(abs(base) - play - 2 * TOUCH_MM, abs(base) + play + 2 * TOUCH_MM)
    k, m = np.concatenate([some, some[::-1]], axis=1)
    both = hunt.take_up[i, k] + hunt.take_up[j, m]
    good = (np.abs(np.abs(hunt.q[m] - hunt.q[k]) - abs(base)) <= both + 2 * TOUCH_MM) & (
        hunt.q[m] != hunt.q[k]
    )
    k, m, both = k[good], m[good], both[good]
    hunt.scored += len(k)
    for start in range(0, len(k), max(1, BLOCK // len(hunt.p))):
        part = slice(start, start + max(1, BLOCK // len(hunt.p)))
        _score(hunt, pair, (k[part], m[part], both[part]))


def _score(hunt: _Hunt, pair: tuple[int, int], ends: tuple[Index, Index, Real]) -> None:
    """Bound how many holes could meet in each hypothesis; refine the ones that could be the best."""
    (i, j), (k, m, both) = pair, ends
    base, middle = complex(hunt.p[j] - hunt.p[i]), complex(hunt.p[j] + hunt.p[i]) / 2
    turn = (hunt.q[m] - hunt.q[k]) / base
    turn /= np.abs(turn)
    shift = (hunt.q[m] + hunt.q[k]) / 2 - turn * middle
    lean = np.arcsin(np.minimum(1, both / np.maximum(abs(base), np.abs(hunt.q[m] - hunt.q[k]))))
    away, own = np.abs(hunt.p - middle), hunt.own

    def laid(rows: Index, some: slice) -> tuple[Plane, Real]:
        """Where these holes come to lie in these hypotheses, and how far each may be off."""
        placed = turn[rows, None] * hunt.p[None, some] + shift[rows, None]
        reach = both[rows, None] / 2 + 2 * away[None, some] * np.sin(lean[rows] / 2)[:, None]
        return placed, reach + own[None, some]

    rows = np.arange(len(turn))
    spare = len(hunt.p) - hunt.best  # so many holes may miss; more misses among a few settle it for all
    probe = spare + spare // PROBE + LEAST_PROBED
    if spare >= 0 and probe < len(hunt.p):
        rows = rows[probe - hunt.near.could_meet(*laid(rows, slice(probe))) <= spare]
    turn, shift, both, lean = turn[rows], shift[rows], both[rows], lean[rows]
    placed, reach = laid(np.arange(len(rows)), slice(None))
    could = hunt.near.meets(placed, reach, hunt.best)
    for h in np.argsort(-could, kind="stable"):
        if could[h] < hunt.best or hunt.refined > hunt.most_refined:
            break
        if not _new(hunt, complex(turn[h]), complex(shift[h])):
            continue
        hunt.refined += 1
        for first in ([reach[h][:, None]], []):
            _refine(hunt, complex(turn[h]), complex(shift[h]), [*first, hunt.slack])


def _new(hunt: _Hunt, turn: complex, shift: complex) -> bool:
    """Whether no pose like this one was refined before: many pairs of holes lead to the same one."""
    bin_mm = max(hunt.near.fine / 4, 1e-6)
    rim = hunt.p.mean() + np.abs(hunt.p - hunt.p.mean()).max()
    placed = [turn * complex(x) + shift for x in (hunt.p.mean(), rim)]
    key = tuple(math.floor(x / bin_mm + 0.3) for z in placed for x in (z.real, z.imag))
    if key in hunt.seen:
        return False
    hunt.seen.add(key)
    return True


def _refine(hunt: _Hunt, turn: complex, shift: complex, indulgence: list[Real]) -> None:
    """Least squares on what meets, with ever less indulgence."""
    last: tuple[Index, Index] | None = None
    for allowance in (*indulgence, hunt.tight, hunt.tight):
        i, k = _meeting(hunt, turn * hunt.p + shift, allowance)
        if last and np.array_equal(i, last[0]) and np.array_equal(k, last[1]):
            continue  # the same holes lead to the same pose
        last = i, k
        if len(i) < 2:  # noqa: PLR2004 - two holes are the least that fix a pose
            return
        p, q = hunt.p[i] - hunt.p[i].mean(), hunt.q[k] - hunt.q[k].mean()
        total = complex((p.conj() * q).sum())
        if abs(total) > 0:
            turn = total / abs(total)
        shift = complex(hunt.q[k].mean() - turn * hunt.p[i].mean())
    _keep(hunt, turn * hunt.p + shift)


def _meeting(hunt: _Hunt, placed: Plane, allowance: Real) -> tuple[Index, Index]:
    """Most pairs within the allowance, a number for every pair or hole of P; by the tree where all are alike."""
    if hunt.alike:
        far, at = hunt.near.tree.query(np.stack([placed.real, placed.imag], axis=1))
        rows = np.flatnonzero(far <= allowance[:, 0])
        nearest = np.asarray(at)[rows]
        if len(np.unique(nearest)) == len(rows):
            return rows, nearest
    apart = np.abs(placed[:, None] - hunt.q[None, :])
    return match(apart, apart <= allowance)


def _keep(hunt: _Hunt, placed: Plane) -> None:
    """Note the pairing that holes of P at these places make."""
    if hunt.near.within(placed, HOPEFUL * hunt.near.fine + 3 * TOUCH_MM) < hunt.best:
        return
    i, k = _meeting(hunt, placed, hunt.tight)
    apart = np.abs(placed[i] - hunt.q[k])
    agreeing = int((apart <= hunt.take_up[i, k] + 2 * TOUCH_MM).sum())
    pairs = list(zip(i.tolist(), k.tolist(), strict=True))
    rest_p, rest_q = np.ones(len(hunt.p), dtype=bool), np.ones(len(hunt.q), dtype=bool)
    rest_p[i] = rest_q[k] = False
    left_p, left_q = np.flatnonzero(rest_p), np.flatnonzero(rest_q)
    if len(left_p) and len(left_q):
        away = np.abs(placed[left_p][:, None] - hunt.q[left_q][None, :])
        limit = hunt.astray[np.ix_(left_p, left_q)]
        pairs += [(int(left_p[x]), int(left_q[y])) for x, y in mutual_nearest(away, limit)]
    x, y = np.array(pairs, dtype=np.intp).reshape(-1, 2).T
    hopeful = int((np.abs(placed[x] - hunt.q[y]) <= HOPEFUL * hunt.take_up[x, y] + 3 * TOUCH_MM).sum())
    if hopeful >= hunt.best:
        hunt.best = max(hunt.best, agreeing)
        key = tuple(sorted(pairs))
        hunt.found[key] = max((agreeing, hopeful), hunt.found.get(key, (0, 0)))


def _without_length(hunt: _Hunt) -> None:
    """One hole, or all in one place: there is no direction, so each hole of Q is tried as the place."""
    for place in hunt.q:
        _keep(hunt, hunt.p - complex(hunt.p.mean()) + complex(place))
