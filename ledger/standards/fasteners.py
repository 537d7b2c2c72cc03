"""
Bolts, screws and studs by designation: M8, M8x1, 1/4-20, #10-32.

A *designation* names diameter and pitch; a *size* (M8, 1/4, #10) is its diameter alone and, where it stands
alone, means the coarse thread. *Minor diameter*: the inside diameter of the cut thread, least and largest.
The largest shank is what decides whether a hole passes: see the head of `fasteners.toml` for what it covers.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from ledger.domain.errors import UnknownName
from ledger.standards.table import source_of, table

_STANDS_ALONE = ("coarse", "UNC")


@dataclass(frozen=True, slots=True)
class Fastener:
    """One thread, in mm. `size` finds its clearance holes; `tap_drill` is the drill's name in the shop."""

    designation: str
    size: str
    system: str
    series: str
    diameter_mm: float
    largest_mm: float
    pitch_mm: float
    minor_min_mm: float
    minor_max_mm: float
    tap_drill_mm: float
    tap_drill: str
    source: str


def fastener(designation: str) -> Fastener:
    """The fastener meant. Reads m8, M8x1.25, M8 × 1, 1/4-20 UNC, 1/2"-13, 1/2, No. 10-24. Raises UnknownName."""
    found = _by_spelling().get(_spelling(designation))
    if found is None:
        raise UnknownName("fastener", designation, (f.designation for f in fasteners()))
    return found


@cache
def fasteners() -> tuple[Fastener, ...]:
    """Every fastener of the table, metric first, by size."""
    return tuple(
        _fastener(system, row) for system in table("fasteners")["system"] for row in system["threads"]
    )


def _fastener(system: Mapping[str, Any], row: Mapping[str, Any]) -> Fastener:
    unit_mm = float(system["unit_mm"])
    diameter, (least, largest) = row["diameter"] * unit_mm, row["minor"]
    pitch_mm = row["pitch"] if "pitch" in row else unit_mm / row["per_inch"]
    return Fastener(
        designation=row["designation"],
        size=row["size"],
        system=system["name"],
        series=row["series"],
        diameter_mm=_tidy(diameter),
        largest_mm=_tidy(diameter),
        pitch_mm=_tidy(pitch_mm),
        minor_min_mm=_tidy(least * unit_mm),
        minor_max_mm=_tidy(largest * unit_mm),
        tap_drill_mm=_tidy(row["tap_drill"] * unit_mm),
        tap_drill=row.get("drill") or f"{row['tap_drill']} mm",
        source=source_of("fasteners", system),
    )


@cache
def _by_spelling() -> Mapping[str, Fastener]:
    """Every accepted spelling, reduced by `_spelling`."""
    known: dict[str, Fastener] = {}
    for f in fasteners():
        spellings = [f.designation]
        if f.system == "UN":
            spellings += [f.designation + f.series, f.size + f.series]
        else:
            spellings.append(f"{f.size}x{f.pitch_mm:g}")
        if f.series in _STANDS_ALONE and f.size != "1":  # a bare 1 may be an inch or a number
            spellings.append(f.size)
        known |= {_spelling(s): f for s in spellings}
    return known | {"1in": known["1-8"]}


def _spelling(text: str) -> str:
    """Lower case, no spaces, one sign for each meaning: `No. 10 - 24` and `#10-24` become one."""
    short = re.sub(r"\s+", "", text[:40].lower()).replace("×", "x").replace("–", "-")
    short = re.sub(r"[\"″”]|inch|in\.?(?=-|$)", "in", short)
    short = re.sub(r"^(?:no\.?|nr\.?)(?=[0-9])", "#", short)
    short = re.sub(r"in(?=-|un)|(?<=/[0-9])in$|(?<=/[0-9]{2})in$", "", short)
    return re.sub(r"(x[0-9]+\.[0-9]*?)\.?0+$|(x[0-9]+)\.0*$", lambda m: m[1] or m[2], short)


def _tidy(mm: float) -> float:
    """The nearest millionth of a millimetre: 0.4375 in is 11.1125 mm, not 11.112499999999999."""
    return round(mm, 6)
