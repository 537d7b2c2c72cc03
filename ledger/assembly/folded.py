"""
A bent part as solids: its flanges, each flat, and its bends, each a sector of a cylinder. All lengths in mm.

The flat drawing is cut along its bend lines; what a bend takes of the flat is left out on either side of the line. From
the first flange on, every other one is laid over the bends on the way. A part whose bends do not part it, or that
closes on itself, is none of that.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from ledger.assembly.solids import placed, prism, sector
from ledger.assembly.space import HERE, UP, Bend, Frame
from ledger.domain.shape import Point
from ledger.fit.joint import Real

if TYPE_CHECKING:
    from manifold3d import Manifold

_SHORT_MM: Final = (
    5.0  # a bend line is drawn that much short of the outline at most, or by a twentieth of its length
)
_SAME_MM: Final = 1e-3
_SLIVER_MM2: Final = 1e-6


@dataclass(frozen=True, slots=True)
class Piece:
    """A flange: its region of the flat drawing, and its drawing's frame in that of the first flange."""

    flat: shapely.Polygon
    frame: Frame
    bends: tuple[int, ...] = ()  # crossed on the way from the first flange


@dataclass(frozen=True, slots=True)
class Folded:
    """All flanges, the first as drawn, and of each bend the flange that it was laid from, and its number."""

    pieces: tuple[Piece, ...]
    bends: tuple[tuple[Bend, int, int], ...]
    beyond: Mapping[int, int]  # the flange behind each bend

    def piece_at(self, points: Sequence[Point]) -> Piece | None:
        """The flange on which all these places are; None where there is no one such."""
        found = {self._at(x) for x in points}
        place = found.pop() if len(found) == 1 else None
        return None if place is None else self.pieces[place]

    def _at(self, point: Point) -> int | None:
        """The flange at a place, in one of its holes too; the smallest, where one is cut out of another."""
        near = [(p.flat.area, k) for k, p in enumerate(self.pieces) if _covers(p.flat, point)]
        return min(near)[1] if near else None


def folded(sheet: BaseGeometry, bends: Sequence[Bend]) -> Folded | None:
    """A sheet (outline less openings and holes) bent along its lines; None where they do not part it into a tree."""
    strips = [_strip(b, b.allowance_mm) for b in bends]
    rest = shapely.difference(sheet, shapely.union_all(strips)) if strips else sheet
    flats = sorted(
        (g for g in shapely.get_parts(rest) if isinstance(g, shapely.Polygon) and g.area > _SLIVER_MM2),
        key=lambda g: -g.area,
    )
    sides = [_sides(bend, flats) for bend in bends]
    if not flats or any(len(one) != 1 or len(other) != 1 for one, other in sides):
        return None
    links = [(one[0], other[0]) for one, other in sides]
    pieces = {0: Piece(flats[0], HERE)}
    laid: list[tuple[Bend, int, int]] = []
    beyond: dict[int, int] = {}
    left = set(range(len(bends)))
    while left:
        k = next((k for k in sorted(left) if (links[k][0] in pieces) != (links[k][1] in pieces)), None)
        if k is None:
            return None  # what is left closes on itself, or hangs on nothing
        left.discard(k)
        near, far = links[k] if links[k][0] in pieces else links[k][::-1]
        there = flats[far].representative_point()
        frame = pieces[near].frame.after(bends[k].beyond((there.x, there.y)))
        pieces[far] = Piece(flats[far], frame, (*pieces[near].bends, k))
        laid.append((bends[k], near, k))
        beyond[k] = far
    if len(pieces) != len(flats):
        return None
    return Folded(tuple(pieces[k] for k in range(len(flats))), tuple(laid), beyond)


