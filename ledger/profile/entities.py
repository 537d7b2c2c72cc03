"""
Single entities of a drawing into pieces, one function a kind.

LINE, ELLIPSE, SPLINE and 3D polylines hold world coordinates; CIRCLE, ARC, LWPOLYLINE and 2D polylines hold
their own, which the extrusion turns into world ones. A kind that is not here is no curve, or none that can be
read; `walk` says so. An entity that is not flat, or not wholly defined, raises `NotRead` with the reason.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

from ledger.domain.plural import counted
from ledger.domain.shape import Point, Vertex, arc_of
from ledger.profile.affine import MIRROR_X, Affine
from ledger.profile.curves import (
    SAGITTA_MM,
    TooFine,
    arc_vertices,
    circle_vertices,
    ellipse_points,
    full_turn,
    round_axes,
    spline_points,
)
from ledger.profile.piece import Piece, apart

_FLAT = 1e-6
_SAME_MM = 1e-6
_FAINT_MM = 2e-6  # bulge times chord is twice the sagitta
_FULL = 2 * math.pi
_LEAST_FIT_POINTS, _MOST_FIT_POINTS = 2, 2000
# Bits of group 70 of a vertex, and of a polyline.
_SPLINE_FRAME, _IN_SPACE, _MESH = 16, 8, 16 | 64


class NotRead(Exception):
    """Why one entity cannot be read."""


def piece_of(entity: Any, to: Affine, layer: str) -> Piece | None:
    """
    The piece an entity draws, through `to`; None for one without length. Raises NotRead.

    `entity` is one of the CAD library's; its `dxftype` must be in KINDS.
    """
    kind = entity.dxftype()
    try:
        piece = KINDS[kind](entity, to, kind, layer)
    except TooFine as error:
        raise NotRead(str(error)) from None
    if not all(math.isfinite(v) for vertex in piece.vertices for v in vertex):
        raise NotRead("its coordinates are not finite")
    return piece if len(piece.vertices) > 1 else None


def own_plane(entity: Any) -> Affine:
    """From the entity's own coordinates to world ones. Raises NotRead for a tilted one."""
    x, y, z = _extrusion(entity)
    if max(abs(x), abs(y)) > _FLAT * max(abs(z), _FLAT):
        raise NotRead("it is tilted out of the drawing plane")
    return MIRROR_X if z < 0 else Affine()


def _extrusion(entity: Any) -> tuple[float, float, float]:
    x, y, z = entity.dxf.get("extrusion", (0.0, 0.0, 1.0))
    return x, y, z


def _line(entity: Any, to: Affine, kind: str, layer: str) -> Piece:
    a, b = entity.dxf.start, entity.dxf.end
    _level([a.z, b.z])
    (ax, ay), (bx, by) = to.place(a.x, a.y), to.place(b.x, b.y)
    return Piece(kind, layer, ((ax, ay, 0.0), (bx, by, 0.0)), closed=False)


def _circle(entity: Any, to: Affine, kind: str, layer: str) -> Piece:
    return _turned(entity, to, start=0.0, sweep=_FULL, named=(kind, layer))


def _arc(entity: Any, to: Affine, kind: str, layer: str) -> Piece:
    start = math.radians(entity.dxf.start_angle)
    sweep = math.radians((entity.dxf.end_angle - entity.dxf.start_angle) % 360.0) or _FULL
    return _turned(entity, to, start=start, sweep=sweep, named=(kind, layer))


def _turned(entity: Any, to: Affine, *, start: float, sweep: float, named: tuple[str, str]) -> Piece:
    """A circle or an arc of one, in its own plane."""
    to = to.after(own_plane(entity))
    centre, radius = entity.dxf.center, entity.dxf.radius
    axes = (to.turn(radius, 0.0), to.turn(0.0, radius))
    return _oval(to.place(centre.x, centre.y), axes, start=start, sweep=sweep, named=named)


