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

from ledger.checks._case import PartCase
from ledger.checks._folding import Fold, Folded, first_hit_mm, folded, intervals, reach_of
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
    whole = folded(case.part)
    ends = [p for f in whole.folds for p in (f.a, f.b)]
    near = max((sum(relief_mm(whole.thickness_mm, f.numbers.radius_mm)) for f in whole.folds), default=0.0)
    material = whole.material_near(ends, 2 * near + _SHORT_MM)
    for fold in whole.folds:
        for end in (0, 1):
            yield from _end(case.part, whole, material, fold if end else _turned(fold))


def _turned(fold: Fold) -> Fold:
    """The same line run the other way, so that the end in question is its last."""
    return Fold(fold.label, fold.b, fold.a, fold.stated, fold.numbers)


def _end(part: Part, whole: Folded, material: BaseGeometry, fold: Fold) -> Iterator[Finding]:
    """The last end of a line."""
    end, reach = fold.length_mm, reach_of(whole.profile)
    pieces = intervals(fold, material, reach)
    place = f"({fold.b[0]:.2f}, {fold.b[1]:.2f}) mm"
    where = f"{fold.label}/relief at ({fold.b[0]:.1f}, {fold.b[1]:.1f})"
    short = max(_SHORT_MM, whole.thickness_mm / 2)
    beside = intervals(fold, material.buffer(_BESIDE_MM), reach)
    if any(s < end + _TOUCHING and e > end + short for s, e in beside):
        wide, deep = relief_mm(whole.thickness_mm, fold.numbers.radius_mm)
        yield Finding(
            "relief_missing",
            f"the bend line {fold.label} of {part.number} ends at {place} with material beside it, and no relief",
            severity="warning",
            where=where,
            remedy=f"cut a relief there, {wide:.2f} mm wide and {deep:.2f} mm deep or more, or draw it to an edge",
        )
        return
    begins = max((e for _, e in pieces if e <= end + short), default=end)
    ends = min((s for s, _ in pieces if s > begins + _TOUCHING), default=math.inf)
    if not _runs_on(whole, fold, ends):
        yield from _small(part, whole, material, fold, gap=(begins, ends), where=where)


def _runs_on(whole: Folded, fold: Fold, station: float) -> bool:
    """Whether another bend line of the same axis goes on behind the gap."""
    if not math.isfinite(station):
        return False
    there = shapely.Point(fold.at(station))
    others = (f for f in whole.folds if f.label != fold.label and f.on_one_axis(fold))
    return any(f.line().distance(there) <= _SHORT_MM for f in others)


def _small(
    part: Part, whole: Folded, material: BaseGeometry, fold: Fold, *, gap: tuple[float, float], where: str
) -> Iterator[Finding]:
    wide, deep = relief_mm(whole.thickness_mm, fold.numbers.radius_mm)
    begins, ends = gap
    width = ends - begins
    middle = begins + (width if math.isfinite(width) else wide) / 2
    (ux, uy), reach = fold.along, reach_of(whole.profile)
    ways = ((-uy, ux), (uy, -ux))
    depth = min(first_hit_mm(fold.at(middle), way, [material], reach) for way in ways)
    said = []
    if not width + LEEWAY_MM >= wide:
        said.append(f"{width:.2f} mm wide, {wide:.2f} mm (t) is the least")
    if not depth + LEEWAY_MM >= deep:
        said.append(f"{depth:.2f} mm deep, {deep:.2f} mm (t + R) is the least")
    if said:
        yield Finding(
            "relief_small",
            f"the relief at ({fold.b[0]:.2f}, {fold.b[1]:.2f}) mm, where {fold.label} of {part.number} ends, is "
            f"{' and '.join(said)}",
            severity="warning",
            where=where,
            remedy="cut it wider and deeper, or move the bend line away from the edge beside it",
        )
