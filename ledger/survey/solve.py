"""
A network solved: where each point is and how sure that is, how far the readings agree, and what stays open.

A point's U is the radius that holds it with 95 %: *within the shape* (`u_shape_mm`, no point is taken for exact:
what a pattern that may still be shifted cares for) and *on the datum* (`u_datum_mm`: against the first points' axes).
Where the readings disagree by more than they claim, every U grows by as much.
Sources: least squares and its covariance as in any text on adjustment; the radius by matching two moments of a sum
of squares (as Welch and Satterthwaite do), exact for a circle and for a line.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import islice

import numpy as np

from ledger.survey.adjust import (
    Array,
    System,
    covariance,
    free_motion,
    jacobian,
    residuals,
    settle,
    system_of,
)
from ledger.survey.mirror import images, reflected, side_of
from ledger.survey.network import Mark, Network, Tie
from ledger.survey.start import held_by_datum, laid_on_datum, mirrored, starts

LEVEL = 0.95
DOUBTFUL = 0.01  # readings that disagree by more than chance would in one case of a hundred do not agree
_STARTS = 6
_MOVES = 1e-3  # of the motion that is free, what counts as moving
_AS_GOOD = (
    9.0  # an image whose chi-square is larger by less than this fits as well: three standard uncertainties
)
_EXACT = 1e-6  # without redundancy every reading is met
_CHECKED = 1e-6  # a reading with a smaller share of redundancy is checked by no other


@dataclass(frozen=True, slots=True)
class Placed:
    """A solved point: coordinates, and U (95 %, any direction) within the shape and on the datum, mm."""

    name: str
    at_mm: tuple[float, ...]
    u_shape_mm: float
    u_datum_mm: float


@dataclass(frozen=True, slots=True)
class Left:
    """
    What is left of a reading: as the points have it, less as read, mm.

    `share` is how much of an error in it would show (0: nothing checks it, 1: all of it); `off_mm` is how far it is
    off by all others; `times_sigma` how unlikely that is, as standard deviations of a normal error.
    """

    reading: Tie | Mark
    left_mm: float
    share: float
    off_mm: float
    times_sigma: float


@dataclass(frozen=True)
class Solution:
    """
    The answer, or what keeps it open.

    `free` names points that can move without any reading changing: then nothing is placed. `images` lists groups of
    points that could as well be turned over; `mirror` is whether the whole could.
    """

    network: Network
    free: tuple[str, ...] = ()
    points: tuple[Placed, ...] = ()
    left: tuple[Left, ...] = ()
    chi_square: float = 0.0
    redundancy: int = 0
    chance: float = 1.0
    images: tuple[tuple[str, ...], ...] = ()
    mirror: bool = False
    wrong_sides: tuple[str, ...] = ()

    @property
    def agrees(self) -> bool:
        """Whether the readings agree as well as they claim to."""
        return self.chance >= DOUBTFUL

    @property
    def settled(self) -> bool:
        """Whether the points are where they are, and nowhere else."""
        return bool(self.points) and not (self.images or self.mirror or self.wrong_sides)

    def point(self, name: str) -> Placed | None:
        """The solved point of that name."""
        return next((p for p in self.points if p.name == name), None)


def solve_near(network: Network, solution: Solution) -> Solution:
    """Solve a network that differs little from a solved one; its images are not looked for again."""
    system = system_of(network, held_by_datum(network))
    places, _ = settle(system, np.array([p.at_mm for p in solution.points]))
    if bool((free_motion(system, places) > _MOVES).any()):
        return Solution(network, free=network.points)
    return _weighed(network, system, places)


@lru_cache(maxsize=256)
def solve(network: Network) -> Solution:
    """Solve a network. What cannot be solved is said in the solution; nothing is guessed."""
    if len(network.points) <= 1 or not network.readings:
        return Solution(network, free=network.points)
    system = system_of(network, held_by_datum(network))
    places = _searched(network, system)
    moved = free_motion(system, places)
    if bool((moved > _MOVES).any()):
        names = (n for n, m in zip(network.points, moved, strict=True) if m > _MOVES)
        return Solution(network, free=tuple(names))
    places, groups, mirror = _right_way_up(network, system, places)
    wrong = tuple(s.point for s in network.sides if side_of(places, network, s) < 0)
    return replace(_weighed(network, system, places), images=groups, mirror=mirror, wrong_sides=wrong)


def radius_95(spread: Array) -> float:
    """The radius that holds a normal error of this covariance with 95 %, by its first two moments."""
    from scipy.special import gammaincinv

    values = np.maximum(np.linalg.eigvalsh(spread), 0.0)
    total = float(values.sum())
    if total <= 0:
        return 0.0
    share = float((values**2).sum()) / total
    return math.sqrt(share * 2 * float(gammaincinv(total / share / 2, LEVEL)))


def widened(chi_square: float, redundancy: int) -> float:
    """By how much variances grow where the readings disagree by more than they claim."""
    if redundancy <= 0 or chance_of(chi_square, redundancy) >= DOUBTFUL:
        return 1.0
    return max(1.0, chi_square / redundancy)


def chance_of(chi_square: float, redundancy: int) -> float:
    """How often good readings would disagree by as much or more."""
    from scipy.special import gammaincc

    return float(gammaincc(redundancy / 2, chi_square / 2)) if redundancy > 0 else 1.0


def _searched(network: Network, system: System) -> Array:
    """The best of several starts; the search ends where the readings agree."""
    redundancy = system.rows - system.unknowns
    best: tuple[float, Array] | None = None
    for start in islice(starts(network, _STARTS), 2 * _STARTS):
        places, cost = settle(system, start)
        again = best is not None and abs(cost - best[0]) < 1e-6 * best[0]
        if best is None or cost < best[0]:
            best = cost, places
        if again:  # two starts that end at the same place
            break
        if chance_of(best[0], redundancy) >= DOUBTFUL and (redundancy > 0 or best[0] < _EXACT):
            break
    assert best is not None  # noqa: S101 - there is always a start
    cost, places = best
    if chance_of(cost, redundancy) < DOUBTFUL:
        places, cost = _unfolded(system, places, cost)
    return places if system.held.sum() == 0 else laid_on_datum(network, places)


def _unfolded(system: System, places: Array, cost: float) -> tuple[Array, float]:
    """Points that were folded over a line of others, one by one put on their own side."""
    for place in range(system.count):
        near = {*system.second[system.first == place], *system.first[system.second == place]}
        across = tuple(int(k) for k in near)
        if len(across) < system.dim:
            continue
        turned = reflected(places, (place,), across)
        if turned is None:
            continue
        tried, new = settle(system, turned, steps=3)
        if new < cost * (1 - 1e-6):
            places, cost = settle(system, tried)
    return places, cost


def _right_way_up(
    network: Network, system: System, places: Array
) -> tuple[Array, tuple[tuple[str, ...], ...], bool]:
    """The places with every stated side kept where that can be, the groups that may still turn over, the whole."""
    mirror = _mirror_open(network, system, places)
    turnable = mirror
    open_groups: dict[tuple[int, ...], Array] = {}
    for _ in range(len(network.sides) + 1):
        choices = [mirrored(places)] if turnable else []
        open_groups = _real_images(network, system, places)
        choices += open_groups.values()
        now = _wrong(network, places)
        better = [c for c in choices if _wrong(network, c) < now]
        if not better:
            break
        places = min(better, key=lambda c: _wrong(network, c))
    now = _wrong(network, places)
    left = [g for g, turned in open_groups.items() if _wrong(network, turned) <= now]
    if turnable and network.sides:
        mirror = _wrong(network, mirrored(places)) <= now
    names = tuple(tuple(network.points[k] for k in group) for group in left)
    return places, names, mirror


def _wrong(network: Network, places: Array) -> int:
    return sum(side_of(places, network, s) < 0 for s in network.sides)


def _mirror_open(network: Network, system: System, places: Array) -> bool:
    """Whether the mirror image of the whole fits as well."""
    size = float(np.abs(places - places.mean(axis=0)).max())
    flat = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)
    if len(flat) < network.dim or flat[network.dim - 1] < 1e-6 * size:
        return False
    if not network.marks or system.held.any():
        return True
    marked = sorted({int(k) for k in system.marked})
    if len(marked) > network.dim:
        turned = _turned_over_marks(places, marked)
        _, cost = settle(system, turned)
        before = residuals(system, places)
        return cost <= float(before @ before) + _AS_GOOD
    return True


def _turned_over_marks(places: Array, marked: list[int]) -> Array:
    """Everything reflected across the best line or plane through the points that have coordinates."""
    turned = reflected(places, tuple(range(len(places))), tuple(marked))
    return mirrored(places) if turned is None else turned


def _real_images(network: Network, system: System, places: Array) -> dict[tuple[int, ...], Array]:
    """The images that fit as well and lie elsewhere by more than the points are uncertain."""
    before = residuals(system, places)
    cost = float(before @ before)
    spread = covariance(system, places)
    least = 3 * float(max(system.tie_u.max(initial=0.0), system.mark_u.max(initial=0.0)))
    found: dict[tuple[int, ...], Array] = {}
    for group, turned in images(network, places):
        moved = np.linalg.norm(turned - places, axis=1)
        sure = [3 * math.sqrt(float(np.trace(_block(spread, k, network.dim)))) for k in group]
        if all(moved[k] <= s for k, s in zip(group, sure, strict=True)):
            continue
        off = residuals(system, turned)
        if float(np.abs(off).max()) > float(np.abs(before).max()) + 100:  # no small step mends that
            continue
        tried, new = settle(system, turned)
        if new <= cost + _AS_GOOD and _differs(places, tried) > max(least, *sure):
            found[group] = _oriented(network, system, tried, places)
    return found


def _differs(places: Array, other: Array) -> float:
    """The largest distance between two points that is not the same in two shapes, mm."""
    one, two = (np.linalg.norm(p[:, None] - p, axis=2) for p in (places, other))
    return float(np.abs(one - two).max())


def _oriented(network: Network, system: System, shape: Array, like: Array) -> Array:
    """A shape on the datum, turned over where most of it then lies as it did."""
    if not system.held.any():
        return shape
    laid = laid_on_datum(network, shape)
    other = mirrored(laid)
    near = [float(np.median(np.linalg.norm(p - like, axis=1))) for p in (laid, other)]
    return laid if near[0] <= near[1] else other


def _weighed(network: Network, system: System, places: Array) -> Solution:
    left = residuals(system, places)
    chi_square = float(left @ left)
    redundancy = system.rows - system.unknowns
    chance = chance_of(chi_square, redundancy)
    spread = covariance(system, places)
    datum = spread * widened(chi_square, redundancy)
    shape = datum if not system.held.any() else _inner(datum, places)
    placed = tuple(
        Placed(
            name,
            tuple(float(v) for v in places[k]),
            radius_95(_block(shape, k, network.dim)),
            radius_95(_block(datum, k, network.dim)),
        )
        for k, name in enumerate(network.points)
    )
    readings = _left(network, system, places, left, spread)
    return Solution(network, (), placed, readings, chi_square, redundancy, chance)


def _left(network: Network, system: System, places: Array, left: Array, spread: Array) -> tuple[Left, ...]:
    slope = jacobian(system, places)
    seen = np.einsum("ij,jk,ik->i", slope, spread, slope)
    share = np.clip(1.0 - seen, 0.0, 1.0)
    found: list[Left] = []
    for k, tie in enumerate(network.ties):
        found.append(_one_left(tie, float(left[k]), float(share[k]), tie.u_mm))
    for k, mark in enumerate(network.marks):
        rows = slice(len(network.ties) + k * network.dim, len(network.ties) + (k + 1) * network.dim)
        worst = int(np.argmax(np.abs(left[rows]) / np.sqrt(np.maximum(share[rows], _CHECKED))))
        found.append(_one_left(mark, float(left[rows][worst]), float(share[rows][worst]), mark.u_mm))
    return tuple(found)


def _one_left(reading: Tie | Mark, left: float, share: float, u_mm: float) -> Left:
    if share < _CHECKED:
        return Left(reading, left * u_mm, 0.0, 0.0, 0.0)
    return Left(reading, left * u_mm, share, left * u_mm / share, abs(left) / math.sqrt(share))


def _inner(spread: Array, places: Array) -> Array:
    """The covariance with the whole laid on the true points as well as it goes (S-transformation)."""
    count, dim = places.shape
    centred = places - places.mean(axis=0)
    ways = []
    for axis in range(dim):
        shift = np.zeros((count, dim))
        shift[:, axis] = 1.0
        ways.append(shift.ravel())
    for one in range(dim):
        for other in range(one + 1, dim):
            turn = np.zeros((count, dim))
            turn[:, one], turn[:, other] = -centred[:, other], centred[:, one]
            if np.any(turn):
                ways.append(turn.ravel())
    basis = np.linalg.qr(np.column_stack(ways))[0]
    keep = np.eye(count * dim) - basis @ basis.T
    return np.asarray(keep @ spread @ keep.T, dtype=float)


def _block(spread: Array, place: int, dim: int) -> Array:
    rows = slice(place * dim, (place + 1) * dim)
    return spread[rows, rows]
