"""
The network of a part: its points and measured distances as numbers, and its holes placed by the answer.

A hole that was measured by coordinates takes part with them where a distance names it. The network is in space where
a point has three coordinates or lies above or below others, else it is flat.
"""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal
from functools import lru_cache
from typing import Literal

import numpy as np

from ledger.domain.errors import BadInput
from ledger.domain.quantity import Length, plain
from ledger.domain.record import Distance, MeasuredHole, Part, SitePoint
from ledger.domain.shape import Hole
from ledger.survey.network import Mark, Network, Side, Tie
from ledger.survey.solve import Placed, Solution, solve

_SPACE = 3
_PLACES = 3  # a micrometre: below what any tape can tell, above the noise of solving


def network_of(part: Part) -> Network | None:
    """The part's network; None where it has no distances. Raises BadInput for one that cannot be."""
    if not part.distances:
        return None
    return _network(part.points, part.distances, tuple(_by_coordinates(part)))


def solution_of(part: Part) -> Solution | None:
    """The part's network solved; None where it has no distances. Raises BadInput."""
    network = network_of(part)
    try:
        return solve(network) if network else None
    except np.linalg.LinAlgError as fault:
        raise BadInput("the distances have no solution: check them again") from fault


def with_placed_holes(part: Part) -> Part:
    """
    The part with the holes that its distances or its points' coordinates place; a network that cannot be places none.

    Reading a part never fails: what is wrong with its network is for the check of it to say.
    """
    try:
        solution = solution_of(part)
    except BadInput:
        return part
    placed = {p.name: p for p in solution.points} if solution and solution.settled else {}
    holes = [
        _placed_hole(m.hole.label, m.hole.diameter_mm, placed[m.hole.label]) if m.hole.label in placed else m
        for m in part.measured_holes
    ]
    for point in part.points:
        if point.diameter is None:
            continue
        size_mm = float(point.diameter.mm)
        if point.label in placed:
            holes.append(_placed_hole(point.label, size_mm, placed[point.label]))
        elif point.at and not solution:
            at = (float(point.at[0].mm), float(point.at[1].mm))
            holes.append(
                MeasuredHole(Hole(point.label, (at,), size_mm, "measured"), point.uncertainty, "measured")
            )
    return replace(part, measured_holes=tuple(holes))


def _by_coordinates(part: Part) -> list[MeasuredHole]:
    named = {label for d in part.distances for label in (d.a, d.b)}
    points = {p.label for p in part.points}
    return [m for m in part.measured_holes if m.hole.label in named - points and m.framed is None]


@lru_cache(maxsize=256)
def _network(
    points: tuple[SitePoint, ...], distances: tuple[Distance, ...], holes: tuple[MeasuredHole, ...]
) -> Network:
    sides: tuple[Side, ...] = tuple(Side(p.label, p.side.hand, p.side.of) for p in points if p.side)
    space = any(len(p.at) == _SPACE for p in points) or any(len(s.of) == _SPACE for s in sides)
    dim: Literal[2, 3] = 3 if space else 2
    named = {label for d in distances for label in (d.a, d.b)}
    marks = [
        Mark(p.label, _filled([float(v.mm) for v in p.at], dim), float(p.uncertainty.mm) / 2)
        for p in points
        if p.at and p.uncertainty
    ]
    marks += [
        Mark(m.hole.label, _filled(list(m.hole.centre), dim), float(m.uncertainty.mm) / 2)
        for m in holes
        if m.uncertainty
    ]
    # a stated or small-sample U counts in full: half of it is never less than the standard uncertainty used
    ties = tuple(
        Tie(d.a, d.b, float(d.value.mm), max(float(d.standard.mm), float(d.uncertainty.mm) / 2))
        for d in distances
    )
    names = [p.label for p in points if p.label in named or p.at]
    names += [m.hole.label for m in holes]
    return Network(tuple(names), ties, tuple(marks), sides, dim)


def _filled(at: list[float], dim: int) -> tuple[float, ...]:
    return tuple(at + [0.0] * (dim - len(at)))


def _placed_hole(label: str, size_mm: float, at: Placed) -> MeasuredHole:
    centre = (round(at.at_mm[0], _PLACES), round(at.at_mm[1], _PLACES))
    sure, framed = (_up(u) for u in (at.u_shape_mm, max(at.u_shape_mm, at.u_datum_mm)))
    return MeasuredHole(Hole(label, (centre,), size_mm, "measured"), sure, "measured", framed)


def _up(value_mm: float) -> Length:
    shown = plain(Decimal(math.ceil(value_mm * 100)) / 100)
    return Length(f"{shown} mm", Decimal(shown))
