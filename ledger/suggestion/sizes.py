"""
Which fastener two sizes of holes speak of, one in each of two plates.

First what tables say (`ledger.standards.spoken_sizes`): clearance on clearance is through, clearance on tap drill is
tapped. Else what drawings often show: a hole as wide as its bolt, or wider than coarse, up to `WIDE` of the bolt. Such
a size is *unusual*. Common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from ledger.standards.fasteners import Fastener, fasteners
from ledger.standards.spoken_sizes import DRAWN_MM, FIRST_CHOICE, spoken

WIDE: Final = 1.35  # diameters of the bolt; a wider hole is for something else
EXACT_MM: Final = 0.03
SAME_MM: Final = 0.05  # what two drawings of a hole as wide as its bolt may differ by


@dataclass(frozen=True, slots=True)
class Spoken:
    """A fastener and its joint; whether the second plate has the clearance holes; whether sizes are unusual."""

    fastener: str
    joint: str
    swapped: bool = False
    unusual: bool = False


@lru_cache(maxsize=4096)
def spoken_by(a_mm: float, b_mm: float, *, inch: bool) -> Spoken | None:
    """
    What a hole of this size in A and one of that size in B speak of; None where of nothing.

    Drawings in inches may be for metric bolts: they are where the table of those has just these sizes.
    """
    for swapped, (one, other) in ((False, (a_mm, b_mm)), (True, (b_mm, a_mm))):
        metric = spoken({"": one}, {"": other}, inch=False)
        found = [x for x in metric if not inch or x.off_mm <= EXACT_MM]
        found = found or list(spoken({"": one}, {"": other}, inch=True) if inch else ())
        if found:
            best = found[0]
            return Spoken(best.fastener, best.joint, swapped and best.joint == "tapped")
    return _unusual(a_mm, b_mm, inch=inch)


def without_clearance(size_mm: float, *, inch: bool) -> str:
    """The bolt that is as thick as a hole of this size is wide; empty where there is none."""
    same = [
        f.designation
        for f in fasteners()
        if _chosen(f, inch=inch) and abs(f.diameter_mm - size_mm) <= SAME_MM
    ]
    return same[0] if same else ""


def _unusual(a_mm: float, b_mm: float, *, inch: bool) -> Spoken | None:
    small, large = min(a_mm, b_mm), max(a_mm, b_mm)
    known = [f for f in fasteners() if _chosen(f, inch=inch)]
    drilled = [
        f
        for f in known
        if abs(f.tap_drill_mm - small) <= DRAWN_MM and f.diameter_mm < large <= WIDE * f.diameter_mm
    ]
    if drilled:
        return Spoken(drilled[0].designation, "tapped", swapped=a_mm < b_mm, unusual=True)
    fits = [f for f in known if f.diameter_mm <= small + SAME_MM and large <= WIDE * f.diameter_mm]
    if not fits:
        return None
    return Spoken(max(fits, key=lambda f: f.diameter_mm).designation, "through", unusual=True)


def _chosen(one: Fastener, *, inch: bool) -> bool:
    return one.system == "UN" and one.series == "UNC" if inch else one.designation in FIRST_CHOICE
