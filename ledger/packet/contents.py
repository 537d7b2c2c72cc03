"""
What goes into a packet: the exact bytes of every drawing, a cut list, pictures, sheets and notes for the vendor.

A drawing is never replaced: its bytes are those that were read and judged, and this is tested against
the digest on record before anything is built. The manifest is not here; it holds the lock, which is made
over these contents (`ledger.packet.build`).
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence

from ledger.domain.errors import BadInput, Tampered, visible
from ledger.domain.record import Part
from ledger.packet.build import MANIFEST
from ledger.packet.cut_list import cut_list
from ledger.packet.names import dxf_name, part_stem, require_distinct
from ledger.packet.notes import vendor_notes

CUT_LIST = "cut-list.csv"
NOTES = "notes.txt"


def contents(
    parts: Sequence[Part], dxf: Mapping[str, bytes], *, sheets: Mapping[str, bytes] | None = None
) -> dict[str, bytes]:
    """
    Every file but the manifest, by name. `dxf` and `sheets` hold bytes by part number; a part without a drawing
    has neither.

    Raises BadInput: no parts, a part twice, two files that would be one, bytes or a sheet without a drawing, or a
    drawing without its bytes. Raises Tampered when bytes are not those that were read.
    """
    _require_whole(parts, dxf)
    drawn = {part.number: (dxf_name(part), dxf[part.number]) for part in parts if part.taken}
    require_distinct([*(name for name, _ in drawn.values()), CUT_LIST, NOTES, MANIFEST])
    require_distinct([part_stem(part) for part in parts])
    files = dict(drawn.values())
    files[CUT_LIST] = cut_list(parts, drawn)
    files[NOTES] = vendor_notes(parts, {number: name for number, (name, _) in drawn.items()})
    return files | _pictures(parts) | _sheets(parts, sheets or {})


def _pictures(parts: Sequence[Part]) -> dict[str, bytes]:
    from ledger.profile.picture import profile_svg

    return {
        f"pictures/{part_stem(part)}.svg": profile_svg(
            part.taken.profile, title=visible(f"{part.number} {part.revision}"), bends=part.bend_lines
        )
        for part in parts
        if part.taken
    }


def _sheets(parts: Sequence[Part], sheets: Mapping[str, bytes]) -> dict[str, bytes]:
    drawn = {part.number: part for part in parts if part.taken}
    for number in sheets:
        if number not in drawn:
            raise BadInput(f"there is a sheet for {visible(number)}, which has no drawing here; leave it out")
    return {f"sheets/{part_stem(drawn[number])}.pdf": data for number, data in sheets.items()}


def _require_whole(parts: Sequence[Part], dxf: Mapping[str, bytes]) -> None:
    if not parts:
        raise BadInput("the packet has no parts; name at least one")
    numbers = [part.number for part in parts]
    for number in numbers:
        if numbers.count(number) > 1:
            raise BadInput(f"part {visible(number)} is named twice; name one revision of it")
    for number in dxf:
        if not any(part.number == number and part.taken for part in parts):
            raise BadInput(
                f"there are bytes for {visible(number)}, which has no drawing here; leave them out"
            )
    for part in parts:
        _require_its_bytes(part, dxf.get(part.number))


def _require_its_bytes(part: Part, data: bytes | None) -> None:
    if part.taken is None:
        return
    if data is None:
        raise BadInput(
            f"the drawing of {visible(part.number)} is missing; a packet holds every drawing it names"
        )
    if hashlib.sha256(data).hexdigest() != part.taken.dxf_sha256:
        raise Tampered(
            f"the bytes of {visible(part.number)} are not those that were checked; take the file again"
        )
