"""
Every flange is long enough to lie on the die.

Measured is the outside leg, from the bend line square to the nearest edge of the plate, over the middle four fifths of
the line: a mitered corner is no short flange. Where another bend comes before the edge nothing is measured.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np

from ledger.cases.parts import PartCase
from ledger.checks._bend_lines import BendLine, BentPart, bent_part, first_hit_mm, reach_of
from ledger.checks._frame import check
from ledger.checks._webs import LEEWAY_MM
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.standards.bending import smallest_flange_mm

_OVER: Final = np.linspace(0.1, 0.9, 33)
_OFF_MM: Final = 1e-4  # a ray begins beside its own line


@check(
    on=PartCase,
    source="common practice for air bends: smallest flange about 0.7 V, V about 8 t",
    codes=("flange_short",),
    severity="warning",
    not_checked="room for tools between two bends",
)
def smallest_flange(case: PartCase) -> Iterator[Finding]:
    """
    A flange that is shorter than half the die slips into it.

    It is then bent crooked, marked, or not at all; a longer one can be cut off afterwards, a short one cannot.
    """
    whole = bent_part(case.part)
    least = smallest_flange_mm(whole.thickness_mm)
    for bend_line in whole.lines:
        flat = _shortest(whole, bend_line)
        leg = flat + bend_line.numbers.leg_mm
        if math.isfinite(flat) and not leg + LEEWAY_MM >= least:
            yield Finding(
                "flange_short",
                f"the flange at {bend_line.label} of {case.part.number} is {leg:.2f} mm outside ({flat:.2f} mm flat); "
                f"minimum about {least:.2f} mm in {case.part.thickness} (0.7 of a die of 8 t)",
                severity="warning",
                where=f"{bend_line.label}/flange",
                fix=f"make it longer by {show_mm(least - leg, 2)}, or ask the vendor for a narrower die",
                measured=f"{leg:.2f} mm",
                limit=f"{least:.2f} mm",
            ).held_to(leg, least)


def _shortest(whole: BentPart, bend_line: BendLine) -> float:
    """The shortest way square from the line to an edge; infinite where other bends come first everywhere."""
    edge = [whole.sheet().boundary]
    others = [f.line() for f in whole.lines if not f.on_one_axis(bend_line)]
    reach, (ux, uy) = reach_of(whole.profile), bend_line.along
    found = math.inf
    for share in _OVER:
        for side in (1.0, -1.0):
            start, way = (
                bend_line.at(float(share) * bend_line.length_mm, side * _OFF_MM),
                (-uy * side, ux * side),
            )
            away = first_hit_mm(start, way, edge, reach)
            if away < first_hit_mm(start, way, others, reach):
                found = min(found, away)
    return found
