"""
What lies over a hole and has to bear on the plate around it: washer, hexagon, weld nut or countersunk head.

A *cover* is that part with its outside diameter. A hole as wide as its cover lets it through. A bolt may stand at the
side of its hole, half of (hole - bolt) out of the middle, and its cover with it: it then closes the hole only where the
hole is no wider than (cover + bolt) / 2. That is geometry and needs no table; the diameters are those of `hardware`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ledger.standards.fasteners import fastener
from ledger.standards.hardware import hardware

_TWO_SIDED: Final = ("through", "drilled on site")
_HELD_BY_LAST: Final = ("tapped", "stud")
_BOTH: Final = 2
SAME_MM: Final = 1e-6


@dataclass(frozen=True, slots=True)
class Cover:
    """What lies over a hole, its outside diameter and that of the bolt in it, mm."""

    what: str
    diameter_mm: float
    bolt_mm: float

    def lets_through(self, hole_mm: float) -> bool:
        """Whether the cover goes through the hole; also of a hole that has no finite size."""
        return not hole_mm < self.diameter_mm - SAME_MM

    def leaves_open(self, hole_mm: float) -> bool:
        """Whether a part of the hole stays open when the bolt stands at its side."""
        return not hole_mm <= self.closes_mm + SAME_MM

    @property
    def closes_mm(self) -> float:
        """The widest hole that is closed wherever the bolt stands in it."""
        return (self.diameter_mm + self.bolt_mm) / 2


def covers(
    designation: str, joint: str, washers: int | None = None, *, wide_last: bool = False
) -> tuple[Cover | None, Cover | None]:
    """
    What lies over the holes of the first and of the last ply; None where nothing does.

    Without a number of washers there is one under each head and nut. One washer for two sides lies on the wider hole,
    the last ply's with `wide_last`. Raises UnknownName where no table has the size.
    """
    parts, bolt_mm = hardware(designation), fastener(designation).diameter_mm
    washer = Cover("washer", parts.washer_mm, bolt_mm)
    head, nut = (Cover(what, parts.across_flats_mm, bolt_mm) for what in ("head", "nut"))
    if joint in _TWO_SIDED:
        if washers is None or washers >= _BOTH:
            return washer, washer
        return (
            washer if washers and not wide_last else head,
            washer if washers and wide_last else nut,
        )
    bare = washers == 0
    if joint in _HELD_BY_LAST:
        return (washer if not bare else nut if joint == "stud" else head), None
    if joint == "captive nut":
        across = parts.weld_nut_across_mm
        return (head if bare else washer), Cover("weld nut", across, bolt_mm) if across else None
    sunk_mm = parts.countersunk_head_mm
    sunk = Cover("countersunk head", sunk_mm, bolt_mm) if sunk_mm else None
    if joint == "countersunk":
        return sunk, nut if bare else washer
    return (sunk, None) if joint == "countersunk tapped" else (None, None)
