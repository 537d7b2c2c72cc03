"""
Solids in space: prisms, cylinders and bends, how deep they are in each other, and the gap between them. All mm.

Booleans are those of manifold3d, which needs no tolerance of its own; it is imported when the first solid is made.
How *deep* two solids are in each other is told by a proof that no smaller move parts them: a ball of that diameter fits
into what they share; or a rod of one goes through a flat of the other, so far out on either side of its middle plane,
and so far from its edge.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from ledger.assembly.space import Frame
from ledger.fit.joint import Real

if TYPE_CHECKING:
    from manifold3d import Manifold

SAGITTA_MM: Final = 0.01
_SIDES: Final = 48
_TRIED: Final = 60
_NEARLY: Final = 0.99
_GRID: Final = 9
_ROUNDING: Final = 1e-9
_THIN_MM2: Final = 1e-9
_LEAST_MM3: Final = 1e-6  # of what two solids share: rounding of faces that touch


def prism(sheet: BaseGeometry, low_mm: float, high_mm: float) -> Manifold:
    """A flat region, holes left out, from one height to another."""
    from manifold3d import CrossSection, FillRule, Manifold

    rings = [ring for area in _areas(sheet) for ring in (area.exterior, *area.interiors)]
    section = CrossSection([shapely.get_coordinates(r)[:-1] for r in rings], FillRule.EvenOdd)
    return Manifold.extrude(section, high_mm - low_mm).translate((0.0, 0.0, low_mm))


def cylinder(radius_mm: float, low_mm: float, high_mm: float) -> Manifold:
    """A cylinder about the z axis, as a prism of 48 sides that lies within it."""
    from manifold3d import Manifold

    made = Manifold.cylinder(high_mm - low_mm, radius_mm, radius_mm, _SIDES)
    return made.translate((0.0, 0.0, low_mm))


def sector(radii_mm: tuple[float, float], angle: float, long_mm: float) -> Manifold:
    """
    A bend: between two radii about the z axis, from the direction of -y through an angle towards +x, long along z.
    """
    steps = max(2, math.ceil(angle / (2 * math.acos(max(0.5, 1 - SAGITTA_MM / radii_mm[1])))))
    turns = [angle * k / steps for k in range(steps + 1)]
    inner, outer = ([(r * math.sin(t), -r * math.cos(t)) for t in turns] for r in radii_mm)
    return prism(shapely.Polygon([*outer, *reversed(inner)]).buffer(0), 0.0, long_mm)


def placed(solid: Manifold, frame: Frame) -> Manifold:
    """The solid at a frame."""
    return solid.transform(np.column_stack([frame.turn, frame.shift]))


def joined(solids: Sequence[Manifold]) -> Manifold:
    """Several solids as one."""
    from manifold3d import Manifold, OpType

    return solids[0] if len(solids) == 1 else Manifold.batch_boolean(list(solids), OpType.Add)


def box_of(solid: Manifold) -> Real:
    """Its least and greatest x, y and z: six numbers."""
    return np.array(solid.bounding_box())


def gap_mm(one: Manifold, other: Manifold, within_mm: float) -> float:
    """The least gap between two solids, `within_mm` where it is no smaller; 0 where they touch or share something."""
    return float(one.min_gap(other, within_mm))


@dataclass(frozen=True, slots=True)
class Depth:
    """
    A proof of how deep two solids are in each other, mm, with the places (n, 3) by which it is proven.

    No move of less than `across_mm` parts them that is also less than `along_mm` in the direction `axis`; of a ball
    both are its diameter and there is no axis. `flat` says through which flat of which of the two a rod
    goes: (0 or 1, number).
    """

    across_mm: float
    along_mm: float
    at: Real
    axis: Real | None = None
    flat: tuple[int, int] | None = None

    @property
    def mm(self) -> float:
        """Whatever moves the one by less than that, in whichever direction, they still share something."""
        return min(self.across_mm, self.along_mm)


@dataclass(frozen=True, slots=True)
class Flat:
    """A flat of a solid: its region, less holes, of its frame's plane z = 0, of which it is `thick_mm` below."""

    region: BaseGeometry
    frame: Frame
    thick_mm: float


