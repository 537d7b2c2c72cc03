"""
How much material stands between holes, openings and the outline of a flat part.

A *web* is the least width of material between two rims. Arcs are flattened late, to `SAGITTA_MM`; a web is so
known within `LEEWAY_MM`, which is counted for the drawing: these rules warn, they do not prove.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

import shapely
from shapely.geometry.base import BaseGeometry

from ledger.domain.shape import Contour, Hole, Profile

SAGITTA_MM: Final = 0.002
LEEWAY_MM: Final = 0.01  # a drawing's rounding and the sagitta
_FEW: Final = 2  # points of a ring before it closes


@dataclass(frozen=True, slots=True)
class Web:
    """The material between two things, by their names; an outline or opening has a word for a name."""

    a: str
    b: str
    width_mm: float


def rim(contour: Contour) -> BaseGeometry:
    """A ring as a closed line."""
    points = contour.flattened(SAGITTA_MM)
    return shapely.LinearRing(points) if len(points) > _FEW else shapely.LineString([*points, points[0]])


def core(hole: Hole) -> BaseGeometry:
    """The center of a hole, or the center line of a slot."""
    return shapely.LineString(hole.core) if hole.is_slot else shapely.Point(hole.core[0])


def edges_of(profile: Profile) -> tuple[tuple[str, BaseGeometry], ...]:
    """The outline and the openings with their names."""
    openings = ((f"opening {k}", c) for k, c in enumerate(profile.openings, 1))
    outline = (("outline", profile.outline),) if profile.outline else ()
    return tuple((name, rim(c)) for name, c in (*outline, *openings))


def to_edges(holes: Iterable[Hole], profile: Profile) -> dict[str, float]:
    """From each hole's center line to the nearest outline or opening, by label; nothing without an outline."""
    edges = [line for _, line in edges_of(profile)]
    if not edges:
        return {}
    tree = shapely.STRtree(edges)
    found: dict[str, float] = {}
    for hole in holes:
        _, away = tree.query_nearest(core(hole), return_distance=True, all_matches=False)
        found[hole.label] = float(away[0])
    return found


def between(holes: Iterable[Hole], within_mm: float) -> Iterator[tuple[Hole, Hole, float]]:
    """Pairs of holes whose center lines are nearer to each other than `within_mm`, with that distance."""
    known = list(holes)
    cores = [core(h) for h in known]
    if not cores:
        return
    for i, j in shapely.STRtree(cores).query(cores, predicate="dwithin", distance=within_mm).T:
        if i < j:
            yield known[i], known[j], float(cores[i].distance(cores[j]))


def nearest_of(holes: Iterable[Hole]) -> dict[str, float]:
    """From each hole's center line to that of the nearest other hole, by label; nothing for one hole alone."""
    known = list(holes)
    if len(known) <= 1:
        return {}
    cores = [core(h) for h in known]
    found, away = shapely.STRtree(cores).query_nearest(
        cores, exclusive=True, return_distance=True, all_matches=False
    )
    return {known[i].label: float(d) for i, d in zip(found[0], away, strict=True)}


def thin_webs(profile: Profile, within_mm: float) -> list[Web]:
    """Every web that is thinner than `within_mm`, the thinnest first."""
    holes = {h.label: h for h in profile.holes}
    rims = [*((h.label, rim(h.contour())) for h in holes.values()), *edges_of(profile)]
    lines = [line for _, line in rims]
    found = []
    if not lines:
        return []
    for i, j in shapely.STRtree(lines).query(lines, predicate="dwithin", distance=within_mm).T:
        if i < j:
            (a, one), (b, other) = rims[i], rims[j]
            width = _width(holes.get(a), holes.get(b), one, other)
            found.append(Web(a, b, width))
    return sorted(found, key=lambda w: (w.width_mm, w.a, w.b))


def _width(a: Hole | None, b: Hole | None, one: BaseGeometry, other: BaseGeometry) -> float:
    """Between two holes exact; else between the flattened rims."""
    if a and b:
        return float(core(a).distance(core(b))) - (a.diameter_mm + b.diameter_mm) / 2
    return float(one.distance(other))


def labels(names: Iterable[str], most: int = 12) -> str:
    """Some labels in words, the rest counted."""
    known = list(names)
    more = f" and {len(known) - most} more" if len(known) > most else ""
    return ", ".join(known[:most]) + more
