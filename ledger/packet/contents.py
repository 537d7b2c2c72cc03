"""
What goes into a packet: the exact bytes of every drawing, and the papers that are handed over with them.

A drawing is never replaced: its bytes are those that were read and judged, and this is tested against
the digest on record before anything is built. Papers are made elsewhere and come as bytes by file name. The manifest
is not here; it holds the lock, which is made over these contents (`ledger.packet.build`).
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence

from ledger.domain.errors import BadInput, Tampered, visible
from ledger.domain.record import Part
from ledger.packet.build import MANIFEST
from ledger.packet.names import dxf_name, is_safe, part_stem, require_distinct


def contents(
    parts: Sequence[Part], dxf: Mapping[str, bytes], papers: Mapping[str, bytes]
) -> dict[str, bytes]:
    """
    Every file but the manifest, by name. `dxf` holds bytes by part number, `papers` by file name; a part without a
    drawing has no bytes.

    Raises BadInput: no parts, a part twice, two files that would be one, bytes without a drawing, a drawing without
    its bytes, or a paper under a name that may not leave. Raises Tampered when bytes are not those that were read.
    """
    _require_whole(parts, dxf)
    drawn = {dxf_name(part): dxf[part.number] for part in parts if part.taken}
    for name in papers:
        if not is_safe(name):
            raise BadInput(f"{visible(name)} is not a plain file name; rename the paper")
    require_distinct([*(dxf_name(part) for part in parts if part.taken), *papers, MANIFEST])
    require_distinct([part_stem(part) for part in parts])
    return drawn | dict(papers)


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
