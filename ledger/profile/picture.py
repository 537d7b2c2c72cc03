"""
Pictures of profiles as SVG: true arcs, hole labels, overall size.

The same profile gives the same bytes. y points up in a drawing and down in a picture, so y is negated. Words from
outside are made visible and escaped. Line widths and letters grow with the plate, so every picture looks alike.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from xml.sax.saxutils import escape

from ledger.domain.errors import visible
from ledger.domain.pose import Pose
from ledger.domain.shape import Box, Contour, Hole, Point, Profile, Vertex, arc_of

_FIRST, _SECOND, _WRONG, _INK = "#56b4e9", "#e69f00", "#d55e00", "#222222"
_MARGIN = 0.08


def profile_svg(profile: Profile, *, title: str = "") -> bytes:
    """One profile: outlines, openings, holes with labels, marks (dotted), bends (dashed), overall size."""
    sheet = _Sheet(_box(_rings(profile)), title)
    for ring in (*profile.outlines, *profile.openings):
        sheet.path(ring.vertices, stroke=_INK, closed=True)
    for stroke in profile.marks:
        sheet.path(stroke.vertices, stroke=_INK, closed=False, dashes=(0.5, 1.5))
    for stroke in profile.bends:
        sheet.path(stroke.vertices, stroke=_INK, closed=False, dashes=(6.0, 2.0))
    for hole in profile.holes:
        sheet.hole(hole, stroke=_INK, label=hole.label)
    sheet.overall(profile.size_mm)
    return sheet.bytes()


def overlay_svg(a: Profile, b: Profile, pose: Pose, *, wrong: tuple[str, ...] = (), title: str = "") -> bytes:
    """
    `a` laid on `b` by `pose`: `b` in orange, `a` in blue with its hole labels.

    `wrong` names holes of `a` that do not fit; they are drawn thick and red with a cross, so that colour is not all.
    """
    placed = [pose.place_contour(ring) for ring in _rings(a)]
    sheet = _Sheet(_box([*_rings(b), *placed]), title)
    for ring in (*b.outlines, *b.openings):
        sheet.path(ring.vertices, stroke=_SECOND, closed=True)
    for hole in b.holes:
        sheet.hole(hole, stroke=_SECOND, label="")
    for ring in (*a.outlines, *a.openings):
        sheet.path(pose.place_contour(ring).vertices, stroke=_FIRST, closed=True)
    for hole in a.holes:
        moved = Hole(hole.label, tuple(pose.place(p) for p in hole.core), hole.diameter_mm, hole.made_of)
        bad = hole.label in wrong
        sheet.hole(moved, stroke=_WRONG if bad else _FIRST, label=hole.label, width=2.5 if bad else 1.0)
        if bad:
            sheet.cross(moved.centre, hole.diameter_mm / 2)
    return sheet.bytes()


class _Sheet:
    """An SVG being drawn, in mm with y down. One `pen` is a four-hundredth of the larger side."""

    def __init__(self, box: Box, title: str) -> None:
        self.box = box
        low_x, low_y, high_x, high_y = box
        self.pen = max(high_x - low_x, high_y - low_y, 1e-3) / 400
        self.title = escape(visible(title, most=200))
        self.parts: list[str] = []

    def bytes(self) -> bytes:
        low_x, low_y, high_x, high_y = self.box
        room = max(high_x - low_x, high_y - low_y, 1e-3) * _MARGIN
        view = " ".join(
            _n(v)
            for v in (low_x - room, -high_y - room, high_x - low_x + 2 * room, high_y - low_y + 2 * room)
        )
        head = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}" font-family="sans-serif">\n'
        name = f"<title>{self.title}</title>\n" if self.title else ""
        ground = f'<rect x="{_n(low_x - room)}" y="{_n(-high_y - room)}" width="100%" height="100%" fill="#ffffff"/>'
        return "\n".join([head + name + ground, *self.parts, "</svg>\n"]).encode("utf-8")

    def path(
        self,
        vertices: Sequence[Vertex],
        *,
        stroke: str,
        closed: bool,
        width: float = 1.0,
        dashes: tuple[float, float] | None = None,
    ) -> None:
        dashed = (
            f' stroke-dasharray="{_n(dashes[0] * self.pen)} {_n(dashes[1] * self.pen)}"' if dashes else ""
        )
        self.parts.append(
            f'<path d="{_path(vertices, closed=closed)}" fill="none" stroke="{stroke}" '
            f'stroke-width="{_n(width * self.pen)}"{dashed}/>'
        )

    def hole(self, hole: Hole, *, stroke: str, label: str, width: float = 1.0) -> None:
        self.path(hole.contour().vertices, stroke=stroke, closed=True, width=width)
        if label:
            x, y = hole.centre
            reach = max(p[0] for p in hole.core) - x + hole.diameter_mm / 2
            self.text((x + reach + 2 * self.pen, y), label, stroke)

    def cross(self, centre: Point, reach: float) -> None:
        x, y = centre
        for lean in (1.0, -1.0):
            ends = ((x - reach, y - lean * reach, 0.0), (x + reach, y + lean * reach, 0.0))
            self.path(ends, stroke=_WRONG, closed=False)

    def overall(self, size: tuple[float, float] | None) -> None:
        if size is None:
            return
        low_x, low_y, high_x, _ = self.box
        words = f"{size[0]:.2f} × {size[1]:.2f} mm"
        self.text(((low_x + high_x) / 2, low_y - 14 * self.pen), words, _INK, anchor="middle")

    def text(self, place: Point, words: str, fill: str, anchor: str = "start") -> None:
        self.parts.append(
            f'<text x="{_n(place[0])}" y="{_n(-place[1])}" font-size="{_n(8 * self.pen)}" '
            f'text-anchor="{anchor}" fill="{fill}">{escape(visible(words))}</text>'
        )


def _path(vertices: Sequence[Vertex], *, closed: bool) -> str:
    """Path data; an arc of SVG is its radius, whether it is more than half a turn, and which way it runs."""
    following = [*vertices[1:], vertices[0]] if closed else list(vertices[1:])
    words = [f"M{_n(vertices[0][0])} {_n(-vertices[0][1])}"]
    for a, b in zip(vertices, following, strict=False):
        if a[2] and a[:2] != b[:2]:
            _, radius, _, sweep = arc_of(a[:2], b[:2], a[2])
            large, turn = int(abs(sweep) > math.pi), int(sweep < 0)
            words.append(f"A{_n(radius)} {_n(radius)} 0 {large} {turn} {_n(b[0])} {_n(-b[1])}")
        else:
            words.append(f"L{_n(b[0])} {_n(-b[1])}")
    return " ".join(words) + ("Z" if closed else "")


def _rings(profile: Profile) -> list[Contour]:
    return [*profile.outlines, *profile.openings, *(h.contour() for h in profile.holes)]


def _box(rings: Sequence[Contour]) -> Box:
    boxes = [ring.box for ring in rings]
    if not boxes:
        return (0.0, 0.0, 1.0, 1.0)
    return (
        min(b[0] for b in boxes),
        min(b[1] for b in boxes),
        max(b[2] for b in boxes),
        max(b[3] for b in boxes),
    )


def _n(value: float) -> str:
    """Four places without trailing zeros, and no sign on zero."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
