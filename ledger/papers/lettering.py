"""
Words as they can be printed: two embedded fonts, widths, wrapping.

A word is never markup: it is drawn letter by letter, and what the font lacks, or what a reader could act on, is
shown as an escape. *Printable* words have been through that. Sizes are in points, widths in mm.
"""

from __future__ import annotations

from functools import cache, lru_cache

from ledger.domain.errors import visible

POINT_MM = 25.4 / 72
TEXT, BOLD = "fitup-text", "fitup-bold"

_MOST = 4000
_KEPT = 8192  # the same words stand on many sheets, and wrapping asks for a width again and again


@lru_cache(_KEPT)
def printable(words: str, *, bold: bool = False) -> str:
    """The words with everything that the font lacks, or that a reader could act on, as an escape."""
    known = glyphs(BOLD if bold else TEXT)
    return "".join(c if ord(c) in known else f"\\u{ord(c):04x}" for c in visible(words, most=_MOST))


@lru_cache(_KEPT)
def width_mm(shown: str, size: float, *, bold: bool = False) -> float:
    """How wide printable words are."""
    from reportlab.pdfbase.pdfmetrics import stringWidth  # type: ignore[import-untyped]  # ships no types

    glyphs(BOLD if bold else TEXT)
    return float(stringWidth(shown, BOLD if bold else TEXT, size)) * POINT_MM


def wrap(words: str, size: float, width: float, *, bold: bool = False) -> list[str]:
    """The words in lines no wider than `width`; a word that is wider by itself is broken."""
    lines = [""]
    for word in printable(words, bold=bold).split(" "):
        tried = f"{lines[-1]} {word}" if lines[-1] else word
        if width_mm(tried, size, bold=bold) <= width:
            lines[-1] = tried
            continue
        rest = word
        if lines[-1]:
            lines.append("")
        while width_mm(rest, size, bold=bold) > width and len(rest) > 1:
            kept = _longest(rest, size, width, bold=bold)
            lines[-1] = rest[:kept]
            lines.append("")
            rest = rest[kept:]
        lines[-1] = rest
    return lines


def cut(line: str, size: float, width: float, *, bold: bool) -> str:
    """A printable line shortened until it is no wider, with a … at its end."""
    while width_mm(line, size, bold=bold) > width and len(line) > 1:
        line = f"{line[:-2]}…"
    return line


def _longest(rest: str, size: float, width: float, *, bold: bool) -> int:
    """How many letters of a long word go into a line: at least one."""
    low, high = 1, len(rest)
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if width_mm(rest[:middle], size, bold=bold) <= width else (low, middle - 1)
    return low


@cache
def glyphs(name: str) -> frozenset[int]:
    """The characters of one of the two fonts, which is made known to the library at the first call."""
    from reportlab.pdfbase.pdfmetrics import registerFont
    from reportlab.pdfbase.ttfonts import TTFont  # type: ignore[import-untyped]  # ships no types

    font = TTFont(name, {TEXT: "Vera.ttf", BOLD: "VeraBd.ttf"}[name])
    registerFont(font)
    return frozenset(font.face.charToGlyph)
