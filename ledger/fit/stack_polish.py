"""
The last digits of a stack's pose, by sequential quadratic programming from a pose that is nearly best.

The linear programs of the walk know no curvature, and come near a pose that is held by few holes only slowly.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from ledger.fit.joint import Real
from ledger.fit.layout import Plane
from ledger.fit.stack_layout import StackLayout

STEPS: Final = 60
PRECISION: Final = 1e-15


def polish(
    layout: StackLayout, watched: list[int], pose: tuple[Plane, Plane, Plane]
) -> tuple[Real, Plane, Plane]:
    """
    Angles (the first 0), shifts and axes near a pose (turns, shifts, axes) with the most half margin of these bolts.

    Unknowns: m, turns (times the reach) and shifts of every ply but the first, axes, places along slots.
    """
    from scipy.optimize import NonlinearConstraint, minimize

    turns, shifts, axes = pose
    free, reach = layout.plies - 1, layout.reach_mm
    rows = [(k, i) for k in range(layout.plies) for i in watched if layout.there[k, i]]
    k, i = (np.array(side, dtype=np.intp) for side in zip(*rows, strict=True))
    at = np.array([watched.index(bolt) for bolt in i])
    middle, half, room = layout.middles[k, i], layout.halves[k, i], layout.rooms[k, i]
    slotted = np.flatnonzero(half != 0)
    spot_x, spot_y = 1 + 3 * free + 2 * at, 2 + 3 * free + 2 * at
    slide_at = 1 + 3 * free + 2 * len(watched)
    line = np.arange(len(rows))
    moves = np.flatnonzero(k > 0)

    def parts(x: Real) -> tuple[Plane, Plane, Plane, Plane]:
        """Turns and shifts by ply, axes by watched bolt, places of the cores about their homes by row."""
        turn = turns * np.exp(1j * np.concatenate([[0.0], x[1 : 1 + free] / reach]))
        pairs = x[1 + free : 1 + 3 * free].reshape(free, 2)
        spots = x[1 + 3 * free : slide_at].reshape(len(watched), 2)
        along = np.zeros(len(rows))
        along[slotted] = x[slide_at:]
        core = turn[k] * (middle + along * half)
        return (
            turn,
            np.concatenate([[0j], pairs[:, 0] + 1j * pairs[:, 1]]),
            spots[:, 0] + 1j * spots[:, 1],
            core,
        )

    def gaps(x: Real) -> tuple[Plane, Plane, Plane]:
        turn, shift, spots, core = parts(x)
        return turn, core, spots[at] - core - shift[k]

    def left(x: Real) -> Real:
        return np.asarray(room - np.abs(gaps(x)[2]) - x[0])

    def slopes(x: Real) -> Real:
        turn, core, gap = gaps(x)
        ray = gap / np.maximum(np.abs(gap), 1e-300)
        made = np.zeros((len(rows), len(x)))
        made[:, 0] = -1
        made[line, spot_x], made[line, spot_y] = -ray.real, -ray.imag
        made[moves, k[moves]] = (ray.conj() * 1j * core).real[moves] / reach
        made[moves, 2 * k[moves] + free - 1] = ray.real[moves]
        made[moves, 2 * k[moves] + free] = ray.imag[moves]
        made[slotted, slide_at + np.arange(len(slotted))] = (ray.conj() * turn[k] * half).real[slotted]
        return made

    towards = axes[i] - turns[k] * middle - shifts[k]
    along = (towards * (turns[k] * half).conj()).real[slotted] / np.abs(half[slotted]) ** 2
    start = np.concatenate([
        [0.0], np.zeros(free), *([z.real, z.imag] for z in shifts[1:]), *([z.real, z.imag] for z in axes[watched]),
        np.clip(along, -1, 1),
    ])  # fmt: skip
    start[0] = float(left(start).min())
    downhill = np.zeros(len(start))
    downhill[0] = -1
    found = minimize(  # type: ignore[call-overload]  # SLSQP takes such constraints
        lambda x: -x[0], start, jac=lambda _x: downhill, method="SLSQP",
        bounds=[(None, None)] * slide_at + [(-1.0, 1.0)] * len(slotted),
        constraints=NonlinearConstraint(left, 0, np.inf, jac=slopes),
        options={"ftol": PRECISION, "maxiter": STEPS},
    )  # fmt: skip
    turn, shift, spots, _ = parts(found.x)
    placed = axes.copy()
    placed[watched] = spots
    return np.asarray(np.angle(turn)), shift, placed
