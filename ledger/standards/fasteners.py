"""
Bolts, screws and studs by designation: M8, M8x1, 1/4-20, #10-32.

A *designation* names diameter and pitch; a *size* (M8, 1/4, #10) is its diameter alone and, where it stands
alone, means the coarse thread. *Minor diameter*: the inside diameter of the cut thread, least and largest.
The largest shank is what decides whether a hole passes. What stands behind the thread (`M20 EN 14399-3`, `M20 shank
20.84`) says what the bolt is made to: `bolts` reads it. Without such words it is taken as at most the nominal diameter.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from ledger.domain.errors import UnknownName
from ledger.standards.bolts import COMMON, Make, make_of, parted
from ledger.standards.table import source_of, table

_METRIC = re.compile(r"m([0-9]{1,3}(?:\.[0-9]{1,2})?)(?:x([0-9]{1,2}(?:\.[0-9]{0,3})?))?")
_LONGEST = 120
_UNIFIED = re.compile(
    r"(?:(?:#|no\.?)([0-9]{1,2})|([0-9](?:-[0-9]/[0-9])?|[0-9]{1,2}(?:/[0-9]{1,2})?)(\"|″|”|in\.?|inch)?)"
    r"(?:-([0-9]{1,2}(?:\.5)?))?(unc|unf)?"
)
_WHOLE = re.compile(r"^ *([0-9]) +(?=[0-9]/[0-9])")  # 1 1/8 is 1-1/8, and not 11/8
_BARE = ("1", "2")  # an inch, or a number of the machine screws


@dataclass(frozen=True, slots=True)
class Fastener:
    """
    One thread and its bolt, in mm. `size` finds its clearance holes; `tap_drill` is the drill's name in the shop.

    `shank_mm` is the shank as drawn, `largest_mm` the thickest it may come; `make` says what the bolt is made to.
    """

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
    shank_mm: float
    make: Make = COMMON

    @property
    def assumption(self) -> str:
        """What its shank is taken to be where nothing says so; empty where the words of the fastener do."""
        if self.make.largest_mm is not None or self.make.standard:
            return ""
        common = (
            "cap screw (ASME B18.2.1)" if self.system == "UN" else "product grade A or B (ISO 4014, ISO 4017)"
        )
        return (
            f"{self.designation} names no bolt standard: taken as {common}, shank at most {self.largest_mm:g} mm; "
            "structural and product grade C bolts are thicker"
        )


def fastener(designation: str) -> Fastener:
    """
    The one meant by m8, M8x1.25, M8 × 1, 1/4-20 UNC, 1/2"-13, 1/2 or No. 10-24, and what its bolt is made to.

    Raises UnknownName for no thread or standard of the tables, BadInput for a shank or hexagon that cannot be.
    """
    thread, standard, others = parted(designation[:_LONGEST])
    found = _thread(designation if len(designation) > _LONGEST else thread)
    if not (standard or others):
        return found
    made = make_of(found.size, found.system, found.diameter_mm, standard, others)
    return replace(
        found,
        designation=f"{found.designation} {made.words}",
        shank_mm=made.drawn_mm or found.shank_mm,
        largest_mm=made.largest_mm or found.largest_mm,
        source=f"{found.source}; {made.source}" if made.source else found.source,
        make=made,
    )


def _thread(designation: str) -> Fastener:
    spelled = _WHOLE.sub(r"\1-", designation[:40].lower())
    short = re.sub(r"\s+", "", spelled).replace("×", "x").replace("–", "-")
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
        shank_mm=_tidy(diameter),
    )


def _metric(size: str, pitch: str | None) -> Iterator[Fastener]:
    """M8 is the coarse thread; M8x1.0 and M8x1 are one."""
    for f in fasteners():
        same = f.size.lower() == f"m{float(size):g}"
        if same and (f.series == "coarse" if pitch is None else f.pitch_mm == float(pitch)):
            yield f


def _unified(size: str, inch: str, per_inch: str | None, series: str) -> Iterator[Fastener]:
    """1/4 is UNC; the series and the threads an inch, where both are given, must agree."""
    if size in _BARE and not (inch or per_inch or series):
        return
    for f in fasteners():
        if f.size == size and series.upper() in ("", f.series):
            meant = f.series == "UNC" if per_inch is None and not series else True
            if meant and per_inch in (None, f.designation.rpartition("-")[2]):
                yield f


def _tidy(mm: float) -> float:
    """The nearest millionth of a millimetre: 0.4375 in is 11.1125 mm, not 11.112499999999999."""
    return round(mm, 6)
