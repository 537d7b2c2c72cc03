"""
The papers that leave with a packet, by file name: cut list, notes, a picture and a vendor sheet of every drawing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ledger.domain.errors import BadInput, visible
from ledger.domain.plates import part_drawing
from ledger.domain.record import Part
from ledger.packet.names import dxf_name, part_stem
from ledger.papers.cut_list import cut_list
from ledger.papers.notes import vendor_notes

CUT_LIST = "cut-list.csv"
NOTES = "notes.txt"


def vendor_papers(
    parts: Sequence[Part], dxf: Mapping[str, bytes], *, sheets: Mapping[str, bytes] | None = None
) -> dict[str, bytes]:
    """
    Every paper for the vendor. `dxf` and `sheets` hold bytes by part number, `sheets` those that were made already.

    Raises BadInput for a sheet of a part without a drawing.
    """
    drawn = {p.number: (dxf_name(p), dxf[p.number]) for p in parts if p.taken and p.number in dxf}
    papers = {
        CUT_LIST: cut_list(parts, drawn),
        NOTES: vendor_notes(parts, {number: name for number, (name, _) in drawn.items()}),
    }
    return papers | _pictures(parts) | _sheets(parts, sheets or {})


def _pictures(parts: Sequence[Part]) -> dict[str, bytes]:
    """A picture of every drawing; the names that the job gave to groups of holes stay at home."""
    from ledger.papers.svg import svg

    return {
        f"pictures/{part_stem(part)}.svg": svg(part_drawing(part, groups=False))
        for part in parts
        if part.taken
    }


def _sheets(parts: Sequence[Part], sheets: Mapping[str, bytes]) -> dict[str, bytes]:
    drawn = {part.number: part for part in parts if part.taken}
    for number in sheets:
        if number not in drawn:
            raise BadInput(f"there is a sheet for {visible(number)}, which has no drawing here; leave it out")
    return {f"sheets/{part_stem(drawn[number])}.pdf": data for number, data in sheets.items()}