def parted(sheet: BaseGeometry, lines: Sequence[tuple[Point, Point]], points: Sequence[Point]) -> bool:
    """
    Whether bend lines part these places of a sheet, whichever way round one would go: they are not in one flat piece.

    Lines are made a little longer at both ends, as they are drawn short of the outline; places in a hole are where its
    rim is.
    """
    flat = [Bend(a, b, 90.0, 0.0, 2 * _SAME_MM, 0.0, up=True) for a, b in lines]
    rest = shapely.difference(sheet, shapely.union_all([_strip(b, b.allowance_mm) for b in flat]))
    pieces = [g for g in shapely.get_parts(rest) if isinstance(g, shapely.Polygon) and g.area > _SLIVER_MM2]
    found = {min(range(len(pieces)), key=lambda k: pieces[k].distance(shapely.Point(p))) for p in points}
    return len(pieces) > 0 and len(found) > 1


def solids_of(made: Folded, sheet: BaseGeometry, thick_mm: float, coat_mm: float) -> list[Manifold]:
    """Flanges and bends as solids in the frame of the first flange; holes in a bend are filled."""
    found = [placed(prism(p.flat, -thick_mm - coat_mm, coat_mm), p.frame) for p in made.pieces]
    for bend, near, k in made.bends:
        there = made.pieces[made.beyond[k]].flat.representative_point()
        swept = _swept(bend, (there.x, there.y), sheet, coat_mm)
        if swept is not None:
            found.append(placed(swept, made.pieces[near].frame))
    return found


def _swept(bend: Bend, beyond: Point, sheet: BaseGeometry, coat_mm: float) -> Manifold | None:
    """The bend in the drawing's coordinates before it."""
    start, along, outward = _axes(bend, beyond)
    strip = shapely.get_coordinates(shapely.intersection(sheet, _strip(bend, bend.allowance_mm)))
    if not len(strip):
        return None
    stations = (strip - start[:2]) @ along[:2]
    low, high = float(stations.min()), float(stations.max())
    inner, outer = bend.radius_mm, bend.radius_mm + bend.thick_mm
    face = UP if bend.up else -UP
    centre = start - bend.allowance_mm / 2 * outward + (inner if bend.up else outer) * face
    length = np.cross(outward, face)
    begin = low if length @ along > 0 else -high
    turn = np.column_stack([outward, face, length])
    made = sector((max(inner - coat_mm, 0.0), outer + coat_mm), math.radians(bend.angle_deg), high - low)
    return placed(made, Frame(turn, centre + begin * length))


def _axes(bend: Bend, beyond: Point) -> tuple[Real, Real, Real]:
    """The start of the line, along it, and outward to where a place is."""
    start = np.array([*bend.a, 0.0])
    along = np.array([*bend.b, 0.0]) - start
    along /= np.linalg.norm(along)
    outward = np.cross(UP, along)
    if outward @ (np.array([*beyond, 0.0]) - start) < 0:
        outward = -outward
    return start, along, outward


def _strip(bend: Bend, wide_mm: float) -> shapely.Polygon:
    """What a bend takes of the flat: about its line, made a little longer at both ends."""
    (ax, ay), (bx, by) = bend.a, bend.b
    length = math.hypot(bx - ax, by - ay)
    more = max(_SHORT_MM, length / 20) / length
    dx, dy = (bx - ax) * more, (by - ay) * more
    line = shapely.LineString([(ax - dx, ay - dy), (bx + dx, by + dy)])
    return line.buffer(max(wide_mm, 1e-3) / 2, cap_style="flat")


def _sides(bend: Bend, flats: Sequence[shapely.Polygon]) -> tuple[list[int], list[int]]:
    """The flanges that lie along a bend on its left and on its right."""
    start, along, outward = _axes(
        bend, (bend.a[0] - (bend.b[1] - bend.a[1]), bend.a[1] + bend.b[0] - bend.a[0])
    )
    middle = start + along * math.dist(bend.a, bend.b) / 2
    half = math.dist(bend.a, bend.b) / 2 * 0.98
    found = []
    for sign in (1, -1):
        off = middle + sign * outward * (bend.allowance_mm / 2 + 0.01)
        line = shapely.LineString([(off - half * along)[:2], (off + half * along)[:2]])
        found.append(
            [k for k, flat in enumerate(flats) if shapely.intersection(flat, line).length > half / 10]
        )
    return found[0], found[1]


def _covers(flat: shapely.Polygon, point: Point) -> bool:
    return bool(shapely.Polygon(flat.exterior).covers(shapely.Point(point)))