def _ellipse(entity: Any, to: Affine, kind: str, layer: str) -> Piece:
    side = own_plane(entity)
    major, ratio = entity.dxf.major_axis, entity.dxf.ratio
    _level([0.0, major.z])
    hand = -1.0 if side.mirrors else 1.0
    axes = (to.turn(major.x, major.y), to.turn(-hand * major.y * ratio, hand * major.x * ratio))
    start = entity.dxf.start_param
    sweep = (entity.dxf.end_param - start) % _FULL
    sweep = _FULL if full_turn(sweep) or sweep <= 1e-9 else sweep  # noqa: PLR2004 - noise of a whole turn
    centre = entity.dxf.center
    return _oval(to.place(centre.x, centre.y), axes, start=start, sweep=sweep, named=(kind, layer))


def _oval(
    centre: Point, axes: tuple[Point, Point], *, start: float, sweep: float, named: tuple[str, str]
) -> Piece:
    """Centre + u·cos t + v·sin t: an arc where it is round, else points."""
    u, v = axes
    if not abs(u[0] * v[1] - u[1] * v[0]) > 0:
        raise NotRead("it is squashed to a line")
    radius = round_axes(u, v)
    if radius is None:
        points = ellipse_points(centre, u, v, start=start, sweep=sweep)
        closed = full_turn(sweep)
        return Piece(*named, tuple(points[:-1] if closed else points), closed, SAGITTA_MM)
    if full_turn(sweep):
        return Piece(*named, tuple(circle_vertices(centre, radius)), closed=True, circle=(*centre, radius))
    sign = 1.0 if u[0] * v[1] - u[1] * v[0] > 0 else -1.0
    first = math.atan2(u[1], u[0]) + sign * start
    return Piece(*named, tuple(arc_vertices(centre, radius, first, sign * sweep)), closed=False)


def _spline(entity: Any, to: Affine, kind: str, layer: str) -> Piece:
    own_plane(entity)  # never used for a spline, but a tilted one is refused
    control = [(float(p[0]), float(p[1])) for p in entity.control_points]
    _level([float(p[2]) for p in (entity.control_points if control else entity.fit_points)])
    degree, knots, weights = entity.dxf.degree, list(entity.knots), list(entity.weights)
    if not control:
        through = _through(entity)
        control = [(p.x, p.y) for p in through.control_points]
        degree, knots, weights = through.degree, list(through.knots()), []
    points = spline_points(
        control,
        degree=degree,
        knots=[float(k) for k in knots],
        weights=[float(w) for w in weights],
        to=to,
    )
    error = 0.0 if degree == 1 else SAGITTA_MM
    return _run(points, closed=False, named=(kind, layer), chord_error_mm=error)


def only_fit_points(entity: Any) -> bool:
    """Whether a spline is known by points that it goes through, and not by its control points."""
    return entity.dxftype() == "SPLINE" and not len(entity.control_points) and len(entity.fit_points) > 0


def _through(entity: Any) -> Any:
    """The curve that the CAD library draws through the fit points, with the end tangents the file gives."""
    if not _LEAST_FIT_POINTS <= len(entity.fit_points) <= _MOST_FIT_POINTS:
        raise NotRead(
            f"it has {counted(len(entity.fit_points), 'fit point')}; {_LEAST_FIT_POINTS} to {_MOST_FIT_POINTS} are read"
        )
    try:
        return entity.construction_tool()
    except (ValueError, ArithmeticError) as error:
        raise NotRead(f"no curve goes through its fit points ({error})") from None


def _light_polyline(entity: Any, to: Affine, kind: str, layer: str) -> Piece:
    to = to.after(own_plane(entity))
    vertices = [(float(x), float(y), float(b)) for x, y, b in entity.get_points("xyb")]
    return _bulged(vertices, to, closed=bool(entity.closed), named=(kind, layer))


