"""
Profile values in millimetres, free of any drawing library.

A *vertex* is (x, y, bulge): bulge is the tangent of a quarter of the included angle of the arc that runs
from this vertex to the next one, positive when it turns counter-clockwise, 0 for a straight line
(the DXF definition). Arcs so stay arcs and circles stay circles.
A *contour* is a closed ring of vertices. *Sagitta* is the height between an arc and its chord: the error
of a flattening. A *hole* has a *core*: its centre, or for a slot the segment between its end centres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

from ledger.domain.finding import Finding

Point = tuple[float, float]
Vertex = tuple[float, float, float]
Box = tuple[float, float, float, float]

_FULL = 2 * math.pi


@dataclass(frozen=True, slots=True)
class Hole:
    """
    A round hole or a slot as drawn: the size as cut. `core` is one point, or two for a slot.

    `made_of`: circle, arcs, polyline, spline, ellipse, facets, slot, measured. `departure_mm` is how far
    the drawn curve departs from the ideal one of `diameter_mm`. `also_mm` are the diameters of other circles drawn
    about the same centre.
    """

    label: str
    core: tuple[Point, ...]
    diameter_mm: float
    made_of: str = "circle"
    departure_mm: float = 0.0
    also_mm: tuple[float, ...] = ()

    @property
    def centre(self) -> Point:
        """The middle of the core."""
        return (sum(p[0] for p in self.core) / len(self.core), sum(p[1] for p in self.core) / len(self.core))

    @property
    def is_slot(self) -> bool:
        """Whether the core is a segment."""
        return len(self.core) == 2  # noqa: PLR2004 - two end centres

    def contour(self) -> Contour:
        """The rim as a contour of arcs (and two lines for a slot), counter-clockwise."""
        r = self.diameter_mm / 2
        if not self.is_slot:
            (x, y) = self.core[0]
            return Contour(((x - r, y, 1.0), (x + r, y, 1.0)))
        (ax, ay), (bx, by) = self.core
        length = math.hypot(bx - ax, by - ay)
        nx, ny = -(by - ay) / length * r, (bx - ax) / length * r
        return Contour(
            (
                (ax - nx, ay - ny, 0.0),
                (bx - nx, by - ny, 1.0),
                (bx + nx, by + ny, 0.0),
                (ax + nx, ay + ny, 1.0),
            )
        )


@dataclass(frozen=True, slots=True)
class Contour:
    """
    A closed ring. The last vertex joins the first.

    `chord_error_mm` is the sagitta already spent where a spline or an ellipse had to be flattened.
    """

    vertices: tuple[Vertex, ...]
    chord_error_mm: float = 0.0

    def edges(self) -> list[tuple[Point, Point, float]]:
        """(start, end, bulge) of every edge."""
        v = self.vertices
        return [((a[0], a[1]), (b[0], b[1]), a[2]) for a, b in zip(v, v[1:] + v[:1], strict=True)]

    @property
    def area_mm2(self) -> float:
        """Signed area, exact for lines and arcs: positive counter-clockwise."""
        total = 0.0
        for (ax, ay), (bx, by), bulge in self.edges():
            total += (ax * by - bx * ay) / 2
            if bulge:
                angle = 4 * math.atan(bulge)
                radius = math.hypot(bx - ax, by - ay) / (2 * math.sin(abs(angle) / 2))
                total += radius * radius / 2 * (angle - math.sin(angle))
        return total

    @property
    def length_mm(self) -> float:
        """Length of the ring, exact for lines and arcs."""
        return sum(edge_length(a, b, bulge) for a, b, bulge in self.edges())

    @property
    def box(self) -> Box:
        """(min x, min y, max x, max y), arcs included."""
        xs: list[float] = []
        ys: list[float] = []
        for a, b, bulge in self.edges():
            xs.extend((a[0], b[0]))
            ys.extend((a[1], b[1]))
            if bulge:
                (cx, cy), radius, start, sweep = arc_of(a, b, bulge)
                for quarter in range(4):
                    turn = (quarter * math.pi / 2 - start) % _FULL
                    if (sweep > 0 and turn <= sweep) or (sweep < 0 and turn - _FULL >= sweep):
                        xs.append(cx + radius * math.cos(quarter * math.pi / 2))
                        ys.append(cy + radius * math.sin(quarter * math.pi / 2))
        return (min(xs), min(ys), max(xs), max(ys))

    def flattened(self, sagitta_mm: float) -> list[Point]:
        """The ring as points, no chord further than `sagitta_mm` from its arc; the last joins the first."""
        points: list[Point] = []
        for a, b, bulge in self.edges():
            points.append(a)
            if bulge:
                (cx, cy), radius, start, sweep = arc_of(a, b, bulge)
                ratio = max(-1.0, 1 - sagitta_mm / radius) if radius > 0 else -1.0
                step = 2 * math.acos(ratio) or 1e-3
                pieces = max(2, math.ceil(abs(sweep) / step))
                points.extend(
                    (
                        cx + radius * math.cos(start + sweep * k / pieces),
                        cy + radius * math.sin(start + sweep * k / pieces),
                    )
                    for k in range(1, pieces)
                )
        return points

    def reversed(self) -> Contour:
        """The same ring run the other way."""
        v = self.vertices
        n = len(v)
        return Contour(
            tuple((v[-k % n][0], v[-k % n][1], -v[(-k - 1) % n][2]) for k in range(n)), self.chord_error_mm
        )

    def canonical(self) -> Contour:
        """Counter-clockwise, starting at the lowest, leftmost vertex: equal rings give equal values."""
        ring = self if self.area_mm2 >= 0 else self.reversed()
        v = ring.vertices
        first = min(range(len(v)), key=lambda k: (round(v[k][1], 6), round(v[k][0], 6)))
        return Contour(v[first:] + v[:first], self.chord_error_mm)


@dataclass(frozen=True, slots=True)
class Stroke:
    """An open or closed line that is not cut: a mark or a bend line, as vertices."""

    vertices: tuple[Vertex, ...]
    layer: str = ""


@dataclass(frozen=True, slots=True)
class Profile:
    """
    What a DXF says, in mm. `outline` is the ring the vendor cuts loose; `outlines` all outer rings found.

    `openings` are the inner rings that are neither round holes nor slots. `findings` are the reader's.
    """

    outline: Contour | None
    holes: tuple[Hole, ...] = ()
    openings: tuple[Contour, ...] = ()
    outlines: tuple[Contour, ...] = ()
    marks: tuple[Stroke, ...] = ()
    bends: tuple[Stroke, ...] = ()
    findings: tuple[Finding, ...] = ()
    unit_declared: str | None = None
    unit_used: str = "mm"
    unit_sure: bool = True
    layers: tuple[str, ...] = field(default=())

    @property
    def usable(self) -> bool:
        """Whether nothing that the reader found stops it from being cut."""
        return self.outline is not None and not any(f.severity == "stop" for f in self.findings)

    @property
    def size_mm(self) -> tuple[float, float] | None:
        """Overall width and height of what is cut (of all outer rings, else of the holes)."""
        boxes = [c.box for c in self.outlines] or [h.contour().box for h in self.holes]
        if not boxes:
            return None
        return (
            max(b[2] for b in boxes) - min(b[0] for b in boxes),
            max(b[3] for b in boxes) - min(b[1] for b in boxes),
        )

    @property
    def outlines_by_size(self) -> tuple[Contour, ...]:
        """The outer rings, the largest first: the user names one by its number here, from 1."""
        return tuple(sorted(self.outlines, key=lambda c: (-abs(c.area_mm2), c.vertices)))

    @property
    def area_mm2(self) -> float:
        """Net area: outer rings less holes and openings."""
        return (
            sum(abs(c.area_mm2) for c in self.outlines)
            - sum(abs(c.area_mm2) for c in self.openings)
            - sum(abs(h.contour().area_mm2) for h in self.holes)
        )

    @property
    def cut_length_mm(self) -> float:
        """Length of every ring that is cut."""
        rings = [*self.outlines, *self.openings, *(h.contour() for h in self.holes)]
        return sum(c.length_mm for c in rings)

    def hole(self, label: str) -> Hole | None:
        """The hole of that label, if there is one."""
        return next((h for h in self.holes if h.label == label), None)

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON; `profile_from_json` reads them back exactly."""
        return {
            "outline": _ring(self.outline),
            "outlines": [_ring(c) for c in self.outlines],
            "openings": [_ring(c) for c in self.openings],
            "holes": [
                {
                    "label": h.label,
                    "core": [list(p) for p in h.core],
                    "diameter_mm": h.diameter_mm,
                    "made_of": h.made_of,
                    "departure_mm": h.departure_mm,
                    "also_mm": list(h.also_mm),
                }
                for h in self.holes
            ],
            "marks": [{"vertices": [list(v) for v in s.vertices], "layer": s.layer} for s in self.marks],
            "bends": [{"vertices": [list(v) for v in s.vertices], "layer": s.layer} for s in self.bends],
            "findings": [f.to_json() for f in self.findings],
            "unit_declared": self.unit_declared,
            "unit_used": self.unit_used,
            "unit_sure": self.unit_sure,
            "layers": list(self.layers),
        }


