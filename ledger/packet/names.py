"""
Names of what leaves: built from a whitelist, so that no file system, shell or unpacker can misread one.

A *field* is one piece of a name (number, material, thickness …). Letters, digits, dot, underscore and dash
stay, every other run of characters becomes one dash. Two parts whose names come out alike are refused:
on many machines `pl-1.dxf` and `PL-1.dxf` are one file.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from ledger.domain import file_names
from ledger.domain.errors import BadInput, visible
from ledger.domain.plain_name import FOLDERS
from ledger.domain.quantity import plain
from ledger.domain.record import Part

MOST_NAME = 120
_MOST_NUMBER, _MOST_FIELD = 40, 24
_NAMED_PARTS = 3  # of a set, so many parts stand in the packet's name
_HEAD_FIGURES = 12

_SAFE = re.compile(rf"(?:{'|'.join(FOLDERS)})?[A-Za-z0-9][A-Za-z0-9._-]*")


def field(text: str, *, most: int = _MOST_FIELD) -> str:
    """The text by whitelist: runs of anything else, of dashes and of dots made one; none at an end."""
    return file_names.plain(text, most=most)


def part_stem(part: Part) -> str:
    """NUMBER-REV, safe at the start of a file's name."""
    number = field(part.number, most=_MOST_NUMBER) or "part"
    stem = "-".join(piece for piece in (number, field(part.revision)) if piece)
    return f"part-{stem}" if file_names.RESERVED.fullmatch(stem) else stem


def dxf_name(part: Part) -> str:
    """NUMBER-REV_material_thickness_xQTY.dxf; what is not recorded is left out. Thickness in mm: `12mm`."""
    thickness = f"{plain(part.thickness.mm)}mm" if part.thickness else ""
    quantity = "" if part.quantity is None else f"x{part.quantity}"
    fields = (part_stem(part), field(part.material), field(thickness), field(quantity))
    return "_".join(piece for piece in fields if piece) + ".dxf"


def packet_name(parts: Sequence[Part], seal_hash: str) -> str:
    """The zip's name: the parts, or the first three of a set, and the start of the lock row's hash."""
    if not parts:
        raise BadInput("the packet has no parts; name at least one")
    named = [part_stem(part) for part in parts[:_NAMED_PARTS]]
    more = [f"and-{len(parts) - len(named)}-more"] if len(parts) > len(named) else []
    room = MOST_NAME - _HEAD_FIGURES - len("_and-9999-more_.zip")
    start = field("_".join(named), most=room)
    return "_".join([start, *more, field(seal_hash, most=_HEAD_FIGURES) or "unsealed"]) + ".zip"


def require_distinct(names: Sequence[str]) -> None:
    """Raises BadInput when two names would be one file where capitals do not count."""
    seen: dict[str, str] = {}
    for name in names:
        twin = seen.get(name.casefold())
        if twin is not None:
            raise BadInput(
                f"{visible(twin)} and {visible(name)} would be one file; renumber one of the parts"
            )
        seen[name.casefold()] = name


def is_safe(name: str) -> bool:
    """Whether a name could have come from here: plain characters, no folder but `pictures` and `sheets`, no device."""
    if len(name) > MOST_NAME + len("pictures/") or not _SAFE.fullmatch(name) or name.endswith("."):
        return False
    return not file_names.RESERVED.fullmatch(name.rpartition("/")[2])
