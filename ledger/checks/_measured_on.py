"""
What a key dimension is measured on, and its values on the drawing.

Some have one value, some several that must all hold: every pitch of a row, every hole of a bolt circle.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import Final

import numpy as np

from ledger.cases.answers import NoDrawing, NotRun
from ledger.domain.amounts import DEGREES, MM, MM2, unit_of
from ledger.domain.measured_on import MeasuredOn
from ledger.domain.record import Dimension, Part
from ledger.domain.shape import Contour, Hole, Point, arc_of

EXACT_MM: Final = Decimal("0.005")  # what a drawing rounded to two places may be off
EXACT: Final = {MM: EXACT_MM, DEGREES: Decimal("0.01"), MM2: Decimal(1)}
PLACES: Final = 6  # a nanometre: below it a difference is arithmetic, not drawing
DISTANCES = ("distance", "distance-x", "distance-y")
HALF_TURN = 180.0
_NO_TURN = 1e-9
_LEAST_ON_CIRCLE = 3
_IN_LINE_MM = 0.5  # further from one line than this, holes are no row


def holds(dimension: Dimension, drawn: float) -> bool:
    """Whether a value on the drawing keeps the limits of the dimension, or its nominal where it has none."""
    if not math.isfinite(drawn):
        return False
    deviation = Decimal(str(round(off_by(dimension, drawn), PLACES)))
    if dimension.limits:
        return dimension.limits.allows(deviation)
    return abs(deviation) <= EXACT[unit_of(dimension.nominal)]


def off_by(dimension: Dimension, drawn: float) -> float:
    """How far off the nominal it is; an edge turned half about is the same edge."""
    off = drawn - float(dimension.nominal.mm)
    if unit_of(dimension.nominal) == DEGREES:
        return (off + HALF_TURN / 2) % HALF_TURN - HALF_TURN / 2
    return off


def measured_mm(part: Part, measured_on: MeasuredOn) -> tuple[float, ...] | None:
    """The values as drawn, mm, deg or mm2; None where a hole or group that it names is gone. Raises NotRun."""
    if measured_on.kind in ("width", "height"):
        size = part.profile.size_mm if part.profile else None
        if size is None:
            raise NoDrawing(f"there is no drawing to measure the {measured_on.kind} on")
        return (size[measured_on.kind == "height"],)
    if measured_on.kind in _PLACED:
        return (_PLACED[measured_on.kind](part, measured_on.place_mm),)
    if measured_on.kind == "area":
        return (_area(part),)
    if measured_on.group:
        return _of_group(part, measured_on)
    found = [h for h in (part.hole(label) for label in measured_on.labels) if h is not None]
    if len(found) < len(measured_on.labels):
        return None
    return (_OF_HOLES[measured_on.kind](part, found),)


def on_points(part: Part, measured_on: MeasuredOn) -> bool:
    """Whether a dimension is measured between measured points of a structure rather than on a drawing."""
    return part.taken is None and measured_on.kind in DISTANCES


def _of_group(part: Part, measured_on: MeasuredOn) -> tuple[float, ...] | None:
    group = part.group(measured_on.group)
    holes = [h for h in (part.hole(label) for label in group.labels) if h is not None] if group else []
    if group is None or len(holes) < len(group.labels):
        return None
    return _pitches(group.name, holes) if measured_on.kind == "pitch" else _circle(group.name, holes)


def _pitches(name: str, holes: Sequence[Hole]) -> tuple[float, ...]:
    """From each hole of a row to the next, along the row."""
    if len(holes) < 2:  # noqa: PLR2004 - a pitch lies between two
        raise NotRun(f"group {name} has one hole, and so no pitch")
    points = np.array([h.centre for h in holes])
    local = points - points.mean(axis=0)
    _, _, axes = np.linalg.svd(local)
    if float(np.max(np.abs(local @ axes[1]))) > _IN_LINE_MM:
        raise NotRun(f"the holes of group {name} are not in a row: measure the pitch on a group that is")
    ordered = points[np.argsort(local @ axes[0])]
    return tuple(float(v) for v in np.hypot(*np.diff(ordered, axis=0).T))


def _circle(name: str, holes: Sequence[Hole]) -> tuple[float, ...]:
    """Twice the distance of every hole from the center of the circle through them all (least squares)."""
    if len(holes) < _LEAST_ON_CIRCLE:
        raise NotRun(f"group {name} has {len(holes)} holes: a bolt circle goes through three or more")
    points = np.array([h.centre for h in holes])
    mean = points.mean(axis=0)
    local = points - mean
    rows = np.column_stack([2 * local, np.ones(len(local))])
    if np.linalg.matrix_rank(rows) < rows.shape[1]:
        raise NotRun(f"the holes of group {name} are in a row: no circle goes through them")
    solved = np.linalg.lstsq(rows, (local**2).sum(axis=1), rcond=None)[0]
    return tuple(float(2 * v) for v in np.hypot(*(local - solved[:2]).T))


def _edge(part: Part, holes: Sequence[Hole]) -> float:
    if part.profile is None or part.profile.outline is None:
        raise NoDrawing("there is no outline to measure the edge distance to")
    return min(_to_contour(end, ring) for end in holes[0].core for ring in part.profile.outlines)


def _to_contour(point: Point, ring: Contour) -> float:
    return min(_to_edge(point, a, b, bulge) for a, b, bulge in ring.edges())


def _to_edge(point: Point, a: Point, b: Point, bulge: float) -> float:
    """Distance to a line or an arc, exact."""
    if bulge:
        centre, radius, start, sweep = arc_of(a, b, bulge)
        angle = math.atan2(point[1] - centre[1], point[0] - centre[0])
        turn = (angle - start) % (2 * math.pi) if sweep > 0 else (start - angle) % (2 * math.pi)
        if turn <= abs(sweep):
            return abs(math.dist(point, centre) - radius)
        return min(math.dist(point, a), math.dist(point, b))
    dx, dy = b[0] - a[0], b[1] - a[1]
    length = dx * dx + dy * dy
    along = 0.0 if length == 0 else ((point[0] - a[0]) * dx + (point[1] - a[1]) * dy) / length
    along = min(max(along, 0.0), 1.0)
    return math.dist(point, (a[0] + along * dx, a[1] + along * dy))


def _radius(part: Part, place: Point) -> float:
    """The radius of the drawn arc nearest to a place."""
    profile = part.profile
    rings = (*profile.outlines, *profile.openings) if profile else ()
    arcs = [
        (_to_edge(place, a, b, bulge), arc_of(a, b, bulge)[1])
        for r in rings
        for a, b, bulge in r.edges()
        if bulge
    ]
    if not arcs:
        raise NotRun("no arc is drawn whose radius could be measured")
    return min(arcs)[1]


def _angle(part: Part, place: Point) -> float:
    """The angle of the straight edge nearest to a place, from the x axis to the left, above 0 up to 180 degrees."""
    profile = part.profile
    rings = (*profile.outlines, *profile.openings) if profile else ()
    edges = [(_to_edge(place, a, b, 0.0), a, b) for r in rings for a, b, bulge in r.edges() if not bulge]
    if not edges:
        raise NotRun("no straight edge is drawn whose angle could be measured")
    _, a, b = min(edges)
    turned = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])) % HALF_TURN
    return turned if turned > _NO_TURN else HALF_TURN


def _area(part: Part) -> float:
    """The plate without its holes and openings, mm2."""
    if part.profile is None or part.profile.outline is None:
        raise NoDrawing("there is no outline to measure the area of")
    return part.profile.area_mm2


def _slot(hole: Hole) -> Hole:
    if not hole.is_slot:
        raise NotRun(f"{hole.label} is not a slot: measure its diameter")
    return hole


def _slot_length(_part: Part, holes: Sequence[Hole]) -> float:
    slot = _slot(holes[0])
    return math.dist(*slot.core) + slot.diameter_mm


_PLACED: dict[str, Callable[[Part, Point], float]] = {"radius": _radius, "angle": _angle}
_OF_HOLES: dict[str, Callable[[Part, Sequence[Hole]], float]] = {
    "diameter": lambda _, h: h[0].diameter_mm,
    "edge": _edge,
    "slot-length": _slot_length,
    "slot-width": lambda _, h: _slot(h[0]).diameter_mm,
    "distance": lambda _, h: math.dist(h[0].centre, h[1].centre),
    "distance-x": lambda _, h: abs(h[0].centre[0] - h[1].centre[0]),
    "distance-y": lambda _, h: abs(h[0].centre[1] - h[1].centre[1]),
}
