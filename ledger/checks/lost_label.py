"""
Whatever names a hole must name one that is there.

Labels follow their holes from revision to revision. Where a hole went, its label is *lost*, and everything
that speaks of it speaks of nothing.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.parts import PartCase
from ledger.checks._frame import check
from ledger.domain.finding import Finding
from ledger.domain.record import Part


@check(
    on=PartCase,
    source="common practice: every reference on a drawing has its feature",
    codes=("label_lost",),
    severity="stop",
)
def lost_label(case: PartCase) -> Iterator[Finding]:
    """
    No group, hole operation or dimension speaks of a hole that the drawing no longer has.

    A group that has lost a hole would be fitted without it, and a tapping note would go to nobody.
    """
    part = case.part
    for label, users in _named(part).items():
        if part.hole(label) is None and users:
            yield Finding(
                "label_lost",
                f"{label} is not on {part.number}, but {', '.join(users)} names it",
                severity="stop",
                where=label,
                fix="put the hole back, name one that is there instead, or remove what names it",
            )


def _named(part: Part) -> dict[str, list[str]]:
    """Who speaks of which label. A dimension's own check tells of labels that never were."""
    lost = part.taken.lost_labels if part.taken else ()
    named: dict[str, list[str]] = {}
    for group in part.groups:
        for label in group.labels:
            named.setdefault(label, []).append(f"group {group.name}")
    for operation in part.operations:
        named.setdefault(operation.label, []).append(f"hole operation {operation.operation}")
    for dimension in part.dimensions:
        measured_on = dimension.measured_on
        for label in dict.fromkeys(measured_on.labels if measured_on else ()):
            if label in lost:
                named.setdefault(label, []).append(f"dimension {dimension.name}")
    return named
