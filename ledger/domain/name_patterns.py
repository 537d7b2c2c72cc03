"""
What a drawing's file name says of its part, read by a *pattern* that the job was told.

A pattern is text with fields in braces, such as `{number}_{material}_{thickness}_x{quantity}`; what stands between the
fields must stand in the name too, in capitals or not. Only the number may hold what divides it from its neighbors: of
`ARM_L_S355_12mm_x2` the number is ARM_L. A unit behind the thickness (`{thickness}mm`) is read with it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from string import Formatter
from typing import Final
from unicodedata import normalize

from ledger.domain.errors import BadInput, UnknownName, visible

SAID: Final = ("number", "material", "thickness", "quantity", "revision", "process", "title")
EXAMPLE: Final = "{number}_{material}_{thickness}_x{quantity}"
ALONE: Final = "{number}"  # where no pattern was told, the whole name is the number
LONGEST: Final = 200
_UNIT: Final = re.compile(r"\s*(mm|cm|in|ga)(?![a-z])", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class FileNames:
    """A pattern as it was written, what it reads, and the unit that stands behind the thickness."""

    written: str
    reads: re.Pattern[str]
    unit: str = ""

    def fields(self, name: str) -> dict[str, str]:
        """What a file's name, without its ending, says by field. Raises BadInput where it is no such name."""
        found = self.reads.fullmatch(normalize("NFC", name))
        if found is None:
            raise BadInput(
                f"read the file name {visible(name)!r}; expected {self.written}; "
                "rename the file, or say how names read with --names"
            )
        said = {field: words.strip() for field, words in found.groupdict().items()}
        if self.unit and "thickness" in said:
            said["thickness"] += f" {self.unit}"
        return said


def read_file_names(text: str) -> FileNames:
    """The pattern that is written. Raises BadInput, and UnknownName for a field that no part has."""
    text = normalize("NFC", text).strip()
    if len(text) > LONGEST:
        raise BadInput(f"read a pattern of {len(text)} characters; expected at most {LONGEST}")
    try:
        pieces = list(Formatter().parse(text))
    except ValueError as fault:
        raise BadInput(f"read {visible(text)!r}; expected fields in braces, such as {EXAMPLE}") from fault
    named = [field for _, field, _, _ in pieces if field is not None]
    for field in named:
        if field not in SAID:
            raise UnknownName("field of a file name", field, SAID)
    twice = sorted({field for field in named if named.count(field) > 1})
    if twice:
        raise BadInput(f"read {visible(text)!r}; {twice[0]} stands in it twice: leave one out")
    odd = any(form or change for _, _, form, change in pieces) or None in [f for _, f, _, _ in pieces[:-1]]
    if "number" not in named or odd:
        raise BadInput(
            f"read {visible(text)!r}; expected plain fields with the part's number, such as {EXAMPLE}"
        )
    return _made(text, pieces)


def _made(text: str, pieces: list[tuple[str, str | None, str | None, str | None]]) -> FileNames:
    """The pattern of pieces, each some text and the field behind it; the last may have no field."""
    before = [literal for literal, _, _, _ in pieces]
    named = [field for _, field, _, _ in pieces if field is not None]
    behind = [*before[1:], ""][: len(named)]
    if not all(behind[:-1]):
        raise BadInput(f"read {visible(text)!r}; expected something between two fields, such as {EXAMPLE}")
    written = ""
    for k, (literal, field, after) in enumerate(zip(before, named, behind, strict=False)):
        ends = {literal[-1:] if k else "", after[:1] if k < len(named) - 1 else ""} - {""}
        inside = f"[^{''.join(map(re.escape, sorted(ends)))}]" if ends and field != "number" else "."
        written += f"{re.escape(literal)}(?P<{field}>{inside}+)"
    unit = _UNIT.match(dict(zip(named, behind, strict=True)).get("thickness", ""))
    reads = re.compile(written + re.escape(behind[-1]), re.IGNORECASE)
    return FileNames(text, reads, unit[1].lower() if unit else "")
