"""
Least squares on a network from one start, by Levenberg and Marquardt (MINPACK in scipy), and what its Jacobian says of
the answer.

`held` marks the coordinates that the datum fixes. Residuals are divided by the standard uncertainty of their reading,
so that the sum of their squares is the chi-square of the network.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from ledger.survey.network import Network

Array: TypeAlias = NDArray[np.float64]
Mask: TypeAlias = NDArray[np.bool_]

_STEPS = 100
_STILL = 1e-12  # a gain or step this small against the whole is none
_LEAST_MM = 1e-9  # two points never lie nearer than this, so that directions exist
_SINGULAR = 1e-5  # a motion that changes no reading by more than this part of itself is free


@dataclass(frozen=True)
class System:
    """A network as arrays."""

    dim: int
    count: int
    first: NDArray[np.intp]
    second: NDArray[np.intp]
    length: Array
    tie_u: Array
    marked: NDArray[np.intp]
    mark: Array
    mark_u: Array
    held: Mask

    @property
    def rows(self) -> int:
        """How many numbers were measured."""
        return len(self.length) + self.mark.size

    @property
    def unknowns(self) -> int:
        """How many coordinates are looked for."""
        return int((~self.held).sum())


def system_of(network: Network, held: Mask) -> System:
    """The network's readings as arrays, with the coordinates that the datum holds."""
    at = network.place_of
    marks = np.array([m.at_mm for m in network.marks], dtype=float).reshape(-1, network.dim)
    return System(
        network.dim,
        len(network.points),
        np.array([at[t.a] for t in network.ties], dtype=np.intp),
        np.array([at[t.b] for t in network.ties], dtype=np.intp),
        np.array([t.value_mm for t in network.ties], dtype=float),
        np.array([t.u_mm for t in network.ties], dtype=float),
        np.array([at[m.point] for m in network.marks], dtype=np.intp),
        marks,
        np.array([m.u_mm for m in network.marks], dtype=float),
        held,
    )


def residuals(system: System, places: Array) -> Array:
    """Each reading as the places would have it, less as it was read, over its standard uncertainty."""
    apart = np.linalg.norm(places[system.first] - places[system.second], axis=1)
    ties = (apart - system.length) / system.tie_u
    marks = (places[system.marked] - system.mark) / system.mark_u[:, None]
    return np.concatenate([ties, marks.ravel()])


def jacobian(system: System, places: Array, *, weighted: bool = True) -> Array:
    """How each reading changes with each coordinate, held ones too."""
    dim, ties = system.dim, len(system.length)
    apart = places[system.first] - places[system.second]
    unit = apart / np.maximum(np.linalg.norm(apart, axis=1), _LEAST_MM)[:, None]
    found = np.zeros((system.rows, system.count * dim))
    rows = np.arange(ties)
    weight = 1 / system.tie_u if weighted else np.ones(ties)
    for axis in range(dim):
        found[rows, system.first * dim + axis] = unit[:, axis] * weight
        found[rows, system.second * dim + axis] = -unit[:, axis] * weight
    marked = 1 / system.mark_u if weighted else np.ones(len(system.mark_u))
    for axis in range(dim):
        found[ties + np.arange(len(marked)) * dim + axis, system.marked * dim + axis] = marked
    return found


def settle(system: System, start: Array, steps: int = _STEPS) -> tuple[Array, float]:
    """The places nearest to the start that no small step betters, and their chi-square."""
    from scipy.optimize import least_squares

    free = ~system.held

    def placed(coordinates: Array) -> Array:
        places = start.copy()
        places.ravel()[free] = coordinates
        return places

    if not free.any():
        left = residuals(system, start)
        return start.copy(), float(left @ left)

    def off(coordinates: Array) -> Array:
        return residuals(system, placed(coordinates))

    def slope(coordinates: Array) -> Array:
        return jacobian(system, placed(coordinates))[:, free]

    found = least_squares(
        off,
        start.ravel()[free],
        jac=slope,
        method="lm" if system.rows >= system.unknowns else "trf",  # MINPACK asks for enough readings
        x_scale="jac" if system.rows >= system.unknowns else 1.0,
        ftol=_STILL, xtol=_STILL, gtol=_STILL, max_nfev=steps,
    )  # fmt: skip
    return placed(found.x), 2 * float(found.cost)


def free_motion(system: System, places: Array) -> Array:
    """How far each point can move, of 1 at most, without any reading changing; all zero where nothing is free."""
    free = ~system.held
    slope = jacobian(system, places, weighted=False)[:, free]
    moved = np.zeros((system.count, system.dim))
    if slope.size == 0:
        return np.asarray((~system.held.reshape(moved.shape)).any(axis=1), dtype=float)
    # with more readings than unknowns the short form has all directions, at a fraction of the time
    _, values, ways = np.linalg.svd(slope, full_matrices=slope.shape[0] < slope.shape[1])
    padded = np.zeros(len(ways))
    padded[: len(values)] = values
    null = ways[padded < _SINGULAR * max(1.0, float(padded.max()))]
    total = np.zeros(system.count * system.dim)
    total[free] = np.sqrt((null**2).sum(axis=0))
    moved += total.reshape(moved.shape)
    return np.asarray(np.linalg.norm(moved, axis=1), dtype=float)


def covariance(system: System, places: Array) -> Array:
    """The covariance of all coordinates, mm²; zero for those that the datum holds."""
    free = ~system.held
    slope = jacobian(system, places)[:, free]
    found = np.zeros((len(free), len(free)))
    found[np.ix_(free, free)] = np.linalg.inv(slope.T @ slope)
    return found
