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

from ledger.checks._case import PartCase
from ledger.checks._folding import Fold, Folded, filled, folded, intervals, reach_of
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

    The plate stretches on the outside of a bend; what is cut there before folding has another shape afterwards.
    """
    whole = folded(case.part)
    near: list[tuple[float, str, Fold, float]] = []
    for cut in _beside(whole):
        line = _runs_through(whole, cut)
        if line is not None:
            yield _on(case.part, cut, line)
        elif not _ends_in(whole, cut):
            near += _too_near(whole, cut)
    if near:
        yield _near(case.part, near)


def _beside(whole: Folded) -> list[_Cut]:
    """The cuts that lie on a bend line or could be too near to one."""
    cuts = list(_cuts(whole))
    tree = shapely.STRtree([c.shape for c in cuts])
    found: set[int] = set()
    for fold in whole.folds:
        reach = max(hole_to_bend_mm(whole.thickness_mm, fold.numbers.radius_mm), _BRIDGED_MM)
        found.update(tree.query(fold.line(), predicate="dwithin", distance=reach).tolist())
    return [cuts[k] for k in sorted(found)]


def _cuts(whole: Folded) -> Iterator[_Cut]:
    for hole in whole.profile.holes:
        yield _Cut(hole.label, filled(hole.contour()), is_hole=True)
    for place, ring in enumerate(whole.profile.openings, 1):
        yield _Cut(f"opening {place}", filled(ring), is_hole=False)


def _runs_through(whole: Folded, cut: _Cut) -> Fold | None:
    """The bend line that lies on both sides of a cut."""
    for fold in whole.folds:
        spans = [_span(fold, f) for f in whole.folds if f.on_one_axis(fold)]
        for start, end in intervals(fold, cut.shape, reach_of(whole.profile)):
            before = any(s < start - _BEYOND_MM and e >= start - _BRIDGED_MM for s, e in spans)
            behind = any(e > end + _BEYOND_MM and s <= end + _BRIDGED_MM for s, e in spans)
            if before and behind:
                return fold
    return None


def _span(axis: Fold, fold: Fold) -> tuple[float, float]:
    ends = (axis.station(fold.a), axis.station(fold.b))
    return min(ends), max(ends)


def _ends_in(whole: Folded, cut: _Cut) -> bool:
    """Whether a bend line ends in this cut, or right at its edge."""
    return any(cut.shape.distance(shapely.Point(p)) <= _BRIDGED_MM for f in whole.folds for p in (f.a, f.b))


def _too_near(whole: Folded, cut: _Cut) -> Iterator[tuple[float, str, Fold, float]]:
    for fold in whole.folds:
        away = float(cut.shape.distance(fold.line()))
        least = hole_to_bend_mm(whole.thickness_mm, fold.numbers.radius_mm)
        if not away + LEEWAY_MM >= least:
            yield away, cut.name, fold, least


def _on(part: Part, cut: _Cut, fold: Fold) -> Finding:
    return Finding(
        "hole_on_bend" if cut.is_hole else "opening_on_bend",
        f"the bend line {fold.label} of {part.number} runs through {cut.name}: it is torn open when it is folded",
        severity="stop" if cut.is_hole else "warning",
        where=f"{fold.label}/{cut.name}",
        remedy=f"move {cut.name} or the bend line, or have the hole made after folding and leave it out of the drawing"
        if cut.is_hole
        else "move one of them, or say that it is meant: a window in a bend gives its edges a ragged shape",
    )


def _near(part: Part, near: Sequence[tuple[float, str, Fold, float]]) -> Finding:
    away, name, fold, least = min(near, key=lambda n: (n[0] - n[3], n[1]))
    said = f", R {fold.numbers.radius_mm:.2f} mm{' assumed' if fold.numbers.radius_assumed else ''}"
    return Finding(
        "hole_near_bend",
        f"the edge of {name} of {part.number} is {away:.2f} mm from the bend line {fold.label}, {least:.2f} mm is the "
        f"least (2 t + R{said}); near are {labels(dict.fromkeys(n[1] for n in near))}",
        severity="warning",
        where=f"near bends/{name}",
        remedy=f"move {name} away by {least - away:.2f} mm, or have it made after folding",
        measured=f"{away:.2f} mm",
        limit=f"{least:.2f} mm",
    )