def _polyline(entity: Any, to: Affine, kind: str, layer: str) -> Piece:
    flags = entity.dxf.flags
    if flags & _MESH:
        raise NotRead("it is a mesh")
    drawn = [v for v in entity.vertices if not v.dxf.flags & _SPLINE_FRAME]
    points = [v.dxf.location for v in drawn]
    _level([p.z for p in points])
    if not flags & _IN_SPACE:
        to = to.after(own_plane(entity))
    bulges = [0.0 if flags & _IN_SPACE else float(v.dxf.bulge) for v in drawn]
    vertices = [(float(p.x), float(p.y), b) for p, b in zip(points, bulges, strict=True)]
    return _bulged(vertices, to, closed=bool(flags & 1), named=(kind, layer))


def _bulged(vertices: Sequence[Vertex], to: Affine, *, closed: bool, named: tuple[str, str]) -> Piece:
    if any(b for _, _, b in vertices) and to.scale is None:
        return _run(
            _stretched(vertices, to, closed=closed), closed=closed, named=named, chord_error_mm=SAGITTA_MM
        )
    sign = -1.0 if to.mirrors else 1.0
    return _run([(*to.place(x, y), sign * b) for x, y, b in vertices], closed=closed, named=named)


def _stretched(vertices: Sequence[Vertex], to: Affine, *, closed: bool) -> list[Vertex]:
    """Vertices whose arcs a block scaled unequally turned into pieces of ellipses."""
    out: list[Vertex] = []
    following = [*vertices[1:], vertices[0]] if closed else list(vertices[1:])
    for (x, y, bulge), (next_x, next_y, _) in zip(vertices, following, strict=False):
        if not bulge or (x, y) == (next_x, next_y):
            out.append((*to.place(x, y), 0.0))
            continue
        centre, radius, start, sweep = arc_of((x, y), (next_x, next_y), bulge)
        axes = (to.turn(radius, 0.0), to.turn(0.0, radius))
        out.extend(ellipse_points(to.place(*centre), *axes, start=start, sweep=sweep)[:-1])
    return out if closed else [*out, (*to.place(*vertices[-1][:2]), 0.0)]


def _run(
    vertices: Sequence[Vertex], *, closed: bool, named: tuple[str, str], chord_error_mm: float = 0.0
) -> Piece:
    """Vertices without repeated points; a run that comes back to its first point stays open, its ends meet."""
    kept: list[Vertex] = []
    for vertex in vertices:
        if kept and apart(kept[-1][:2], vertex[:2]) <= _SAME_MM:
            kept[-1] = (kept[-1][0], kept[-1][1], vertex[2])
        else:
            kept.append(vertex)
    if closed and len(kept) > 1 and apart(kept[0][:2], kept[-1][:2]) <= _SAME_MM:
        kept.pop()
    if not closed and kept:
        kept[-1] = (kept[-1][0], kept[-1][1], 0.0)
    return Piece(*named, _without_faint(kept), closed, chord_error_mm)


def _without_faint(vertices: Sequence[Vertex]) -> tuple[Vertex, ...]:
    """A bulge too faint to matter is a straight line: as an arc its radius would be astronomical."""
    following = [*vertices[1:], *vertices[:1]]
    return tuple(
        (a[0], a[1], a[2] if abs(a[2]) * apart(a[:2], b[:2]) > _FAINT_MM else 0.0)
        for a, b in zip(vertices, following, strict=True)
    )


def _level(heights: Sequence[float]) -> None:
    if heights and max(heights) - min(heights) > _FLAT:
        raise NotRead("it is not flat: its z changes")


KINDS: dict[str, Callable[[Any, Affine, str, str], Piece]] = {
    "LINE": _line,
    "CIRCLE": _circle,
    "ARC": _arc,
    "ELLIPSE": _ellipse,
    "SPLINE": _spline,
    "LWPOLYLINE": _light_polyline,
    "POLYLINE": _polyline,
}
