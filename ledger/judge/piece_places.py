"""
Which of several pieces goes where: into which of the connections that take the same holes of its part.

Exact: the least of the margins is as large as it can be, then their sum.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

from ledger.cases.connections import ConnectionCase
from ledger.words.as_built import PieceFound, Place

_NO_WAY: Final = 1e9  # what an assignment pays for a place that a piece does not fit


def choices_of(cases: Sequence[ConnectionCase], number: str) -> tuple[tuple[str, ...], ...]:
    """The connections that take the same holes of a part, where there are several: a piece goes into one of them."""
    by_group: dict[str, list[str]] = {}
    for case in cases:
        for ply in case.connection.plies:
            if ply.part == number:
                by_group.setdefault(ply.group, []).append(case.connection.name)
    return tuple(tuple(names) for names in by_group.values() if len(names) > 1)


def placed(choices: Sequence[Sequence[str]], each: Sequence[PieceFound]) -> tuple[tuple[Place, ...], str]:
    """Which piece goes where, or why that is not told; nothing where there is no choice."""
    if not choices or not each:
        return (), ""
    if len(choices) > 1:
        return (
            (),
            "which piece goes where is not worked out: several groups of holes take several connections each",
        )
    (places,) = choices
    if len(each) < len(places):
        return (), f"{len(each)} of {len(places)} pieces are here"
    return assigned(places, each)


def assigned(places: Sequence[str], each: Sequence[PieceFound]) -> tuple[tuple[Place, ...], str]:
    """
    A piece that fits for every place, so that the least margin is as large as it can be, then the sum.

    By a threshold, found by bisection over the margins; each is tried by an assignment of least cost.
    """
    import numpy as np
    from scipy.optimize import linear_sum_assignment

    margins = np.full((len(places), len(each)), -math.inf)
    for k, piece in enumerate(each):
        for fit in piece.fits if piece.verdict == "fits" else ():
            if fit.fits and fit.margin_mm is not None and fit.connection in places:
                margins[places.index(fit.connection), k] = fit.margin_mm
    steps = np.unique(margins[np.isfinite(margins)])

    def tried(least: float) -> Any:
        cost = np.where(margins >= least, -np.where(np.isfinite(margins), margins, 0.0), _NO_WAY)
        rows, columns = linear_sum_assignment(cost)
        return (rows, columns) if cost[rows, columns].max() < _NO_WAY else None

    low, high = 0, len(steps) - 1
    if high < 0 or tried(steps[0]) is None:
        return (), "no way: not every place has a piece that fits"
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if tried(steps[middle]) is not None else (low, middle - 1)
    rows, columns = tried(steps[low])
    found = (
        Place(places[r], each[c].piece.name, float(margins[r, c])) for r, c in zip(rows, columns, strict=True)
    )
    return tuple(found), ""
