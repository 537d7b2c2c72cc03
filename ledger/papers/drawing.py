"""
A profile drawn on a page to a stated scale: true arcs, hole labels, overall size.

*Scale* is the largest of a short list with which the profile fits its room; a profile too large for all of them is
drawn *not to scale* and the page says so. A label stands in or beside its hole where nothing else does; where there
is no such place it is left out and counted, and the hole table's coordinates speak for it. Key dimensions that are
measured on holes are drawn with their limits under the same rule: the table of key dimensions has them all.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import chain

from ledger.domain.errors import BadInput, visible
from ledger.domain.record import Part
from ledger.domain.shape import Box, Contour, Profile
from ledger.papers.bends import bend_label_places
from ledger.papers.cut_list import figure
from ledger.papers.label_places import Placed, Taken, dimension_text, draw_sizes, label_holes, rim_of
from ledger.papers.page import Area, Page

NOT_TO_SCALE = "not to scale"
# ISO 5455 names 1:1, 2:1, 5:1, 1:2, 1:5, 1:10, 1:20 and 1:50; 1:2.5 stands between, as workshops use it.
SCALES = (
    ("5:1", 5.0),
    ("2:1", 2.0),
    ("1:1", 1.0),
    ("1:2", 0.5),
    ("1:2.5", 0.4),
    ("1:5", 0.2),
    ("1:10", 0.1),
    ("1:20", 0.05),
    ("1:50", 0.02),
)
_ROOM_MM = 13.0  # around the profile, for its size and for labels
_CUT_MM, _THIN_MM = 0.3, 0.15
_BEND, _MARK = (3.0, 1.0), (0.3, 0.8)


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale by name and as page mm per drawn mm."""

    name: str
    factor: float


@dataclass(frozen=True, slots=True)
class Drawn:
    """What was drawn: the scale, the labels and the key dimensions that found no place."""

    scale: Scale
    unlabelled: tuple[str, ...]
    unsized: tuple[str, ...] = ()


def scale_for(size_mm: tuple[float, float], room_mm: tuple[float, float]) -> Scale:
    """The largest scale with which a size goes into a room. Sizes are above zero or zero."""
    most = min((r / s if s > 0 else math.inf) for s, r in zip(size_mm, room_mm, strict=True))
    for name, factor in SCALES:
        if factor <= most:
            return Scale(name, factor)
    return Scale(NOT_TO_SCALE, most)


def draw_part(page: Page, area: Area, part: Part, profile: Profile) -> Drawn:
    """
    Draw a part's profile in the middle of an area, with its overall size; limits where it is a key dimension.

    Raises BadInput for a profile that is not finite.
    """
    box = _box(profile, strokes=True)
    rings, lines = (*profile.outlines, *profile.openings), (*profile.bends, *profile.marks)
    corners = (*(v for r in rings for v in r.vertices), *(v for s in lines for v in s.vertices))
    if not all(map(math.isfinite, (*box, *chain.from_iterable(corners)))):
        raise BadInput(
            f"the drawing of {visible(part.number)} has a size that is not a finite number; read the file again"
        )
    size = (box[2] - box[0], box[3] - box[1])
    scale = scale_for(size, (area.width - 2 * _ROOM_MM, area.height - 2 * _ROOM_MM))
    sheet = Placed(page, area, box, scale.factor)
    rings = (*profile.outlines, *profile.openings, *(h.contour() for h in profile.holes))
    if rings:
        page.curves((sheet.vertices(r.vertices) for r in rings), closed=True, width=_CUT_MM)
    for strokes, dashes in ((profile.bends, _BEND), (profile.marks, _MARK)):
        if strokes:
            page.curves(
                (sheet.vertices(s.vertices) for s in strokes), closed=False, width=_THIN_MM, dashes=dashes
            )
    for label, (x, y), (ux, uy) in bend_label_places(part.bend_lines):
        at = sheet.point(x, y)
        page.text((at[0] + 2.5 * ux, at[1] + 2.5 * uy - 0.8), label, size=6.5, anchor="middle")
    taken = Taken()
    unlabelled = label_holes(sheet, area, profile.holes, taken)
    unsized = draw_sizes(sheet, area, part, profile, taken)
    if profile.size_mm:
        _overall(sheet, part, profile)
    return Drawn(scale, unlabelled, unsized)


def overall_text(part: Part, side: str, value_mm: float) -> str:
    """The overall width or height: with its limits where it is a key dimension, else in brackets, for information."""
    key = next((d for d in part.dimensions if d.measured_on == side), None)
    if key is None:
        return f"({figure(value_mm, 3)})"
    return dimension_text(key)


def _overall(sheet: Placed, part: Part, profile: Profile) -> None:
    """Dimension lines below and to the left."""
    size = profile.size_mm or (0.0, 0.0)
    left, bottom, right, top = sheet.boxed(_box(profile, strokes=False))
    page, off = sheet.page, 6.0
    for x in (left, right):
        page.line((x, bottom - 1), (x, bottom - off - 1), width=0.1)
    for y in (bottom, top):
        page.line((left - 1, y), (left - off - 1, y), width=0.1)
    page.line((left, bottom - off), (right, bottom - off), width=0.1)
    page.line((left - off, bottom), (left - off, top), width=0.1)
    for x, y in ((left, bottom - off), (right, bottom - off), (left - off, bottom), (left - off, top)):
        page.line((x - 0.8, y - 0.8), (x + 0.8, y + 0.8), width=0.25)
    across, up = overall_text(part, "width", size[0]), overall_text(part, "height", size[1])
    page.text(((left + right) / 2, bottom - off - 3), across, size=7, anchor="middle")
    page.text((left - off - 1, (bottom + top) / 2), up, size=7, anchor="middle", turned=90)


def _box(profile: Profile, *, strokes: bool) -> Box:
    """The box of what is cut, with or without the marks and bend lines, which may stand out of it."""
    rings: list[Contour] = [*profile.outlines, *profile.openings]
    if strokes:
        rings += [Contour(stroke.vertices) for stroke in (*profile.bends, *profile.marks)]
    boxes = [*(ring.box for ring in rings), *map(rim_of, profile.holes)] or [(0.0, 0.0, 1.0, 1.0)]
    return (
        min(b[0] for b in boxes),
        min(b[1] for b in boxes),
        max(b[2] for b in boxes),
        max(b[3] for b in boxes),
    )
