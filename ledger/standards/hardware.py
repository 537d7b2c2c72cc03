"""
Washers, heads, nuts and weld nuts by fastener size: the room that tightening takes around a hole.

A *seat* is the circle that a fastener presses on: its washer, or the corners of its hexagon where that is wider.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from ledger.domain.errors import UnknownName
from ledger.standards.bolts import Make
from ledger.standards.fasteners import Fastener, fastener
from ledger.standards.table import source_of, table


@dataclass(frozen=True, slots=True)
class Hardware:
    """What goes with one fastener size, mm; None where the tables have no such part for it."""

    size: str
    washer_hole_mm: float
    washer_mm: float
    washer_thickness_mm: float
    across_flats_mm: float
    head_height_mm: float
    nut_height_mm: float
    socket_head_mm: float | None
    socket_height_mm: float | None
    weld_nut_across_mm: float | None
    countersunk_head_mm: float | None
    source: str

    @property
    def across_corners_mm(self) -> float:
        """The widest of the hexagon: across flats over cos 30 degrees."""
        return self.across_flats_mm / math.cos(math.pi / 6)

    @property
    def seat_mm(self) -> float:
        """Diameter of the circle that must find room on the plate."""
        return max(self.washer_mm, self.across_corners_mm)


def hardware(designation: str) -> Hardware:
    """What goes with a fastener, by any spelling, as its standard has it. Raises UnknownName for a size of no table."""
    bolt = fastener(designation)
    found = all_hardware().get(bolt.size)
    if found is None:
        raise UnknownName("washer and nut for", bolt.size, all_hardware())
    return _made(found, bolt.make) if bolt.make.words else found


def _made(found: Hardware, make: Make) -> Hardware:
    """What the standard of a bolt, or the person who measured it, gives otherwise."""
    hole, outside, thick = make.washer or (found.washer_hole_mm, found.washer_mm, found.washer_thickness_mm)
    return replace(
        found,
        washer_hole_mm=hole,
        washer_mm=outside,
        washer_thickness_mm=thick,
        across_flats_mm=make.across_flats_mm or found.across_flats_mm,
        head_height_mm=make.head_height_mm or found.head_height_mm,
        nut_height_mm=make.nut_height_mm or found.nut_height_mm,
        source=f"{found.source}; {make.source}" if make.source else found.source,
    )


def washer_size(bolt: Fastener) -> str:
    """What a washer for this bolt is called: its size, such as M8 or 1/2 in; of one with a standard, all of it."""
    if bolt.make.washer:
        return bolt.designation
    return f"{bolt.size} in" if bolt.system == "UN" and not bolt.size.startswith("#") else bolt.size


@cache
def all_hardware() -> Mapping[str, Hardware]:
    """Every row, by fastener size."""
    data = table("hardware")
    return {row["size"]: _row(data[s]["unit_mm"], row) for s in ("iso", "asme") for row in data[s]["sizes"]}


def _row(unit_mm: float, row: Mapping[str, Any]) -> Hardware:
    def mm(value: float | None) -> float | None:
        return None if value is None else round(value * unit_mm, 6)

    def known(value: float) -> float:
        return round(value * unit_mm, 6)

    hole, outside, thick = row["washer"]
    socket = row.get("socket", (None, None))
    return Hardware(
        row["size"], known(hole), known(outside), known(thick), known(row["across"]), known(row["head"]),
        known(row["nut"]), mm(socket[0]), mm(socket[1]), mm(row.get("weld_nut")),
        mm(row.get("countersunk")), source_of("hardware", row),
    )  # fmt: skip
