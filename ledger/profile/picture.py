"""
Pictures of profiles: true arcs, hole labels, overall size; one description, written as SVG here or as PNG elsewhere.

A *drawing* is what a picture shows: *strokes* (vertices with a pen) and *words*, in mm with y up. One *pen* is a
four-hundredth of the larger side, so line widths and letters grow with the plate and every picture looks alike.
The same profile gives the same bytes. Words from outside are made visible and escaped.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

from ledger.domain.errors import visible
from ledger.domain.pose import Pose
from ledger.domain.shape import Box, Contour, Hole, Point, Profile, Stroke, Vertex, arc_of

_FIRST, _SECOND, _BETWEEN, _WRONG, _INK = "#56b4e9", "#e69f00", "#009e73", "#d55e00", "#222222"
MARGIN = 0.08  # of the larger side, around what is drawn
GROUND = "#ffffff"
_LETTERS, _SMALLEST = 8.0, 2.5  # pens
_CROWD = 40  # past so many holes letters shrink with the room that each hole has


@dataclass(frozen=True, slots=True)
class Line:
    """Vertices with a pen: its width, and how long it is down and up, in pens."""

    vertices: tuple[Vertex, ...]
    colour: str
    closed: bool
    width: float = 1.0
    dashes: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Words:
    """One line of words beside (`start`) or around (`middle`) a place on its base line; `size` in pens."""

    place: Point
    text: str
    colour: str
    anchor: str = "start"
    size: float = _LETTERS


@dataclass(frozen=True, slots=True)
class Drawing:
    """What a picture shows, in the order in which it is drawn; `box` is that of the profiles."""

    box: Box
    title: str
    marks: tuple[Line | Words, ...]

    @property
    def side_mm(self) -> float:
        """The larger side of the box."""
        return max(self.box[2] - self.box[0], self.box[3] - self.box[1], 1e-3)

    @property
    def pen_mm(self) -> float:
        """How wide one pen is."""
        return self.side_mm / 400

    @property
    def view(self) -> Box:
        """The box with its margin."""
        room = self.side_mm * MARGIN
        return (self.box[0] - room, self.box[1] - room, self.box[2] + room, self.box[3] + room)


def profile_drawing(
    profile: Profile, *, title: str = "", bends: Mapping[str, Stroke] | None = None
) -> Drawing:
    """
    One profile: outlines, openings, holes with labels, marks (dotted), bends (dashed), overall size.

    `bends` are the bend lines by label, where they have any.
    """
    box, marks = _box(_rings(profile)), list[Line | Words]()
    pen = Drawing(box, "", ()).pen_mm
    marks += [Line(ring.vertices, _INK, closed=True) for ring in (*profile.outlines, *profile.openings)]
    marks += [Line(s.vertices, _INK, closed=False, dashes=(0.5, 1.5)) for s in profile.marks]
    marks += [Line(s.vertices, _INK, closed=False, dashes=(6.0, 2.0)) for s in profile.bends]
    letters = _letters(len(profile.holes))
    for hole in profile.holes:
        marks += _hole(hole, pen, colour=_INK, letters=letters)
    for label, stroke in (bends or {}).items():
        x, y = max((v[0], v[1]) for v in stroke.vertices)
        marks.append(Words((x + letters / 4 * pen, y), label, _INK, size=letters))
    if profile.size_mm:
        marks.append(_overall(box, pen, profile.size_mm))
    return Drawing(box, title, tuple(marks))


def overlay_drawing(
    a: Profile,
    b: Profile,
    pose: Pose,
    *,
    between: Sequence[tuple[Profile, Pose]] = (),
    wrong: Collection[str] = (),
    title: str = "",
) -> Drawing:
    """
    `a` laid on `b` by `pose`: `b` in orange, `a` in blue with its hole labels; plies `between` them dashed, in green.

    `wrong` names holes of `a` that do not fit; they are drawn thick and red with a cross, so that colour is not all.
    """
    placed = [pose.place_contour(ring) for ring in (*a.outlines, *a.openings)]
    moved = [Hole(h.label, tuple(pose.place(p) for p in h.core), h.diameter_mm, h.made_of) for h in a.holes]
    middle = [at.place_contour(ring) for profile, at in between for ring in _rings(profile)]
    box = _box([*_rings(b), *middle, *placed, *(h.contour() for h in moved)])
    pen = Drawing(box, "", ()).pen_mm
    marks: list[Line | Words] = [Line(ring.vertices, _SECOND, closed=True) for ring in _rings(b)]
    marks += [Line(ring.vertices, _BETWEEN, closed=True, dashes=(4.0, 2.0)) for ring in middle]
    marks += [Line(ring.vertices, _FIRST, closed=True) for ring in placed]
    letters = _letters(len(moved))
    for hole in moved:
        if hole.label in wrong:
            marks += _hole(hole, pen, colour=_WRONG, letters=letters, width=2.5)
            marks += _cross(hole.centre, hole.diameter_mm / 2)
        else:
            marks += _hole(hole, pen, colour=_FIRST, letters=letters)
    return Drawing(box, title, tuple(marks))


def profile_svg(profile: Profile, *, title: str = "", bends: Mapping[str, Stroke] | None = None) -> bytes:
    """One profile as SVG."""
    return svg(profile_drawing(profile, title=title, bends=bends))


def overlay_svg(a: Profile, b: Profile, pose: Pose, *, wrong: tuple[str, ...] = (), title: str = "") -> bytes:
    """Two profiles, one laid on the other, as SVG."""
    return svg(overlay_drawing(a, b, pose, wrong=wrong, title=title))


def svg(drawing: Drawing) -> bytes:
    """A drawing as SVG. y points up in a drawing and down in a picture, so y is negated."""
    left, bottom, right, top = drawing.view
    view = " ".join(_n(v) for v in (left, -top, right - left, top - bottom))
    title = escape(visible(drawing.title, most=200))
    lines = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}" font-family="sans-serif">']
    if title:
        lines.append(f"<title>{title}</title>")
    lines.append(f'<rect x="{_n(left)}" y="{_n(-top)}" width="100%" height="100%" fill="{GROUND}"/>')
    pen = drawing.pen_mm
    lines += [_line(m, pen) if isinstance(m, Line) else _words(m, pen) for m in drawing.marks]
    return "\n".join([*lines, "</svg>\n"]).encode("utf-8")


def _line(line: Line, pen: float) -> str:
    dashes = f' stroke-dasharray="{" ".join(_n(d * pen) for d in line.dashes)}"' if line.dashes else ""
    return (
        f'<path d="{_path(line.vertices, closed=line.closed)}" fill="none" stroke="{line.colour}" '
        f'stroke-width="{_n(line.width * pen)}"{dashes}/>'
    )


def _words(words: Words, pen: float) -> str:
    return (
        f'<text x="{_n(words.place[0])}" y="{_n(-words.place[1])}" font-size="{_n(words.size * pen)}" '
        f'text-anchor="{words.anchor}" fill="{words.colour}">{escape(visible(words.text))}</text>'
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


def _letters(holes: int) -> float:
    """How large labels are, in pens."""
    return _LETTERS if holes <= _CROWD else max(_SMALLEST, _LETTERS * math.sqrt(_CROWD / holes))


def _hole(
    hole: Hole, pen: float, *, colour: str, letters: float, width: float = 1.0
) -> Iterator[Line | Words]:
    yield Line(hole.contour().vertices, colour, closed=True, width=width)
    if hole.label:
        x, y = hole.centre
        reach = max(p[0] for p in hole.core) - x + hole.diameter_mm / 2
        yield Words((x + reach + letters / 4 * pen, y), hole.label, colour, size=letters)


def _cross(centre: Point, reach: float) -> Iterator[Line]:
    x, y = centre
    for lean in (1.0, -1.0):
        ends = ((x - reach, y - lean * reach, 0.0), (x + reach, y + lean * reach, 0.0))
        yield Line(ends, _WRONG, closed=False)


def _overall(box: Box, pen: float, size: tuple[float, float]) -> Words:
    place = ((box[0] + box[2]) / 2, box[1] - 14 * pen)
    return Words(place, f"{size[0]:.2f} × {size[1]:.2f} mm", _INK, anchor="middle")


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
