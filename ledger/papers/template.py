"""
The paper template of a part: its outline and holes at full size on as many sheets as it takes.

Every sheet has a foot with two bars to measure, because a printer may scale what it prints; crosses and cuts that
join it to the next (`ledger.papers.tiles`); and the labels of the holes, each with its size and a cross at its centre.
*Turned over* shows the part from behind: left and right change places, words do not.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from ledger.domain.drawing import PENS, Drawing, Label, Line, around
from ledger.domain.errors import BadInput
from ledger.domain.plates import plate_drawing, rim_of
from ledger.domain.plural import counted
from ledger.domain.quantity import plain
from ledger.domain.record import Part
from ledger.domain.shape import Box, Contour, Hole, Point, Profile, Stroke, Vertex
from ledger.papers.lettered import Lettered, lettered
from ledger.papers.page import Area, Page
from ledger.papers.tiles import FOOT_MM, Layout, Sheets, laid_out, require_few

CAUTION: Final = (
    "MEASURE BOTH BARS BEFORE DRILLING. If 100 mm is not 100 mm, print again at 100 % (no fit to page)."
)
BARS: Final = (("100 mm", 100.0, 10), ("4 in", 101.6, 4))
_AROUND_MM = 4.0  # paper around what is cut
_CROSS_MM = 2.5  # half of a cross that joins sheets
_PAST_MM = 2.0  # the cross of a hole, past its rim
_CUT_DASHES = (4.0, 2.0)
_THIN_MM = 0.12


@dataclass(frozen=True, slots=True)
class Template:
    """A printed template: the PDF, how many sheets across and down, the size of one in mm."""

    data: bytes
    across: int
    down: int
    page_mm: tuple[float, float]

    @property
    def sheets(self) -> int:
        """How many sheets."""
        return self.across * self.down


def template(
    part: Part, sheets: Sheets, *, owner: str, turned_over: bool = False, many: bool = False
) -> Template:
    """
    The template of a part. `many` prints however many sheets it takes.

    Raises BadInput for a part of which no outline and no hole is known, a drawing that cannot be cut as it stands (its
    size may be another), a paper not known, and more sheets than are printed without asking.
    """
    drawing = _figure(part, turned_over=turned_over)
    box = around([drawing.box, drawing.extent])
    box = (box[0] - _AROUND_MM, box[1] - _AROUND_MM, box[2] + _AROUND_MM, box[3] + _AROUND_MM)
    layout = laid_out(box, sheets)
    if not many:
        require_few(layout, box, sheets)
    page = Page(layout.page_mm, title=f"template {part.number} {part.revision}", owner=owner)
    page.at_full_size()
    letters = lettered(drawing, 1.0, notes=False)
    for row, column, window in layout.windows():
        if (row, column) != (1, 1):
            page.next()
        on = _Sheet(page, layout, window, sheets.margin_mm)
        on.figure(drawing, letters)
        on.joints()
        on.foot(_says(part, layout, row, column, turned_over=turned_over), (row, column))
    return Template(page.bytes(), layout.across, layout.down, layout.page_mm)


def _figure(part: Part, *, turned_over: bool) -> Drawing:
    """What is printed: outline, holes with their centres, bend lines and marks; as seen from behind if turned over."""
    profile, holes = part.profile, part.holes
    if profile is not None and not profile.usable:
        raise BadInput(
            f"the drawing of {part.number} cannot be cut as it stands, so it is not printed at full size: "
            f"fitup verdict {part.number} says what is wrong with it"
        )
    if profile is None and not holes:
        raise BadInput(f"{part.number} has no drawing and no measured hole to print: take its drawing first")
    bends = part.bend_lines
    if turned_over:
        profile = _behind(profile) if profile else None
        holes = tuple(replace(h, core=tuple((-x, y) for x, y in h.core)) for h in holes)
        bends = {label: _stroke(s) for label, s in bends.items()}
    drawing = plate_drawing(profile, holes, bends=bends)
    crosses = [Line(line, "size", closed=False) for hole in holes for line in _centre(hole)]
    named = [Label(f"{h.label} Ø{h.diameter_mm:.2f}", rim_of(h), "plate", h.diameter_mm) for h in holes]
    others = [one for one in drawing.labels if part.hole(one.text) is None]
    return replace(
        drawing, lines=(*drawing.lines, *crosses), labels=(*others, *named), sizes=(), notes=(), unsized=()
    )


def _centre(hole: Hole) -> Iterator[tuple[Vertex, ...]]:
    """The cross of each end centre, past the rim."""
    reach = hole.diameter_mm / 2 + _PAST_MM
    for x, y in hole.core:
        yield (x - reach, y, 0.0), (x + reach, y, 0.0)
        yield (x, y - reach, 0.0), (x, y + reach, 0.0)


def _behind(profile: Profile) -> Profile:
    """A profile as seen from its other side."""
    return replace(
        profile,
        outline=_ring(profile.outline) if profile.outline else None,
        outlines=tuple(map(_ring, profile.outlines)),
        openings=tuple(map(_ring, profile.openings)),
        marks=tuple(map(_stroke, profile.marks)),
        bends=tuple(map(_stroke, profile.bends)),
        holes=(),
    )


def _ring(ring: Contour) -> Contour:
    return Contour(tuple((-x, y, -bulge) for x, y, bulge in ring.vertices))


def _stroke(stroke: Stroke) -> Stroke:
    return replace(stroke, vertices=tuple((-x, y, -bulge) for x, y, bulge in stroke.vertices))


def _says(part: Part, layout: Layout, row: int, column: int, *, turned_over: bool) -> tuple[str, ...]:
    """The words of a foot: which sheet of what, which side, from which drawing."""
    number = (row - 1) * layout.across + column
    where = f" (row {row}, column {column})" if layout.count > 1 else ""
    side = "TURNED OVER: the back of the part faces you" if turned_over else "as drawn: the front faces you"
    flat = "; FLAT PATTERN, before bending" if part.bend_lines else ""
    thick = f", {plain(part.thickness.mm)} mm thick" if part.thickness else ""
    drawn = f"drawing {part.taken.file_name}, {part.taken.dxf_sha256[:12]}" if part.taken else "as measured"
    state = "locked" if part.locked else "not locked"
    return (
        f"{part.number} {part.revision} ({state}): sheet {number} of {layout.count}{where}",
        f"{side}{flat}",
        f"{counted(len(part.holes), 'hole')}{thick}; {drawn}; 1:1",
        *(
            []
            if layout.count == 1
            else ["cut one sheet along the dashed line and lay it on the next, cross on cross"]
        ),
    )


class _Sheet:
    """One sheet: where places of the figure lie on the page, and what is drawn there."""

    def __init__(self, page: Page, layout: Layout, window: Box, margin_mm: float) -> None:
        self.page, self.layout, self.window = page, layout, window
        self.margin = margin_mm
        self.area = Area(margin_mm, layout.page_mm[1] - margin_mm, *layout.window_mm)

    def at(self, place: Point) -> Point:
        """A place of the figure on the page, mm."""
        bottom = self.area.top - self.area.height
        return (place[0] - self.window[0] + self.area.x, place[1] - self.window[1] + bottom)

    def figure(self, drawing: Drawing, letters: Lettered) -> None:
        """What of the figure lies in the window."""
        with self.page.within(self.area):
            for line in (*drawing.lines, *letters.lines):
                if _apart(Contour(line.vertices).box, self.window):
                    continue
                pen = PENS[line.role]
                placed = [(*self.at((x, y)), bulge) for x, y, bulge in line.vertices]
                self.page.curves(
                    [placed],
                    closed=line.closed,
                    width=pen.width_mm,
                    dashes=pen.dashes_mm or (),
                    color=pen.color,
                )
            for words in letters.words:
                self.page.text(
                    self.at(words.place),
                    words.text,
                    size=words.size,
                    anchor=words.anchor,
                    turned=words.turned,
                )

    def joints(self) -> None:
        """Cuts with the crosses on them, where there is a sheet beside this one."""
        left, bottom, right, top = self.window
        upright, level = self.layout.cuts()
        with self.page.within(self.area):
            for x in (x for x in upright if left < x < right):
                self._cut((x, bottom), (x, top))
            for y in (y for y in level if bottom < y < top):
                self._cut((left, y), (right, y))
        for x, y in self._shared(upright, level):
            if left < x < right and bottom < y < top:
                self._cross(self.at((x, y)))

    def _shared(self, upright: tuple[float, ...], level: tuple[float, ...]) -> Iterator[Point]:
        """Places of crosses: on every cut, at a quarter and three quarters of every sheet beside it."""
        (width, height), (x0, y0), lap = self.layout.window_mm, self.layout.start, self.layout.overlap_mm
        for part in (0.25, 0.75):
            for k in range(self.layout.down):
                yield from ((x, y0 + k * (height - lap) + part * height) for x in upright)
            for k in range(self.layout.across):
                yield from ((x0 + k * (width - lap) + part * width, y) for y in level)

    def _cut(self, a: Point, b: Point) -> None:
        ends = [(*self.at(a), 0.0), (*self.at(b), 0.0)]
        self.page.curves([ends], closed=False, width=_THIN_MM, dashes=_CUT_DASHES)

    def _cross(self, at: Point) -> None:
        (x, y), r = at, _CROSS_MM
        self.page.line((x - r, y), (x + r, y), width=_THIN_MM)
        self.page.line((x, y - r), (x, y + r), width=_THIN_MM)
        ring = [(x - r / 2, y, 1.0), (x + r / 2, y, 1.0)]
        self.page.curves([ring], closed=True, width=_THIN_MM)

    def foot(self, says: tuple[str, ...], at: tuple[int, int]) -> None:
        """Bars, words, and where the sheet lies among the others."""
        x, top = self.margin + 0.5, self.margin + FOOT_MM - 3.0
        width = self.layout.page_mm[0] - 2 * self.margin
        self.page.block(Area(x, top + 2.0, width - 1.0, 4.0), CAUTION, sizes=(8.0, 7.0, 6.0, 5.0), bold=True)
        for (words, long, parts), y in zip(BARS, (top - 7.0, top - 14.0), strict=True):
            self._bar((x, y), words, long, parts)
        beside = x + BARS[1][1] + 4.0
        map_mm = self._map((self.margin + width - 0.5, top - 3.0), at)
        room = Area(beside, top - 2.5, self.margin + width - beside - map_mm - 2.0, 14.0)
        self.page.block(room, "; ".join(says), sizes=(7.0, 6.0, 5.5, 5.0, 4.5, 4.0))

    def _bar(self, at: Point, words: str, long: float, parts: int) -> None:
        (x, y), height = at, 2.5
        self.page.line((x, y), (x + long, y), width=0.2)
        for k in range(parts + 1):
            tall = height if k in (0, parts) else height / 2
            self.page.line((x + long * k / parts, y), (x + long * k / parts, y + tall), width=0.1)
        self.page.text((x + long / 2, y + 1.6), words, size=7.0, anchor="middle")

    def _map(self, corner: Point, at: tuple[int, int]) -> float:
        """The sheets as small boxes, this one filled; how wide that is, mm."""
        across, down = self.layout.across, self.layout.down
        if self.layout.count == 1:
            return 0.0
        side = min(3.0, 14.0 / max(across, down))
        for row in range(down):
            for column in range(across):
                box = Area(corner[0] - (across - column) * side, corner[1] - row * side, side, side)
                self.page.frame(box, width=0.1)
                if (row + 1, column + 1) == at:
                    self.page.fill(box, grey=0.3)
        return across * side


def _apart(a: Box, b: Box) -> bool:
    """Whether two boxes have nothing in common, a pen's width allowed."""
    wide = math.ceil(max(p.width_mm for p in PENS.values()))
    return a[0] > b[2] + wide or b[0] > a[2] + wide or a[1] > b[3] + wide or b[1] > a[3] + wide