def depths(one: Manifold, other: Manifold, flats: tuple[Sequence[Flat], Sequence[Flat]]) -> Iterator[Depth]:
    """
    Proofs of how deep two solids are in each other; none where they share nothing, or only touch.

    `flats` are those of the one and of the other. A ball is sought in every piece of what they share, from its middle
    on; a rod square to every flat, at some places of what it shares with the other solid.
    """
    shared = one ^ other
    if shared.is_empty() or shared.volume() < _LEAST_MM3:
        return
    for piece in (p for p in shared.decompose() if p.volume() >= _LEAST_MM3):
        radius, middle = _ball(piece)
        if radius > 0:
            yield Depth(2 * radius, 2 * radius, middle[None, :])
    for side, (solid, of) in enumerate(((other, flats[0]), (one, flats[1]))):
        for k, flat in enumerate(of):
            yield from (replace(rod, flat=(side, k)) for rod in _rods(solid, flat))


def _rods(solid: Manifold, flat: Flat) -> Iterator[Depth]:
    """Rods of a solid that go through a flat: none is both longer and farther from the edge than another."""
    local, middle = placed(solid, flat.frame.back), -flat.thick_mm / 2
    common = shapely.intersection(_section(local, middle), flat.region)
    corners, faces = mesh_of(local)
    rods = []
    for x, y in _tries(common):
        far = float(flat.region.boundary.distance(shapely.Point(x, y)))
        rods.append((far, min(_column(corners[faces], x, y, middle)), x, y))
    longest = 0.0
    for far, long, x, y in sorted(rods, reverse=True):
        if long > longest and far > 0:
            longest = long
            ends = [flat.frame.place(np.array([x, y, middle + sign * long])) for sign in (1, -1)]
            yield Depth(far, long, np.array(ends), flat.frame.turn[:, 2])


def _section(solid: Manifold, z: float) -> BaseGeometry:
    """What a plane at a height cuts of a solid; its holes run the other way round."""
    rings = [shapely.LinearRing(ring) for ring in solid.slice(z).to_polygons() if len(ring) > 2]  # noqa: PLR2004
    areas = [(ring.is_ccw, shapely.Polygon(ring).buffer(0)) for ring in rings]
    full, holes = ([area for ccw, area in areas if ccw is way] for way in (True, False))
    return shapely.difference(shapely.union_all(full), shapely.union_all(holes))


def _tries(common: BaseGeometry) -> Iterator[tuple[float, float]]:
    """Places in a region: a grid over each of its pieces, and a place inside."""
    for area in _areas(common):
        x, y = area.representative_point().coords[0]
        yield float(x), float(y)
        low_x, low_y, high_x, high_y = area.bounds
        for u in np.linspace(low_x, high_x, _GRID):
            for v in np.linspace(low_y, high_y, _GRID):
                if area.contains(shapely.Point(u, v)):
                    yield float(u), float(v)


def _column(triangles: Real, x: float, y: float, z: float) -> tuple[float, float]:
    """How far a solid goes up and down from a place in it, square to the plane, mm; faces met at their rim count."""
    a, b, c = (triangles[:, k, :] - np.array([x, y, 0.0]) for k in range(3))
    crosses = [p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0] for p, q in ((b, c), (c, a), (a, b))]
    area = sum(crosses)
    near = np.abs(area) > _THIN_MM2
    weights = [cross[near] / area[near] for cross in crosses]
    met = np.all([w >= -_ROUNDING for w in weights], axis=0)
    heights = sum(w * p[near, 2] for w, p in zip(weights, (a, b, c), strict=True))[met] - z
    up, down = heights[heights > 0], heights[heights < 0]
    return (float(up.min()), float(-down.max())) if len(up) and len(down) else (0.0, 0.0)


