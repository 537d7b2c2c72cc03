"""
Bolts, screws and studs by designation: M8, M8x1, 1/4-20, #10-32.

A *designation* names diameter and pitch; a *size* (M8, 1/4, #10) is its diameter alone and, where it stands
alone, means the coarse thread. *Minor diameter*: the inside diameter of the cut thread, least and largest.
The largest shank is what decides whether a hole passes: see the head of `fasteners.toml` for what it covers.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from ledger.domain.errors import UnknownName
from ledger.standards.table import source_of, table

_METRIC = re.compile(r"m([0-9]{1,3}(?:\.[0-9]{1,2})?)(?:x([0-9]{1,2}(?:\.[0-9]{0,3})?))?")
_UNIFIED = re.compile(
    r"(?:(?:#|no\.?)([0-9]{1,2})|([0-9]{1,2}(?:/[0-9]{1,2})?)(\"|″|”|in\.?|inch)?)(?:-([0-9]{1,2}))?(unc|unf)?"
)


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
    """The one meant by m8, M8x1.25, M8 × 1, 1/4-20 UNC, 1/2"-13, 1/2 or No. 10-24. Raises UnknownName."""
    short = re.sub(r"\s+", "", designation[:40].lower()).replace("×", "x").replace("–", "-")
    found: Iterable[Fastener] = ()
    if metric := _METRIC.fullmatch(short):
        found = _metric(*metric.groups())
    elif unified := _UNIFIED.fullmatch(short):
        number, size, inch, per_inch, series = unified.groups()
        found = _unified(f"#{number}" if number else size, inch or "", per_inch, series or "")
    for f in found:
        return f
    raise UnknownName("fastener", designation, (f.designation for f in fasteners()), _nearest_sizes(short))


def _nearest_sizes(short: str) -> tuple[str, ...]:
    """The coarse metric threads next in size to something like m11.5; nothing where no size can be read."""
    size = re.fullmatch(r"m([0-9]{1,3}(?:\.[0-9]{1,3})?)(?:x.*)?", short)
    if size is None:
        return ()
    metric = [f for f in fasteners() if re.fullmatch(r"M[\d.]+", f.designation)]
    nearest = sorted(metric, key=lambda f: abs(f.diameter_mm - float(size[1])))[:2]
    return tuple(f.designation for f in sorted(nearest, key=lambda f: f.diameter_mm))


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
        source=source_of("fasteners", row if "source" in row else system),
    )


def _metric(size: str, pitch: str | None) -> Iterator[Fastener]:
    """M8 is the coarse thread; M8x1.0 and M8x1 are one."""
    for f in fasteners():
        same = f.size.lower() == f"m{float(size):g}"
        if same and (f.series == "coarse" if pitch is None else f.pitch_mm == float(pitch)):
            yield f


def _unified(size: str, inch: str, per_inch: str | None, series: str) -> Iterator[Fastener]:
    """1/4 is UNC; the series and the threads an inch, where both are given, must agree."""
    if size == "1" and not (inch or per_inch or series):
        return  # a bare 1 may be an inch or a number
    for f in fasteners():
        if f.size == size and series.upper() in ("", f.series):
            meant = f.series == "UNC" if per_inch is None and not series else True
            if meant and per_inch in (None, f.designation.rpartition("-")[2]):
                yield f


def _tidy(mm: float) -> float:
    """The nearest millionth of a millimetre: 0.4375 in is 11.1125 mm, not 11.112499999999999."""
    return round(mm, 6)
