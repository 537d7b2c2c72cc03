"""
Layouts of a network, point after point from the distances to those that lie already.

A point with enough distances to placed ones can lie in two places, on either side of them; with one distance too few
it is tried all around. Of the layouts so begun those that meet their distances best are kept at every step, so
that a point that lands on the wrong side first is put right by a later distance. Nothing is adjusted here: the layouts
are places for the least squares to begin from.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, islice
from typing import Final

import numpy as np

from ledger.survey.adjust import Array
from ledger.survey.network import Network

_CORNERS: Final = 6  # so many choices of neighbors to place a point from
_AROUND: Final = 24
_SAME: Final = 20.0  # standard uncertainties within which two places of one point are one
_POLISH: Final = 2


class _Distances:
    """Lengths and their standard uncertainties, mm, by pair of points; those between marked points with them."""

    def __init__(self, network: Network) -> None:
        count = len(network.points)
        self.dim = network.dim
        self.length = np.full((count, count), np.nan)
        self.u = np.full((count, count), np.nan)
        for one, other in combinations(network.marks, 2):
            a, b = network.place_of[one.point], network.place_of[other.point]
            if a != b:
                apart = float(np.linalg.norm(np.subtract(one.at_mm, other.at_mm)))
                self._put(a, b, apart, float(np.hypot(one.u_mm, other.u_mm)))
        for tie in network.ties:
            self._put(network.place_of[tie.a], network.place_of[tie.b], tie.value_mm, tie.u_mm)
        self.tied = np.isfinite(self.length)

    def _put(self, a: int, b: int, length: float, u: float) -> None:
        self.length[a, b] = self.length[b, a] = length
        self.u[a, b] = self.u[b, a] = u


def layouts(network: Network, seeds: int, most: int) -> list[Array]:
    """
    Places of all points, the layouts that meet the distances best first; none where no order places them all.

    Begun at so many seeds; `most` layouts of each are kept at every point.
    """
    known = _Distances(network)
    found: list[tuple[float, Array]] = []
    for seed in islice(_seeds(known), seeds):
        order = _order(known, seed)
        if order is not None:
            found += _laid(known, seed, order, most)
    return [places for _, places in sorted(found, key=lambda x: x[0])]


def _seeds(known: _Distances) -> Iterator[tuple[int, ...]]:
    """Points tied to each other, as many as there are dimensions, those with the most distances first."""
    degree = known.tied.sum(axis=1)
    count = len(degree)
    return (
        some
        for some in combinations(sorted(range(count), key=lambda k: (-degree[k], k)), known.dim)
        if all(known.tied[a, b] for a, b in combinations(some, 2))
    )


def _order(known: _Distances, seed: tuple[int, ...]) -> list[int] | None:
    """The other points, always the one with the most distances to those before it; None where one has too few."""
    placed, order = set(seed), list[int]()
    rest = [k for k in range(len(known.tied)) if k not in placed]
    while rest:
        ties = {k: int(known.tied[k, list(placed)].sum()) for k in rest}
        best = max(rest, key=lambda k: (ties[k], -k))
        if ties[best] < known.dim - 1:
            return None
        order.append(best)
        placed.add(best)
        rest.remove(best)
    return order


def _laid(known: _Distances, seed: tuple[int, ...], order: list[int], most: int) -> list[tuple[float, Array]]:
    states = np.full((1, len(known.tied), known.dim), np.nan)
    states[0, list(seed)] = _simplex(known, seed)
    cost = np.zeros(1)
    done = list(seed)
    for point in order:
        near = [k for k in done if known.tied[point, k]]
        spots = _spots(known, states, point, near)
        for _ in range(_POLISH if len(near) > known.dim else 0):
            spots = _nearer(known, states, spots, point, near)
        apart = np.linalg.norm(spots[:, :, None, :] - states[:, None, near, :], axis=3)
        off = (apart - known.length[point, near]) / known.u[point, near]
        total = cost[:, None] + (off**2).sum(axis=2)
        grain = _SAME * float(known.u[point, near].max())
        parents, picked = _best(total, spots, grain, most)
        states, cost = states[parents].copy(), total[parents, picked]
        states[:, point] = spots[parents, picked]
        done.append(point)
    return list(zip(cost.tolist(), states, strict=True))


def _simplex(known: _Distances, seed: tuple[int, ...]) -> Array:
    """Two points on the x axis, in space a third one in the plane of x and y."""
    places = np.zeros((len(seed), known.dim))
    places[1, 0] = base = known.length[seed[0], seed[1]]
    if known.dim > 2:  # noqa: PLR2004 - in space
        first, second = known.length[seed[0], seed[2]], known.length[seed[1], seed[2]]
        x = (first**2 - second**2 + base**2) / (2 * base)
        places[2, :2] = x, np.sqrt(max(first**2 - x**2, 0.0))
    return places


def _spots(known: _Distances, states: Array, point: int, near: list[int]) -> Array:
    """Where a point can lie in every layout (layouts, spots, dim), from its placed neighbors."""
    if len(near) < known.dim:
        return _around(known, states, point, near)
    found = []
    for some in islice(combinations(near, known.dim), _CORNERS):
        at = states[:, list(some)]
        lengths = known.length[point, list(some)]
        foot, normal = _foot(at, lengths)
        high = np.sqrt(np.maximum(lengths[0] ** 2 - ((foot - at[:, 0]) ** 2).sum(axis=1), 0.0))
        found += [foot + high[:, None] * normal, foot - high[:, None] * normal]
    return np.stack(found, axis=1)


def _foot(at: Array, lengths: Array) -> tuple[Array, Array]:
    """The middle between the two places at these distances from as many points as dimensions, and the way to them."""
    origin, across = at[:, 0], at[:, 1:] - at[:, :1]
    right = (lengths[0] ** 2 - lengths[1:] ** 2 + (across**2).sum(axis=2)) / 2
    foot = origin + (np.linalg.pinv(across) @ right[:, :, None])[:, :, 0]
    if across.shape[2] == 2:  # noqa: PLR2004 - flat
        normal = np.stack([-across[:, 0, 1], across[:, 0, 0]], axis=1)
    else:
        normal = np.cross(across[:, 0], across[:, 1])
    return foot, normal / np.maximum(np.linalg.norm(normal, axis=1), 1e-12)[:, None]


def _around(known: _Distances, states: Array, point: int, near: list[int]) -> Array:
    """Spots all around the neighbors, where these leave one turn open."""
    angles = np.linspace(0, 2 * np.pi, _AROUND, endpoint=False)
    at, lengths = states[:, near], known.length[point, near]
    if known.dim == 2:  # noqa: PLR2004 - flat
        ring = lengths[0] * np.stack([np.cos(angles), np.sin(angles)], axis=1)
        return np.asarray(at[:, 0, None, :] + ring)
    axis = at[:, 1] - at[:, 0]
    base = np.maximum(np.linalg.norm(axis, axis=1), 1e-12)
    axis = axis / base[:, None]
    along = (lengths[0] ** 2 - lengths[1] ** 2 + base**2) / (2 * base)
    high = np.sqrt(np.maximum(lengths[0] ** 2 - along**2, 0.0))
    least = np.eye(3)[np.abs(axis).argmin(axis=1)]
    u = np.cross(axis, least)
    u /= np.maximum(np.linalg.norm(u, axis=1), 1e-12)[:, None]
    v = np.cross(axis, u)
    turned = np.cos(angles)[None, :, None] * u[:, None] + np.sin(angles)[None, :, None] * v[:, None]
    foot = at[:, 0] + along[:, None] * axis
    return np.asarray(foot[:, None, :] + high[:, None, None] * turned)


def _nearer(known: _Distances, states: Array, spots: Array, point: int, near: list[int]) -> Array:
    """One Gauss-Newton step of the point alone towards all its distances."""
    gap = spots[:, :, None, :] - states[:, None, near, :]
    apart = np.maximum(np.linalg.norm(gap, axis=3), 1e-9)
    weight = 1 / known.u[point, near]
    slope = gap / apart[..., None] * weight[:, None]
    off = (apart - known.length[point, near]) * weight
    normal = np.einsum("spki,spkj->spij", slope, slope)
    normal += 1e-6 * np.trace(normal, axis1=2, axis2=3)[..., None, None] * np.eye(known.dim)
    down = np.einsum("spki,spk->spi", slope, off)
    return np.asarray(spots - np.linalg.solve(normal, down[..., None])[..., 0])


def _best(
    total: Array, spots: Array, grain: float, most: int
) -> tuple[np.ndarray[tuple[int], np.dtype[np.intp]], np.ndarray[tuple[int], np.dtype[np.intp]]]:
    """The layouts and spots that meet the distances best, no two spots of one layout within the grain."""
    order = np.argsort(total, axis=None, kind="stable")
    parents: list[int] = []
    picked: list[int] = []
    taken: dict[int, list[Array]] = {}
    for flat in order:
        parent, spot = divmod(int(flat), total.shape[1])
        here = spots[parent, spot]
        others = taken.setdefault(parent, [])
        if any(float(np.abs(here - o).max()) <= grain for o in others):
            continue
        others.append(here)
        parents.append(parent)
        picked.append(spot)
        if len(parents) == most:
            break
    return np.array(parents, dtype=np.intp), np.array(picked, dtype=np.intp)
