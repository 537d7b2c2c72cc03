"""
A network solved: the best of several starts, the right way up, and what stays open. What the answer is worth is for
`ledger.survey.worth`.

A *sparse* network (hardly more readings than unknowns) has many layouts that no small step betters, and sometimes two
that agree with all readings. It is laid out point by point on either side (`trilateration`), so that the best one is
found and any other that agrees is told.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache
from itertools import islice

import numpy as np

from ledger.domain.one_thread import on_one_thread
from ledger.survey.adjust import (
    Array,
    System,
    covariance,
    free_motion,
    residuals,
    settle,
    system_of,
)
from ledger.survey.mirror import images, reflected, side_of
from ledger.survey.network import Network
from ledger.survey.start import held_by_datum, laid_on_datum, mirrored, on_datum, starts
from ledger.survey.trilateration import layouts
from ledger.survey.worth import DOUBTFUL, Left, Placed, Solution, block, chance_of, weighed

__all__ = ["Left", "Placed", "Solution", "solve", "solve_near"]

_STARTS = 6
_THOROUGH = 4, 96, 12  # beginnings, layouts kept at every point, and how many of them are adjusted
_QUICK = 1, 32, 4
_SPARSE = 0.5  # readings beyond the unknowns, as a part of these, up to which a network is sparse
_MOVES = 1e-3  # of the motion that is free, what counts as moving
_AS_GOOD = (
    9.0  # an image whose chi-square is larger by less than this fits as well: three standard uncertainties
)
_EXACT = 1e-6  # without redundancy every reading is met


def solve_near(network: Network, solution: Solution) -> Solution:
    """Solve a network that differs little from a solved one; its images are not looked for again."""
    system = system_of(network, held_by_datum(network))
    places, _ = settle(system, np.array([p.at_mm for p in solution.points]))
    if bool((free_motion(system, places) > _MOVES).any()):
        return Solution(network, free=network.points)
    return weighed(network, system, places)


@lru_cache(maxsize=256)
@on_one_thread()
def solve(network: Network, *, thorough: bool = True) -> Solution:
    """
    Solve a network. What cannot be solved is said in the solution; nothing is guessed.

    Without `thorough` fewer layouts of a sparse network are tried: enough where many networks are solved in turn.
    """
    if len(network.points) <= 1 or not network.readings:
        return Solution(network, free=network.points)
    system = system_of(network, held_by_datum(network))
    places, others = _searched(network, system, _THOROUGH if thorough else _QUICK)
    moved = free_motion(system, places)
    if bool((moved > _MOVES).any()):
        names = (n for n, m in zip(network.points, moved, strict=True) if m > _MOVES)
        return Solution(network, free=tuple(names))
    places, groups, mirror = _right_way_up(network, system, places, others)
    wrong = tuple(s.point for s in network.sides if side_of(places, network, s) < 0)
    return replace(weighed(network, system, places), images=groups, mirror=mirror, wrong_sides=wrong)


def _searched(network: Network, system: System, effort: tuple[int, int, int]) -> tuple[Array, list[Array]]:
    """The best of several starts, and the other layouts that agree with the readings as well, where those are few."""
    redundancy = system.rows - system.unknowns
    found: list[tuple[float, Array]] = []
    for start in islice(starts(network, _STARTS), 2 * _STARTS):
        places, cost = settle(system, start)
        found.append((cost, places))
        if _agrees(cost, redundancy):
            break
    best = min(cost for cost, _ in found)
    if _sparse(system) or not _agrees(best, redundancy):
        seeds, kept, adjusted = effort
        laid = layouts(network, seeds, kept)[:adjusted]
        found += [settle(system, start)[::-1] for places in laid for start in on_datum(network, places)]
    found.sort(key=lambda x: x[0])
    best, places = found[0]
    others = [other for cost, other in found[1:] if cost <= best + _AS_GOOD]
    if system.held.sum() == 0:
        return places, others
    return laid_on_datum(network, places), [laid_on_datum(network, other) for other in others]


def sparse(network: Network) -> bool:
    """Whether a network has hardly more readings than unknowns."""
    return _sparse(system_of(network, held_by_datum(network)))


def _sparse(system: System) -> bool:
    return system.rows - system.unknowns <= _SPARSE * system.unknowns


def _agrees(cost: float, redundancy: int) -> bool:
    return chance_of(cost, redundancy) >= DOUBTFUL and (redundancy > 0 or cost < _EXACT)


def _right_way_up(
    network: Network, system: System, places: Array, others: list[Array]
) -> tuple[Array, tuple[tuple[str, ...], ...], bool]:
    """The places with every stated side kept where that can be, the groups that may still turn over, the whole."""
    mirror = _mirror_open(network, system, places)
    turnable = mirror
    open_groups: dict[tuple[int, ...], Array] = {}
    for _ in range(len(network.sides) + 1):
        choices = [mirrored(places)] if turnable else []
        open_groups = _real_images(network, system, places, others)
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


def _real_images(
    network: Network, system: System, places: Array, others: list[Array]
) -> dict[tuple[int, ...], Array]:
    """The images and other layouts that fit as well and lie elsewhere by more than the points are uncertain."""
    before = residuals(system, places)
    cost = float(before @ before)
    spread = covariance(system, places)
    least = 3 * float(max(system.tie_u.max(initial=0.0), system.mark_u.max(initial=0.0)))
    sure = np.array(
        [3 * math.sqrt(float(np.trace(block(spread, k, network.dim)))) for k in range(system.count)]
    )
    found: dict[tuple[int, ...], Array] = {}
    for group, turned in images(network, places):
        moved = np.linalg.norm(turned - places, axis=1)
        if all(moved[k] <= sure[k] for k in group):
            continue
        off = residuals(system, turned)
        if float(np.abs(off).max()) > float(np.abs(before).max()) + 100:  # no small step mends that
            continue
        tried, new = settle(system, turned)
        if new <= cost + _AS_GOOD and _differs(places, tried) > max(least, *sure[list(group)]):
            found[group] = _oriented(network, system, tried, places)
    for other in others:
        if _differs(places, other) <= max(least, float(sure.max())):
            continue
        laid = _oriented(network, system, other, places)
        moved = np.linalg.norm(laid - places, axis=1)
        elsewhere = tuple(int(k) for k in np.flatnonzero(moved > np.maximum(least, sure)))
        if elsewhere:
            found.setdefault(elsewhere, laid)
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