def profile_from_json(data: dict[str, Any]) -> Profile:
    """The profile that `Profile.to_json` wrote. Raises KeyError, TypeError or ValueError on anything else."""
    return Profile(
        outline=_unring(data["outline"]),
        outlines=tuple(c for c in map(_unring, data["outlines"]) if c),
        openings=tuple(c for c in map(_unring, data["openings"]) if c),
        holes=tuple(
            Hole(
                h["label"],
                tuple((float(x), float(y)) for x, y in h["core"]),
                float(h["diameter_mm"]),
                h["made_of"],
                float(h["departure_mm"]),
                tuple(float(d) for d in h.get("also_mm", ())),
            )
            for h in data["holes"]
        ),
        marks=tuple(_unstroke(s) for s in data["marks"]),
        bends=tuple(_unstroke(s) for s in data["bends"]),
        findings=tuple(Finding.from_json(f) for f in data["findings"]),
        unit_declared=data["unit_declared"],
        unit_used=data["unit_used"],
        unit_sure=data["unit_sure"],
        layers=tuple(data["layers"]),
    )


def arc_of(a: Point, b: Point, bulge: float) -> tuple[Point, float, float, float]:
    """Centre, radius, start angle and signed sweep (radians) of the arc from `a` to `b`. `bulge` is not 0."""
    sweep = 4 * math.atan(bulge)
    dx, dy = b[0] - a[0], b[1] - a[1]
    reach = (1 - bulge * bulge) / (4 * bulge)
    cx, cy = (a[0] + b[0]) / 2 - dy * reach, (a[1] + b[1]) / 2 + dx * reach
    return (cx, cy), math.hypot(a[0] - cx, a[1] - cy), math.atan2(a[1] - cy, a[0] - cx), sweep


def edge_length(a: Point, b: Point, bulge: float) -> float:
    """Length of one edge, exact for arcs."""
    chord = math.hypot(b[0] - a[0], b[1] - a[1])
    if not bulge:
        return chord
    angle = 4 * math.atan(abs(bulge))
    return chord / (2 * math.sin(angle / 2)) * angle


def _ring(contour: Contour | None) -> dict[str, Any] | None:
    if contour is None:
        return None
    return {"vertices": [list(v) for v in contour.vertices], "chord_error_mm": contour.chord_error_mm}


def _unring(data: dict[str, Any] | None) -> Contour | None:
    if data is None:
        return None
    return Contour(
        tuple((float(x), float(y), float(b)) for x, y, b in data["vertices"]), data["chord_error_mm"]
    )


def _unstroke(data: dict[str, Any]) -> Stroke:
    return Stroke(tuple((float(x), float(y), float(b)) for x, y, b in data["vertices"]), data["layer"])
