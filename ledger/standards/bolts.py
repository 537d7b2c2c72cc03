"""
What a bolt is made to: `M20 EN 14399-3`, `M16 ISO 4016 washer ISO 7093`, `M20 shank 20.84 hex 32`.

Behind the thread may stand a *standard*, then in any order `washer` with the standard of the washer, `shank` with the
diameter of the bolt under its head, and `hex` with its width across flats; sizes without a unit are in that of the
thread. Without a standard a bolt is taken as the common one: product grade A or B (ISO 4014, 4017), or a cap screw to
ASME B18.2.1, whose shank is at most the nominal diameter. Product grade C, structural and fit bolts are thicker.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, Final

from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.quantity import read_length
from ledger.standards.table import plain_name, source_of, table

_WORD = re.compile(r"\s+(?=(?:shank|hex|hexagon|washer|washers)(?:\s|$))", re.IGNORECASE)
_STANDARD = re.compile(r"\s+(?=(?:din|en|iso|astm|asme|sae)\s)", re.IGNORECASE)
_ADOPTED = re.compile(r"(?:din )?(?:en )?(?=iso )|din (?=en )", re.IGNORECASE)  # DIN EN ISO 4014 is ISO 4014
_THICKEST, _WIDEST = 1.5, 3.0  # shank and hexagon over the diameter; beyond that a slip of the pen
_UNITS: Final = {"ISO metric": ("mm", 1.0), "UN": ("in", 25.4)}


@dataclass(frozen=True, slots=True)
class Make:
    """
    How a bolt differs from the common one of its size, mm; None where it does not.

    `drawn_mm` is the shank as drawn and `largest_mm` the thickest it may come; `washer` is hole, outside, thickness.
    """

    words: str = ""
    standard: str = ""
    drawn_mm: float | None = None
    largest_mm: float | None = None
    across_flats_mm: float | None = None
    head_height_mm: float | None = None
    nut_height_mm: float | None = None
    washer: tuple[float, float, float] | None = None
    source: str = ""


COMMON: Final = Make()


def parted(text: str) -> tuple[str, str, tuple[str, ...]]:
    """The thread, the standard and the other words of a fastener, such as ('M20', 'EN 14399-3', ('shank 20.84',))."""
    first, *others = _WORD.split(" " + text)
    thread, *standard = _STANDARD.split(first, maxsplit=1)
    return thread.strip(), " ".join(standard), tuple(others)


def make_of(size: str, system: str, diameter_mm: float, standard: str, others: Iterable[str]) -> Make:
    """What these words say of a bolt of that size. Raises BadInput, UnknownName with the known standards or sizes."""
    made = _of_standard(size, system, standard) if standard.strip() else COMMON
    said: set[str] = set()
    for words in others:
        key, _, value = " ".join(words.split()).partition(" ")
        key = key.lower().removesuffix("agon").removesuffix("s")
        if key in said:
            raise BadInput(f"{key} is given twice; write it once")
        said.add(key)
        if key == "washer":
            made = _with_washer(made, size, system, value)
        else:
            made = _with_size(made, key, value, diameter_mm, system)
    return made


def standards() -> tuple[str, ...]:
    """Every standard that a bolt may name."""
    return tuple(_named("standard"))


def _of_standard(size: str, system: str, written: str) -> Make:
    row = _found("standard", "bolt standard", written, system)
    name, unit = _spelled(written), _UNITS[system][1]
    sizes = (
        {s for part in ("shank", "hexagon", "washer") for s in row.get(part, {})}
        if "shank" in row
        else {size}
    )
    if size not in sizes:
        raise UnknownName(f"size of {name}", size, row["shank"])

    def mm(part: str) -> float | None:
        value = row.get(part, {}).get(size)
        return None if value is None else round(value * unit, 6)

    flats, head, nut = (
        *(round(v * unit, 6) for v in row.get("hexagon", {}).get(size, ())),
        None,
        None,
        None,
    )[:3]
    washer = row.get("washer", {}).get(size)
    return Make(
        name, name, mm("drawn"), mm("shank"), flats, head, nut, _mm_of(washer, unit) if washer else None,
        source_of("bolts", row),
    )  # fmt: skip


def _with_washer(made: Make, size: str, system: str, written: str) -> Make:
    row = _found("washer", "washer standard", written, system)
    if size not in row["sizes"]:
        raise UnknownName(f"size of {_spelled(written)}", size, row["sizes"])
    words = f"{made.words} washer {_spelled(written)}".strip()
    source = "; ".join(s for s in (made.source, source_of("bolts", row)) if s)
    return replace(made, words=words, washer=_mm_of(row["sizes"][size], _UNITS[system][1]), source=source)


def _with_size(made: Make, key: str, written: str, diameter_mm: float, system: str) -> Make:
    """A shank or a hexagon that a person measured or read from a drawing."""
    length = read_length(written, unit=_UNITS[system][0])
    mm, least = float(length.mm), diameter_mm
    most = (_THICKEST if key == "shank" else _WIDEST) * diameter_mm
    if not least - 1e-9 <= mm <= most:
        what = "the shank under the head" if key == "shank" else "the width across flats"
        raise BadInput(
            f"{key} is {length}; expected {what}, from {least:g} to {most:g} mm for this thread: correct it"
        )
    words = f"{made.words} {key} {length}".strip()
    if key == "shank":
        return replace(made, words=words, drawn_mm=mm, largest_mm=mm)
    return replace(made, words=words, across_flats_mm=mm)


def _found(kind: str, what: str, written: str, system: str) -> Mapping[str, Any]:
    row = _named(kind).get(_spelled(written))
    if row is None:
        own = [name for name, r in _named(kind).items() if r["system"] == system]
        raise UnknownName(what, written, own)
    if row["system"] != system:
        other = "metric" if system == "UN" else "inch"
        raise BadInput(f"{visible(written.strip())} is for {other} threads; name the standard of this one")
    return row


def _spelled(written: str) -> str:
    """A standard as the table spells it: `din en iso 4014` as ISO 4014; its own words where the table has none."""
    plain = _ADOPTED.sub("", plain_name(written), count=1)
    names = (name for kind in ("standard", "washer") for name in _named(kind))
    return next((name for name in names if plain_name(name) == plain), written.strip())


@cache
def _named(kind: str) -> Mapping[str, Mapping[str, Any]]:
    return {name: row for row in table("bolts")[kind] for name in (row["name"], *row["also"])}


def _mm_of(washer: Iterable[float], unit: float) -> tuple[float, float, float]:
    hole, outside, thick = (round(v * unit, 6) for v in washer)
    return hole, outside, thick
