"""
The linear program behind the pose of a stack, and the certificate that its dual makes.

A *row* keeps one hole's circle in one direction: (ply, bolt, unit vector).
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ledger.fit.joint import Real
from ledger.fit.stack_layout import StackLayout
from ledger.fit.stack_proof import StackCertificate

Row = tuple[int, int, complex]


def solve_program(
    layout: StackLayout, watched: list[int], about: tuple[Real, Real, Real], rows: list[Row]
) -> Any:
    """
    The best m about some angles, with small turns up to `play` and slides along slots.

    In every row u . (x - core) + m <= room. None where the solver fails.

    Unknowns: m, small turns (times the reach) and shifts of every ply but the first, axes of the watched bolts, slides
    along slots. Answers level, turns, shifts, axes, slides, and the rows' weights.
    """
    from scipy.optimize import linprog

    angles, play, slides = about
    free, reach = layout.plies - 1, layout.reach_mm
    places = {bolt: place for place, bolt in enumerate(watched)}
    slots = [(int(k), int(i)) for k, i in np.argwhere(layout.there & (layout.halves != 0)) if i in places]
    at_axes = 1 + 3 * free
    at_slots = at_axes + 2 * len(watched)
    k = np.array([r[0] for r in rows])
    i = np.array([r[1] for r in rows])
    u = np.array([r[2] for r in rows])
    arm = np.exp(1j * angles)[k] * (layout.middles[k, i] + slides[k, i] * layout.halves[k, i])
    matrix = np.zeros((len(rows), at_slots + len(slots)))
    line = np.arange(len(rows))
    matrix[:, 0] = 1
    moves = k > 0
    matrix[line[moves], k[moves]] = -(u.conj() * 1j * arm).real[moves] / reach
    matrix[line[moves], 1 + free + 2 * (k[moves] - 1)] = -u.real[moves]
    matrix[line[moves], 2 + free + 2 * (k[moves] - 1)] = -u.imag[moves]
    place = np.array([places[int(b)] for b in i])
    matrix[line, at_axes + 2 * place] = u.real
    matrix[line, at_axes + 2 * place + 1] = u.imag
    for number, (ply, bolt) in enumerate(slots):
        mine = (k == ply) & (i == bolt)
        half = np.exp(1j * angles[ply]) * layout.halves[ply, bolt]
        matrix[mine, at_slots + number] = -(u[mine].conj() * half).real
    limits = [(None, None)] + [(-p * reach, p * reach) for p in play[1:]]
    limits += [(None, None)] * (2 * free + 2 * len(watched))
    limits += [(-1 - float(slides[p]), 1 - float(slides[p])) for p in slots]
    cost = np.zeros(matrix.shape[1])
    cost[0] = -1
    found = linprog(
        cost, A_ub=matrix, b_ub=layout.rooms[k, i] + (u.conj() * arm).real, bounds=limits, method="highs",
        options={"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10, "presolve": False},
    )  # fmt: skip
    if not found.success or found.x is None:
        return None
    x = np.asarray(found.x)
    small = np.concatenate([[0.0], x[1 : 1 + free] / reach])
    pairs = x[1 + free : at_axes].reshape(free, 2)
    shifts = np.concatenate([[0j], pairs[:, 0] + 1j * pairs[:, 1]])
    axes = np.zeros(layout.bolts, dtype=complex)
    spots = x[at_axes:at_slots].reshape(len(watched), 2)
    axes[watched] = spots[:, 0] + 1j * spots[:, 1]
    slid = slides.copy()
    for number, spot in enumerate(slots):
        slid[spot] += x[at_slots + number]
    return (
        float(x[0]),
        small,
        shifts,
        axes,
        slid,
        -np.asarray(found.ineqlin.marginals),
        np.asarray(found.slack),
    )


def certificate_from(layout: StackLayout, duals: Real, rows: list[Row]) -> StackCertificate | None:
    """The program's weights as a certificate; what rounding left of the sums is spread over the vectors in use."""
    weights, vectors = np.zeros(layout.rooms.shape), np.zeros(layout.rooms.shape, dtype=complex)
    for value, (k, i, u) in zip(duals, rows, strict=True):
        if value > 0:
            weights[k, i] += value
            vectors[k, i] += value * u
    if weights.sum() <= 0:
        return None
    used = np.argwhere(weights > 1e-12)  # noqa: PLR2004 - rounding of the program
    plies, bolts = sorted({int(k) for k, _ in used}), sorted({int(i) for _, i in used})
    sums = np.zeros((len(plies) + len(bolts), len(used)))
    for column, (k, i) in enumerate(used):
        sums[plies.index(int(k)), column] = sums[len(plies) + bolts.index(int(i)), column] = 1
    kept = vectors[used[:, 0], used[:, 1]]
    mend = np.linalg.lstsq(sums, np.column_stack([sums @ kept.real, sums @ kept.imag]), rcond=None)[0]
    vectors, rest = np.zeros(layout.rooms.shape, dtype=complex), weights
    vectors[used[:, 0], used[:, 1]] = kept - (mend[:, 0] + 1j * mend[:, 1])
    weights = np.zeros_like(rest)
    weights[used[:, 0], used[:, 1]] = np.maximum(rest, np.abs(vectors))[used[:, 0], used[:, 1]]
    total = float(weights.sum())
    return StackCertificate(weights / total, np.asarray(vectors / total, dtype=np.complex128))
