"""
The cut list: one line for each part of a packet that is cut, as CSV that a spreadsheet opens without running anything.

Existing structure and bought parts are not in it: a line with a quantity is an order, whatever its form says.

A cell that begins like a formula is led by an apostrophe, true numbers are left alone. Control characters
are shown, not sent. Sizes are in mm, as drawn: RFC 4180, lines end with CR LF.
"""

from __future__ import annotations

import csv
import hashlib
import io
import math
import re
from collections import Counter
from collections.abc import Mapping, Sequence

from ledger.domain.dimension_words import figure
from ledger.domain.errors import visible
from ledger.domain.quantity import plain
from ledger.domain.record import Part
from ledger.domain.shape import Hole
from ledger.papers.figures import figures
from ledger.papers.hand import hand_text
from ledger.words.counts import counted_text

HEADINGS = (
    "number",
    "revision",
    "title",
    "form",
    "material",
    "thickness",
    "thickness mm",
    "coating",
    "process",
    "quantity",
    "counted as",
    "etched",
    "hand",
    "width mm",
    "height mm",
    "net area mm2",
    "cut length mm",
    "pierces",
    "mass kg",
    "holes",
    "hole sizes mm",
    "file",
    "sha256",
)
_FORMULA = tuple("=+-@＝＋－＠")
_NUMBER = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?")
_MOST_CELL = 32_000  # a spreadsheet's cell holds 32,767 characters (from memory)


def cut_list(parts: Sequence[Part], files: Mapping[str, tuple[str, bytes]]) -> bytes:
    """The CSV of the parts that are cut. `files` gives, by part number, the name and the bytes of its DXF."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(HEADINGS)
    for part in (p for p in parts if p.form == "cut"):
        writer.writerow([cell(value) for value in _row(part, files.get(part.number))])
    return text.getvalue().encode("utf-8")


def cell(text: str) -> str:
    """Text that no spreadsheet takes for a formula and no terminal acts on."""
    shown = visible(text, most=_MOST_CELL)
    if shown.lstrip().startswith(_FORMULA) and not _NUMBER.fullmatch(shown):
        return f"'{shown}"
    return shown


def coating_text(part: Part) -> str:
    """The coating with its thickness per face and what stays bare, where they are recorded."""
    thick = f", {part.coating_thickness} per face" if part.coating_thickness else ""
    return f"{part.coating}{thick}" + (f"; masked: {part.masked}" if part.masked else "")


def hole_sizes(holes: Sequence[Hole]) -> str:
    """How many of each size: `4 x 13.5; 2 x slot 9 x 30`, slots by width and overall length."""
    counted = Counter(_size(hole) for hole in holes)
    return "; ".join(f"{count} x {size}" for size, count in sorted(counted.items()))


def _size(hole: Hole) -> str:
    if not hole.is_slot:
        return figure(hole.diameter_mm, 3)
    length = math.dist(hole.core[0], hole.core[1]) + hole.diameter_mm
    return f"slot {figure(hole.diameter_mm, 3)} x {figure(length, 3)}"


def _row(part: Part, file: tuple[str, bytes] | None) -> list[str]:
    thickness = (part.thickness.written, plain(part.thickness.mm)) if part.thickness else ("", "")
    return [
        part.number,
        part.revision,
        part.title,
        part.form,
        part.material,
        *thickness,
        coating_text(part),
        part.process,
        "" if part.quantity is None else str(part.quantity),
        counted_text(part),
        part.etched,
        hand_text(part),
        *_drawn(part),
        *((file[0], hashlib.sha256(file[1]).hexdigest()) if file else ("", "")),
    ]


def _drawn(part: Part) -> list[str]:
    """Width, height, net area, cut length, pierces, mass, holes and their sizes; empty where there is no drawing."""
    profile = part.profile
    if profile is None:
        return [""] * 8
    size, worked_out = profile.size_mm, figures(part)
    width, height = (figure(size[0], 3), figure(size[1], 3)) if size else ("", "")
    return [
        width,
        height,
        figure(profile.area_mm2, 1),
        figure(profile.cut_length_mm, 1),
        "" if worked_out.pierces is None else str(worked_out.pierces),
        "" if worked_out.mass_kg is None else f"{worked_out.mass_kg:.3f}",
        str(len(profile.holes)),
        hole_sizes(profile.holes),
    ]
