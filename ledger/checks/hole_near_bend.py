"""
Holes and openings keep their distance from bend lines, and none lies on one.

A hole or opening at the end of a bend line is a relief, and one that parts a line between both its ends lies *on* it.
The distance runs from the edge of the hole to the bend line as it is drawn.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import shapely
from shapely.geometry.base import BaseGeometry

from ledger.cases.parts import PartCase
from ledger.checks._bend_lines import BendLine, BentPart, bent_part, filled, intervals, reach_of
from ledger.checks._frame import check
from ledger.checks._webs import LEEWAY_MM, labels
from ledger.domain.finding import Finding
from ledger.domain.record import Part
from ledger.standards.bending import hole_to_bend_mm

_BRIDGED_MM: Final = 1.0  # a bend line drawn so short of a hole still runs on behind it
_BEYOND_MM: Final = 0.05


@dataclass(frozen=True, slots=True)
class _Cut:
    """A hole, slot or opening by its name."""

    name: str
    shape: BaseGeometry
    is_hole: bool


@check(
    on=PartCase,
    source="common practice, shop guides: edge of a hole to the bend line at least 2 t + R; some shops ask 2.5 t + R",
    codes=("hole_on_bend", "opening_on_bend", "hole_near_bend"),
    severity="stop",
    not_checked="how far a hole near a bend is drawn out of round",
)
def hole_near_bend(case: PartCase) -> Iterator[Finding]:
    """
    A hole near a bend is pulled out of round, one on the bend line is torn open.

    The plate stretches on the outside of a bend; what is cut there before bending has another shape afterwards.
    """
    whole = bent_part(case.part)
    near: list[tuple[float, str, BendLine, float]] = []
    for cut in _beside(whole):
        line = _runs_through(whole, cut)
        if line is not None:
            yield _on(case.part, cut, line)
        elif not _ends_in(whole, cut):
            near += _too_near(whole, cut)
    if near:
        yield _near(case.part, near)


def _beside(whole: BentPart) -> list[_Cut]:
    """The cuts that lie on a bend line or could be too near to one."""
    cuts = list(_cuts(whole))
    tree = shapely.STRtree([c.shape for c in cuts])
    found: set[int] = set()
    for bend_line in whole.lines:
        reach = max(hole_to_bend_mm(whole.thickness_mm, bend_line.numbers.radius_mm), _BRIDGED_MM)
        found.update(tree.query(bend_line.line(), predicate="dwithin", distance=reach).tolist())
    return [cuts[k] for k in sorted(found)]


def _cuts(whole: BentPart) -> Iterator[_Cut]:
    for hole in whole.profile.holes:
        yield _Cut(hole.label, filled(hole.contour()), is_hole=True)
    for place, ring in enumerate(whole.profile.openings, 1):
        yield _Cut(f"opening {place}", filled(ring), is_hole=False)


def _runs_through(whole: BentPart, cut: _Cut) -> BendLine | None:
    """The bend line that lies on both sides of a cut."""
    for bend_line in whole.lines:
        spans = [_span(bend_line, f) for f in whole.lines if f.on_one_axis(bend_line)]
        for start, end in intervals(bend_line, cut.shape, reach_of(whole.profile)):
            before = any(s < start - _BEYOND_MM and e >= start - _BRIDGED_MM for s, e in spans)
            behind = any(e > end + _BEYOND_MM and s <= end + _BRIDGED_MM for s, e in spans)
            if before and behind:
                return bend_line
    return None


def _span(axis: BendLine, bend_line: BendLine) -> tuple[float, float]:
    ends = (axis.station(bend_line.a), axis.station(bend_line.b))
    return min(ends), max(ends)


def _ends_in(whole: BentPart, cut: _Cut) -> bool:
    """Whether a bend line ends in this cut, or right at its edge."""
    return any(cut.shape.distance(shapely.Point(p)) <= _BRIDGED_MM for f in whole.lines for p in (f.a, f.b))


def _too_near(whole: BentPart, cut: _Cut) -> Iterator[tuple[float, str, BendLine, float]]:
    for bend_line in whole.lines:
        away = float(cut.shape.distance(bend_line.line()))
        least = hole_to_bend_mm(whole.thickness_mm, bend_line.numbers.radius_mm)
        if not away + LEEWAY_MM >= least:
            yield away, cut.name, bend_line, least


def _on(part: Part, cut: _Cut, bend_line: BendLine) -> Finding:
    return Finding(
        "hole_on_bend" if cut.is_hole else "opening_on_bend",
        f"the bend line {bend_line.label} of {part.number} runs through {cut.name}: it is torn open when it is bent",
        severity="stop" if cut.is_hole else "warning",
        where=f"{bend_line.label}/{cut.name}",
        fix=f"move {cut.name} or the bend line, or have the hole made after bending and leave it out of the drawing"
        if cut.is_hole
        else "move one of them, or acknowledge it: the edges of a window in a bend come out ragged",
    )


def _near(part: Part, near: Sequence[tuple[float, str, BendLine, float]]) -> Finding:
    away, name, bend_line, least = min(near, key=lambda n: (n[0] - n[3], n[1]))
    said = f", R {bend_line.numbers.radius_mm:.2f} mm{' assumed' if bend_line.numbers.radius_assumed else ''}"
    return Finding(
        "hole_near_bend",
        f"the edge of {name} of {part.number} is {away:.2f} mm from the bend line {bend_line.label}; minimum "
        f"{least:.2f} mm (2 t + R{said}); too close: {labels(dict.fromkeys(n[1] for n in near))}",
        severity="warning",
        where=f"near bends/{name}",
        fix=f"move {name} away by {least - away:.2f} mm, or have it made after bending",
        measured=f"{away:.2f} mm",
        limit=f"{least:.2f} mm",
    )
