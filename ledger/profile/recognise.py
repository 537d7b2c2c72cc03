"""
Recognise what is no profile at all: a drawing sheet with views, or the path of a tool.

A *drawing sheet* has texts and dimensions and many lines that close to nothing: frames, centre lines, hatching. A
*tool path* has contours with a lead-in: a run that comes in from the waste and joins the contour, so that three
ends meet at one point and one stays loose; or layers named after moves of the machine. Common practice, no source.
Neither is repaired: the profile of the part is asked for instead.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from ledger.domain.finding import Finding
from ledger.domain.plural import counted
from ledger.profile.contours import Contours
from ledger.profile.walk import Drawn

_MANY_WORDS, _MANY_LOOSE = 8, 8
_LEADS, _LEADS_SHARE = 2, 0.5
_SHEET_LAYER = re.compile(r".*(TITLE|BORDER|ANNOTATION|DIMENSION|VIEWPORT|CENTERLINE|CENTER MARK|HATCH).*")
_PATH_LAYER = re.compile(
    r"(.*[^A-Z])?(LEAD.?(IN|OUT)|TRAVERSE|RAPID|PIERCE|TOOL.?PATH|Q(UALITY)?.?[1-5])([^A-Z].*)?"
)
_SHEET_LAYERS = 2


def no_profile(drawn: Drawn, contours: Contours) -> Iterator[Finding]:
    """A stop where the file is a drawing sheet or a tool path."""
    words, loose = drawn.words, len(contours.broken)
    named = [name for name in drawn.layers if _SHEET_LAYER.fullmatch(name.upper())]
    if loose >= _MANY_LOOSE and (words >= _MANY_WORDS or (words and len(named) >= _SHEET_LAYERS)):
        yield Finding(
            "drawing_sheet",
            f"this is a drawing sheet, not a profile: {counted(words, 'text or dimension', 'texts and dimensions')}, "
            f"{counted(loose, 'line that closes', 'lines that close')} nothing",
            where="the drawing",
            fix="export the flat profile of the part alone, at full size",
        )
    path = _path(sorted(drawn.layers), contours)
    if path:
        yield Finding(
            "tool_path",
            f"this is the path of a tool, not a profile: {path}",
            where="the drawing",
            fix="export the profile of the part before the machine's program was made of it",
        )


def _path(layers: Sequence[str], contours: Contours) -> str:
    named = [name for name in layers if _PATH_LAYER.fullmatch(name.upper())]
    rings = len(contours.rings) + contours.led_in
    if contours.led_in >= _LEADS and contours.led_in >= _LEADS_SHARE * rings:
        return f"{contours.led_in} of {rings} contours have a lead-in"
    if named and contours.broken:
        lines = counted(len(contours.broken), "line is", "lines are")
        return f"its layers are named after moves ({', '.join(named[:3])}) and {lines} open"
    return ""
