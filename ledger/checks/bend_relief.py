"""
A bend line runs to an edge of the plate, or ends in a relief.

A *relief* is a notch, slot or hole at the end of a bend line, at least t wide and t + R deep to either side of it where
there is material. A line that ends on material, or right beside it, has none.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import shapely
from shapely.geometry.base import BaseGeometry

from ledger.cases.parts import PartCase
from ledger.checks._bend_lines import BendLine, BentPart, bent_part, first_hit_mm, intervals, reach_of
from ledger.checks._frame import check
from ledger.checks._webs import LEEWAY_MM
from ledger.domain.finding import Finding
from ledger.domain.record import Part
from ledger.standards.bending import relief_mm

_SHORT_MM: Final = 1.0  # a bend line drawn so short of an edge reaches it
_BESIDE_MM: Final = 0.02  # an edge along a bend line is material beside it, however the drawing lies
_TOUCHING: Final = 1e-6


@check(
    on=PartCase,
    source="common practice: a relief at least t wide and t + R deep where a bend ends inside the plate",
    codes=("relief_missing", "relief_small"),
    severity="warning",
    not_checked="corners where two flanges meet",
)
def bend_relief(case: PartCase) -> Iterator[Finding]:
    """
    Where a bend ends inside the plate, the material beside it tears.

    A cut beside the bend lets one part turn while the other stays flat.
    """
    whole = bent_part(case.part)
    ends = [p for f in whole.lines for p in (f.a, f.b)]
    near = max((sum(relief_mm(whole.thickness_mm, f.numbers.radius_mm)) for f in whole.lines), default=0.0)
    material = whole.material_near(ends, 2 * near + _SHORT_MM)
    for bend_line in whole.lines:
        for end in (0, 1):
            yield from _end(case.part, whole, material, bend_line if end else _turned(bend_line))


def _turned(bend_line: BendLine) -> BendLine:
    """The same line run the other way, so that the end in question is its last."""
    return BendLine(bend_line.label, bend_line.b, bend_line.a, bend_line.stated, bend_line.numbers)


def _end(part: Part, whole: BentPart, material: BaseGeometry, bend_line: BendLine) -> Iterator[Finding]:
    """The last end of a line."""
    end, reach = bend_line.length_mm, reach_of(whole.profile)
    pieces = intervals(bend_line, material, reach)
    place = f"({bend_line.b[0]:.2f}, {bend_line.b[1]:.2f}) mm"
    where = f"{bend_line.label}/relief at ({bend_line.b[0]:.1f}, {bend_line.b[1]:.1f})"
    short = max(_SHORT_MM, whole.thickness_mm / 2)
    beside = intervals(bend_line, material.buffer(_BESIDE_MM), reach)
    if any(s < end + _TOUCHING and e > end + short for s, e in beside):
        wide, deep = relief_mm(whole.thickness_mm, bend_line.numbers.radius_mm)
        yield Finding(
            "relief_missing",
            f"the bend line {bend_line.label} of {part.number} ends at {place} with material beside it, and no relief",
            severity="warning",
            where=where,
            fix=f"cut a relief there, {wide:.2f} mm wide and {deep:.2f} mm deep or more, or draw the line to an edge",
        )
        return
    begins = max((e for _, e in pieces if e <= end + short), default=end)
    ends = min((s for s, _ in pieces if s > begins + _TOUCHING), default=math.inf)
    if not _runs_on(whole, bend_line, ends):
        yield from _small(part, whole, material, bend_line, gap=(begins, ends), where=where)


def _runs_on(whole: BentPart, bend_line: BendLine, station: float) -> bool:
    """Whether another bend line of the same axis goes on behind the gap."""
    if not math.isfinite(station):
        return False
    there = shapely.Point(bend_line.at(station))
    others = (f for f in whole.lines if f.label != bend_line.label and f.on_one_axis(bend_line))
    return any(f.line().distance(there) <= _SHORT_MM for f in others)


def _small(
    part: Part,
    whole: BentPart,
    material: BaseGeometry,
    bend_line: BendLine,
    *,
    gap: tuple[float, float],
    where: str,
) -> Iterator[Finding]:
    wide, deep = relief_mm(whole.thickness_mm, bend_line.numbers.radius_mm)
    begins, ends = gap
    width = ends - begins
    middle = begins + (width if math.isfinite(width) else wide) / 2
    (ux, uy), reach = bend_line.along, reach_of(whole.profile)
    ways = ((-uy, ux), (uy, -ux))
    depth = min(first_hit_mm(bend_line.at(middle), way, [material], reach) for way in ways)
    said = []
    if not width + LEEWAY_MM >= wide:
        said.append(f"{width:.2f} mm wide, {wide:.2f} mm (t) required")
    if not depth + LEEWAY_MM >= deep:
        said.append(f"{depth:.2f} mm deep, {deep:.2f} mm (t + R) required")
    if said:
        yield Finding(
            "relief_small",
            f"the relief at ({bend_line.b[0]:.2f}, {bend_line.b[1]:.2f}) mm, where {bend_line.label} of {part.number} "
            f"ends, is {' and '.join(said)}",
            severity="warning",
            where=where,
            fix="cut it wider and deeper, or move the bend line away from the edge beside it",
        )
