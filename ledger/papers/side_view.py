"""
A bent part from the side: the section across its bend lines, flanges and angles as recorded.

A *section* goes through the middle of a bend line, square to it; every bend line that it crosses is bent in it. Left is
the left (or lower) end of the section on the flat drawing, up is the face that is shown. The flat lengths are those of
the drawing: what a bend takes of the flat is as in `ledger.standards.bending`, default values where nothing was entered
(the bend table names them). Holes are not shown.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ledger.domain.bend import Bend, ends_of
from ledger.domain.drawing import Drawing, Label, Line, around
from ledger.domain.quantity import plain
from ledger.domain.record import Part
from ledger.domain.shape import Box, Point, Profile, Vertex
from ledger.standards.bending import Bent, bent_in

_SAGITTA_MM = 0.01
_PARALLEL = math.sin(math.radians(1.0))
_NEAR_MM = 0.05


@dataclass(frozen=True, slots=True)
class _Crossed:
    """A bend that a section crosses, and where, mm from the middle of the first."""

    at_mm: float
    bend: Bend
    bent: Bent


def side_views(part: Part) -> tuple[Drawing, ...]:
    """
    The sections of a part, as few as show every bend that is recorded; none where thickness, outline or bends are not.

    A section that crosses a bend line of which nothing is recorded is left out: its angles would be a guess.
    """
    profile, thickness = part.profile, part.thickness
    if profile is None or profile.outline is None or thickness is None or not part.bends:
        return ()
    left = [label for label in part.bend_lines if part.bend(label)]
    views = []
    while left:
        crossed, span = _across(part, profile, left[0])
        names = [c.bend.label for c in crossed]
        left = [label for label in left if label not in (*names, left[0])]
        if crossed:
            views.append(_view(crossed, span, float(thickness.mm), names))
    return tuple(views)


def _across(part: Part, profile: Profile, label: str) -> tuple[list[_Crossed], tuple[float, float]]:
    """The bends that the section through the middle of this one crosses, in their order, and its ends."""
    ends = ends_of(part.bend_lines[label])
    if ends is None:
        return [], (0.0, 0.0)
    (ax, ay), (bx, by) = ends
    length = math.dist(*ends)
    middle = ((ax + bx) / 2, (ay + by) / 2)
    nx, ny = (by - ay) / length, (ax - bx) / length
    if (nx, ny) < (-_PARALLEL, 0.0) or (abs(nx) <= _PARALLEL and ny < 0):
        nx, ny = -nx, -ny
    span = _material(profile, middle, (nx, ny))
    found = []
    for other, stroke in part.bend_lines.items():
        at = _crossing(ends_of(stroke), middle, (nx, ny))
        if at is None or not span[0] <= at <= span[1]:
            continue
        bend = part.bend(other)
        bent = bent_in(part, bend) if bend else None
        if bend is None or bent is None:
            return [], span
        found.append(_Crossed(at, bend, bent))
    return sorted(found, key=lambda c: c.at_mm), span


def _crossing(ends: tuple[Point, Point] | None, middle: Point, way: Point) -> float | None:
    """Where a line that is square to the section crosses it, mm from its middle; None where it does not."""
    if ends is None:
        return None
    along = [((x - middle[0]) * way[0] + (y - middle[1]) * way[1]) for x, y in ends]
    beside = [((x - middle[0]) * way[1] - (y - middle[1]) * way[0]) for x, y in ends]
    if abs(along[1] - along[0]) > _PARALLEL * math.dist(*ends):
        return None
    if min(beside) > _NEAR_MM or max(beside) < -_NEAR_MM:
        return None
    return sum(along) / 2


def _material(profile: Profile, middle: Point, way: Point) -> tuple[float, float]:
    """From where to where the section runs through the plate about its middle, mm."""
    from shapely.geometry import LineString, Polygon

    if profile.outline is None:
        return (0.0, 0.0)
    plate = Polygon(profile.outline.flattened(_SAGITTA_MM)).buffer(0)
    reach = sum(abs(v) for v in plate.bounds) + abs(middle[0]) + abs(middle[1]) + 1.0
    far = [(middle[0] + s * reach * way[0], middle[1] + s * reach * way[1]) for s in (-1, 1)]
    cut = LineString(far).intersection(plate)
    pieces = [
        sorted((x - middle[0]) * way[0] + (y - middle[1]) * way[1] for x, y in piece.coords)
        for piece in getattr(cut, "geoms", [cut])
        if len(piece.coords) > 1
    ]
    about = [(p[0], p[-1]) for p in pieces if p[0] - _NEAR_MM <= 0 <= p[-1] + _NEAR_MM]
    return about[0] if about else (0.0, 0.0)


def _view(crossed: list[_Crossed], span: tuple[float, float], thick: float, names: list[str]) -> Drawing:
    """The section as one ring, with the angle of every bend beside it."""
    near: list[Vertex] = []
    far: list[Vertex] = []
    labels: list[Label] = []
    x = y = heading = 0.0
    done = span[0]
    for one in crossed:
        x, y = _straight((near, far), (x, y), heading, one.at_mm - one.bent.allowance_mm / 2 - done, thick)
        turn = math.radians(one.bent.angle_deg) * (1 if one.bend.direction == "up" else -1)
        radius = one.bent.radius_mm + thick / 2
        start = (x, y)
        side = math.copysign(1.0, turn)
        centre = (x - side * radius * math.sin(heading), y + side * radius * math.cos(heading))
        heading += turn
        x, y = (
            centre[0] + side * radius * math.sin(heading),
            centre[1] - side * radius * math.cos(heading),
        )
        bulge = math.tan(turn / 4)
        near[-1] = (*near[-1][:2], bulge)
        far[-1] = (*far[-1][:2], bulge)
        words = f"{one.bend.label}: {plain(one.bend.angle)}° {one.bend.direction}"
        words += "" if one.bent.radius_assumed else f", R {one.bent.radius_mm:g}"
        labels.append(Label(words, _rim((start, (x, y)), thick), "bend"))
        done = one.at_mm + one.bent.allowance_mm / 2
    _straight((near, far), (x, y), heading, span[1] - done, thick)
    back = [
        (v[0], v[1], -before[2]) for v, before in zip(far[::-1], [*far[-2::-1], (0.0, 0.0, 0.0)], strict=True)
    ]
    ring = Line((*near, *back), "plate")
    return Drawing(
        around((v[0], v[1], v[0], v[1]) for v in ring.vertices),
        f"FROM THE SIDE, across {', '.join(names)}",
        (ring,),
        tuple(labels),
        notes=("Left is the left or lower end on the drawing, up is the face shown; for information.",),
    )


def _straight(
    faces: tuple[list[Vertex], list[Vertex]], at: Point, heading: float, length: float, thick: float
) -> Point:
    """A flange from a place on, both faces; where it ends. One that the bends leave nothing of has no length."""
    reach = max(length, 0.0)
    end = (at[0] + reach * math.cos(heading), at[1] + reach * math.sin(heading))
    across = (-math.sin(heading) * thick / 2, math.cos(heading) * thick / 2)
    for x, y in (at, end):
        faces[0].append((x + across[0], y + across[1], 0.0))
        faces[1].append((x - across[0], y - across[1], 0.0))
    return end


def _rim(places: tuple[Point, ...], thick: float) -> Box:
    return around((x - thick, y - thick, x + thick, y + thick) for x, y in places)
