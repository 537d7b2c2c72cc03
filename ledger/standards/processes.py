"""
What a process leaves where the vendor has not said better: position of a hole, and how small it may come out.

*Position* is given as shops say it, so much either side of true, and used as the diametral zone: twice that.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from ledger.domain.errors import UnknownName
from ledger.standards.table import plain_name, source_of, table


@dataclass(frozen=True, slots=True)
class Process:
    """
    A way of making a hole, worst case: `position_mm` is the diametral zone t, the shrink on diameter.

    `hole_shrink_mm` is None for a thermal cut: there it comes by thickness and size (`cuts.hole_shrink`).
    """

    name: str
    position_mm: float
    hole_shrink_mm: float | None
    source: str


def process(name: str) -> Process:
    """The process of that name or another name for it (waterjet, flame-cut). Raises UnknownName."""
    found = _by_name().get(plain_name(name))
    if found is None:
        raise UnknownName("process", name, sorted({p.name for p in _by_name().values()}))
    return found


def processes() -> tuple[Process, ...]:
    """Every process of the table, in its order."""
    return tuple(dict.fromkeys(_by_name().values()))


@cache
def _by_name() -> Mapping[str, Process]:
    known: dict[str, Process] = {}
    for row in table("processes")["process"]:
        zone_mm = 2 * float(row["plus_minus"])
        shrink_mm = float(row["shrink"]) if "shrink" in row else None
        made = Process(row["name"], zone_mm, shrink_mm, source_of("processes", row))
        known |= {plain_name(spelling): made for spelling in (row["name"], *row["also"])}
    return known
