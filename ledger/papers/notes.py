"""
Notes for the vendor, as plain text: what each file is, what is done after cutting, what nobody vouches for.

They hold no date and no seal: they are part of what the lock signs, so they come before it. What the job
wrote for itself (a part's note, its open questions) does not leave.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from ledger.domain.dimension_words import figure
from ledger.domain.errors import visible
from ledger.domain.fields import CUT_LIST, on_paper
from ledger.domain.record import Part
from ledger.papers.bends import bend_rows
from ledger.papers.cut_list import coating_text, hole_sizes
from ledger.papers.figures import figures
from ledger.papers.hand import hand_text
from ledger.words.counts import count_text

CAUTIONS = (
    "This packet comes from a comparison of drawings and records. It does not certify a structure.",
    "Loads, lifting, vehicles, pressure and the safety of people are not covered:",
    "follow your local codes and ask a licensed engineer.",
)
_MOST_LINE = 10_000
_ALWAYS = (
    "Contours are net: the finished size. Your kerf compensation applies; the files hold none.",
    "Circles are drawn at the size as cut. A hole that is tapped or countersunk afterwards is listed below.",
    "Cut from the DXF files here and no others. cut-list.csv names their SHA-256.",
    "Ask before you change anything.",
)
_AFTER = {
    "tapped": "tapped {thread}",
    "countersunk": "countersunk {thread}",
    "reamed": "reamed {thread}",
    "captive nut": "captive nut {thread}",
    "plain": "plain {thread}",
}


def vendor_notes(parts: Sequence[Part], files: Mapping[str, str]) -> bytes:
    """The notes. `files` gives, by part number, the name of its DXF."""
    lines = ["NOTES FOR THE VENDOR", "", *_ALWAYS]
    for part in parts:
        lines += ["", *_part(part, files.get(part.number, ""))]
    lines += ["", "CAUTION", "", *CAUTIONS]
    return "".join(f"{visible(line, most=_MOST_LINE)}\r\n" for line in lines).encode("utf-8")


def _part(part: Part, file: str) -> Iterator[str]:
    yield f"{part.number} {part.revision}  {part.title}".rstrip()
    if not file:
        yield f"  {part.form}: for information, nothing to cut"
    else:
        yield f"  file      {file}"
    stock = [part.material, str(part.thickness) if part.thickness else "", part.process]
    if any(stock):
        yield f"  stock     {', '.join(piece for piece in stock if piece)}"
    if part.quantity is not None:
        yield f"  quantity  {count_text(part)}"
    if part.etched:
        yield f"  etched    {part.etched}"
    if part.coating:
        yield f"  coating   {coating_text(part)}"
    for label, words in on_paper(part, CUT_LIST):
        if words:
            yield f"  {label:<9} {words}"
    if file and hand_text(part) != "either":
        yield f"  hand      {hand_text(part)}"
    for caption, words in figures(part).rows if file else ():
        yield f"  {caption.partition(',')[0]:<10}{words}"
    yield from _drawing(part)
    yield from _after_cutting(part)


def _drawing(part: Part) -> Iterator[str]:
    if part.taken is None:
        return
    profile = part.taken.profile
    size = profile.size_mm
    yield f"  unit      the numbers in the file are {part.taken.unit}"
    if size:
        yield f"  overall   {figure(size[0], 3)} x {figure(size[1], 3)} mm; check this after import"
    if profile.holes:
        yield f"  holes     {hole_sizes(profile.holes)} mm"
    for what, strokes in (("bend lines", profile.bends), ("marks", profile.marks)):
        if strokes:
            layers = ", ".join(sorted({f'"{stroke.layer}"' for stroke in strokes}))
            yield f"  not cut   {what} on layer {layers}"


def _after_cutting(part: Part) -> Iterator[str]:
    """One line for each hole that is worked on, or must stay as it is, after cutting; then the bends."""
    for worked in part.operations:
        hole = part.hole(worked.label)
        drawn = f" (drawn {figure(hole.diameter_mm, 3)} mm)" if hole else ""
        done = _AFTER.get(worked.operation, worked.operation + " {thread}").format(thread=worked.thread)
        yield f"  {worked.label}{drawn}: {done}".rstrip()
    for bends, words in bend_rows(part):
        yield f"  bend {bends}: {words}"
