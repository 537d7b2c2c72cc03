"""A dimension between points of an existing structure is what was measured there."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply, NotRun
from ledger.cases.parts import PartCase
from ledger.checks._frame import check
from ledger.checks._measured_on import on_points
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.domain.record import Dimension, Part
from ledger.domain.uncertainty import decide
from ledger.survey.distance import apart
from ledger.survey.of_part import solution_of

_AXES = {"distance": None, "distance-x": 0, "distance-y": 1}


@check(
    on=PartCase,
    source="ISO 14253-1: proof of conformity and of non-conformity with U",
    codes=("points_moved", "points_lost", "points_not_proven"),
    severity="stop",
    not_checked="whether the structure has moved since its points were measured",
)
def point_distance(case: PartCase) -> Iterator[Finding]:
    """
    What others are made to fit is where it was recorded, by more than the tape can be wrong.

    Studs are set, beams settle, and a second survey of the same pier says so before the plates are cut.
    """
    found = [(d, b) for d in case.part.dimensions if (b := d.measured_on) and on_points(case.part, b)]
    if not found:
        raise DoesNotApply
    for dimension, measured_on in found:
        if dimension.fault:
            continue
        known = _measured(case.part, measured_on.kind, measured_on.labels)
        if known is None:
            yield Finding(
                "points_lost",
                f"{dimension.name} is measured on {dimension.measured_on}, and one of these was not measured",
                severity="stop",
                where=dimension.name,
                fix="measure the point, or measure the dimension on points that are there",
            )
            continue
        yield from _judged(dimension, *known)


def _measured(part: Part, kind: str, labels: tuple[str, ...]) -> tuple[float, float] | None:
    """The distance and its U, mm, 0 where that is not known; None where a point is not there."""
    solution = solution_of(part)
    if solution and all(label in solution.network.place_of for label in labels):
        if not solution.settled:
            raise NotRun("the distances do not settle where the points are")
        return apart(solution, labels[0], labels[1], _AXES[kind])
    ends = []
    doubts = []
    measured = {m.hole.label: m for m in part.measured_holes}
    points = {p.label: p for p in part.points}
    for label in labels:
        if label in points and points[label].at:
            ends.append([float(v.mm) for v in points[label].at])
            doubts.append(points[label].uncertainty)
        elif label in measured:
            ends.append(list(measured[label].hole.centre))
            doubts.append(measured[label].uncertainty)
        else:
            return None
    if len(ends[0]) != len(ends[1]):
        raise NotRun(f"of {labels[0]} and {labels[1]} one has a height and the other none")
    between = [p - q for p, q in zip(*ends, strict=True)]
    axis = _AXES[kind]
    length = math.hypot(*between) if axis is None else abs(between[axis])
    sure = [float(u.mm) for u in doubts if u]
    return length, math.hypot(*sure) if len(sure) == len(doubts) else 0.0


def _judged(dimension: Dimension, apart_mm: float, sure_mm: float) -> Iterator[Finding]:
    nominal = float(dimension.nominal.mm)
    limits = dimension.limits
    lower = nominal if limits is None else _side(nominal, limits.lower_mm)
    upper = nominal if limits is None else _side(nominal, limits.upper_mm)
    if not sure_mm > 0:
        raise NotRun(f"what {dimension.measured_on} was measured with is not known: enter its uncertainty")
    decision = decide(apart_mm, lower, upper, sure_mm)
    if decision.outcome == "inside" or (limits is None and decision.outcome == "not proven"):
        return
    shown = f"{show_mm(apart_mm, 2)} ±{show_mm(sure_mm, 2)}"
    allowed = f" {limits.written}" if limits else ""
    expected = f"{dimension.nominal.written}{allowed}"
    frozen = "is frozen at" if dimension.frozen else "must be"
    if decision.outcome == "outside":
        yield Finding(
            "points_moved",
            f"{dimension.name} {frozen} {expected}, the points are {shown} apart",
            severity="stop",
            where=dimension.name,
            fix="look at the points again; where they did move, change the dimension or have it permitted",
            measured=shown,
            limit=expected,
            value=f"{apart_mm:.3f}",
            bound=f"{upper if upper is not None and (lower is None or apart_mm > upper) else lower:.3f}",
        )
        return
    yield Finding(
        "points_not_proven",
        f"{dimension.name} {frozen} {expected}, the points are {shown} apart: neither proven nor refuted",
        severity="stop",
        where=dimension.name,
        fix=f"measure with an uncertainty of ±{show_mm(decision.better_than, 2)} or better",
        measured=shown,
        limit=expected,
    )


def _side(nominal: float, deviation: object) -> float | None:
    return None if deviation is None else nominal + float(str(deviation))
