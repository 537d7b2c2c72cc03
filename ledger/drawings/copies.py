"""The clean copy of the drawing that a part has, as the drawing that is taken next."""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import Session

from ledger.acts.base import newest_part
from ledger.clean_copy import CLEAN, KEPT, Choices, Mended, as_taken, mended
from ledger.domain.errors import BadInput, visible
from ledger.domain.finding import Finding
from ledger.domain.record import Part
from ledger.store import facts as read


@dataclass(frozen=True, slots=True)
class CleanCopy:
    """A copy with the name of its file, and what was said for the drawing that still counts for it."""

    copy: Mended
    file: str
    unit: str | None
    vendor: str
    said: tuple[Finding, ...]


def drawing_of(facts: Session, number: str) -> tuple[Part, bytes]:
    """The newest revision of a part with the bytes of its drawing. Raises UnknownName, BadInput where it has none."""
    part = read.part(facts, newest_part(facts, number))
    if part.taken is None:
        raise BadInput(f"{visible(number)} has no drawing yet: take its DXF file")
    return part, read.kept_file(facts, part.taken.dxf_sha256)


def clean_copy(part: Part, data: bytes, choices: Choices) -> CleanCopy:
    """A clean copy of a part's drawing. Raises BadInput for what a copy cannot decide, or where it had to guess."""
    taken = part.taken
    if taken is None:
        raise BadInput(f"{visible(part.number)} has no drawing yet: take its DXF file")
    made = mended(data, as_taken(part, choices), before=taken.profile)
    if made.guessed:
        raise BadInput(
            "this drawing was read by guessing at what is missing: write the copy to a file, look at it, take that"
        )
    stem = taken.file_name.removesuffix(CLEAN).removesuffix(".dxf").removesuffix(".DXF")
    unit = made.profile.unit_used if choices.unit else None  # what the user said of it still counts
    said = tuple(f for f in made.fixed if f.code in KEPT)
    return CleanCopy(made, f"{stem}{CLEAN}", unit, taken.vendor, said)