def _ball(solid: Manifold) -> tuple[float, Real]:
    """The radius and the middle of a ball that fits in, as large as was found."""
    corners, faces = mesh_of(solid)
    triangles = corners[faces]
    middle = _centroid(triangles)
    axes = np.linalg.eigh(np.cov((corners - middle).T))[1].T
    spans = np.ptp(corners @ axes.T, axis=0)
    best_mm, best = _room(middle, triangles), middle
    step = spans / 4
    most_mm = float(spans.min()) / 2  # no ball is wider than the box around it all
    for _ in range(_TRIED):
        if best_mm >= _NEARLY * most_mm:
            break
        near = [best + sign * step[k] * axes[k] for k in range(3) for sign in (1, -1)]
        rooms = [_room(p, triangles) for p in near]
        k = int(np.argmax(rooms))
        if rooms[k] > best_mm:
            best_mm, best = rooms[k], near[k]
        elif float(step.max()) < 1e-3:  # noqa: PLR2004 - a thousandth of a mm is close enough
            break
        else:
            step = step / 2
    return max(best_mm, 0.0), best


def _room(p: Real, triangles: Real) -> float:
    """From a place inside to the nearest face, mm; less than 0 outside."""
    return _to_faces(p, triangles) if _inside(p, triangles) else -math.inf


def _inside(p: Real, triangles: Real) -> bool:
    """By the solid angle of all faces (van Oosterom and Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125-126)."""
    a, b, c = (triangles[:, k] - p for k in range(3))
    la, lb, lc = (np.linalg.norm(x, axis=1) for x in (a, b, c))
    top = np.einsum("ij,ij->i", a, np.cross(b, c))
    low = (
        la * lb * lc
        + np.einsum("ij,ij->i", a, b) * lc
        + np.einsum("ij,ij->i", b, c) * la
        + np.einsum("ij,ij->i", c, a) * lb
    )
    return bool(np.arctan2(top, low).sum() > math.pi)


def _to_faces(p: Real, triangles: Real) -> float:
    """The least distance to the planes of the faces where a foot lies in the face, and to their edges."""
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    across = np.cross(b - a, c - a)
    length = np.linalg.norm(across, axis=1)
    flat = length > 0
    normal = across[flat] / length[flat, None]
    high = np.einsum("ij,ij->i", p - a[flat], normal)
    foot = p - high[:, None] * normal
    within = np.ones(len(foot), dtype=bool)
    for one, other in ((a, b), (b, c), (c, a)):
        edge = np.cross(other[flat] - one[flat], foot - one[flat])
        within &= np.einsum("ij,ij->i", edge, normal) >= 0
    edges = [_to_edges(p, one, other) for one, other in ((a, b), (b, c), (c, a))]
    planes = np.abs(high[within])
    return float(min(*edges, planes.min() if len(planes) else math.inf))


def _to_edges(p: Real, a: Real, b: Real) -> float:
    way = b - a
    square = np.maximum(np.einsum("ij,ij->i", way, way), 1e-300)
    at = np.clip(np.einsum("ij,ij->i", p - a, way) / square, 0, 1)
    return float(np.linalg.norm(p - (a + at[:, None] * way), axis=1).min())


def _centroid(triangles: Real) -> Real:
    volumes = np.einsum("ij,ij->i", triangles[:, 0], np.cross(triangles[:, 1], triangles[:, 2]))
    return np.asarray((triangles.sum(axis=1) / 4 * volumes[:, None]).sum(axis=0) / volumes.sum())


@dataclass(frozen=True, slots=True)
class Mesh:
    """A solid by its corners (n, 3), mm, and its faces (m, 3), numbers of corners counter-clockwise from outside."""

    name: str
    corners: Real
    faces: Any


def mesh_of(solid: Manifold) -> tuple[Real, Any]:
    """Corners and faces, as those of a `Mesh`."""
    mesh = solid.to_mesh64()
    return np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts)


def _areas(sheet: BaseGeometry) -> Iterator[shapely.Polygon]:
    yield from (g for g in shapely.get_parts(sheet) if isinstance(g, shapely.Polygon) and g.area > 0)
