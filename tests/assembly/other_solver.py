"""The margin of linked bodies by a solver of another kind, for comparison."""

from __future__ import annotations

import numpy as np
from scipy.optimize import NonlinearConstraint, minimize

from ledger.assembly.links import Place, gaps, margins


def margin_by_slsqp(links, start):
    """The greatest least margin by another solver, on turns, shifts and the margin itself, scaled."""
    free, points = links.bodies - 1, links.points
    reach = float(links.reach.max())

    def place(x):
        turns = np.concatenate(
            [start.turns[:1], start.turns[1 : links.bodies] * np.exp(1j * x[1 : 1 + free]), np.ones(points)]
        )
        moves = x[1 + free :].reshape(-1, 2) @ np.array([1, 1j]) * reach
        return Place(turns, start.shifts + np.concatenate([[0], moves]))

    def left(x):
        gap = gaps(links, place(x))
        return (links.room - links.share * x[0] * reach - np.abs(gap)) / reach

    begin = np.zeros(1 + free + 2 * (free + points))
    begin[0] = float(margins(links, start).min()) / reach
    found = minimize(
        lambda x: -x[0], begin, method="SLSQP", constraints=NonlinearConstraint(left, 0, np.inf),
        options={"ftol": 1e-14, "maxiter": 300},
    )  # fmt: skip
    return float(margins(links, place(found.x)).min())
