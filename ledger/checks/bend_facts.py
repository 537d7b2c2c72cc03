"""
Every bend line has its bend data, and what was not entered is named.

*Sharp* is an inside radius below what the material takes as a rule. A bend table is *odd* where its value would put the
neutral fiber outside the inner half of the plate.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply
from ledger.cases.parts import PartCase
from ledger.checks._bend_lines import BendLine, bent_part
from ledger.checks._frame import check
from ledger.checks._webs import labels
from ledger.domain.bend import LARGEST_K, ends_of, lost_bends
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.domain.record import Part
from ledger.standards.bending import sharpest_mm

_LEEWAY = 1e-6


@check(
    on=PartCase,
    source="common practice: angle, direction and inside radius of every bend on the drawing; smallest radius by "
    "material from memory; K between 0 and 0.5: the neutral fiber is between the inside and the middle",
    codes=("bend_unsaid", "bend_lost", "bend_not_straight", "bend_sharp", "bend_table_odd", "bend_assumed"),
    severity="stop",
    not_checked="grain direction across bends, tools and the order of bends",
)
def bend_facts(case: PartCase) -> Iterator[Finding]:
    """
    A dashed line without an angle and a direction comes back bent the wrong way.

    A radius and a K-factor that nobody entered are the vendor's, and the flanges with them.
    """
    part = case.part
    if part.form != "cut" or part.profile is None or not (part.profile.bends or part.bends):
        raise DoesNotApply
    yield from _lost(part)
    yield from _unsaid(part)
    try:
        whole = bent_part(part)
    except DoesNotApply:
        return
    stated = [f for f in whole.lines if f.stated is not None]
    yield from _sharp(part, stated, whole.thickness_mm)
    yield from _odd(part, stated)
    yield from _assumed(part, stated)


def _lost(part: Part) -> Iterator[Finding]:
    for bend in lost_bends(part.profile.bends if part.profile else (), part.bends):
        (ax, ay), (bx, by) = bend.line
        yield Finding(
            "bend_lost",
            f"{bend.label} of {part.number} ({bend.words}) was a line from ({ax:.2f}, {ay:.2f}) to ({bx:.2f}, {by:.2f})"
            " mm, which is no longer on the drawing",
            severity="stop",
            where=bend.label,
            fix=f"enter the bend lines that are there (fitup bend {part.number}), or remove this one with a reason",
        )


def _unsaid(part: Part) -> Iterator[Finding]:
    drawn = part.bend_lines
    curved = [label for label, stroke in drawn.items() if ends_of(stroke) is None]
    known = {b.label for b in part.bends}
    unsaid = [label for label in drawn if label not in known and label not in curved]
    if curved:
        yield Finding(
            "bend_not_straight",
            f"{labels(curved)} of {part.number}: not straight; a bend line is straight from end to end",
            severity="warning",
            where=" ".join(curved[:12]),
            fix="draw each bend as one straight line, and what is only marked on a layer for marks",
        )
    if unsaid:
        first = f"fitup bend {part.number} {unsaid[0]} --as '90 deg up, R 3 mm, K 0.44'"
        yield Finding(
            "bend_unsaid",
            f"{labels(unsaid)} of {part.number}: bend data missing (angle, direction, inside radius)",
            severity="warning",
            where=unsaid[0],
            fix=f"enter it, such as {first}; the vendor sheet then shows it",
        )


def _sharp(part: Part, stated: list[BendLine], thick: float) -> Iterator[Finding]:
    found = sharpest_mm(part.material, thick)
    if found is None:
        return
    least, source = found
    for bend_line in stated:
        if not bend_line.numbers.radius_mm + _LEEWAY >= least:
            said = ", assumed" if bend_line.numbers.radius_assumed else ""
            yield Finding(
                "bend_sharp",
                f"{bend_line.label} of {part.number} is bent to R {bend_line.numbers.radius_mm:.2f} mm{said}; "
                f"minimum {least:.2f} mm in {part.material} of {part.thickness} ({source})",
                severity="warning",
                where=f"{bend_line.label}/radius",
                fix="allow a larger inside radius, bend across the grain, or ask the vendor",
                measured=show_mm(bend_line.numbers.radius_mm),
                limit=f">= {show_mm(least)}",
            )


def _odd(part: Part, stated: list[BendLine]) -> Iterator[Finding]:
    for bend_line in stated:
        bend, k = bend_line.stated, bend_line.numbers.k
        if bend and (bend.allowance or bend.deduction) and not -_LEEWAY <= k <= float(LARGEST_K) + _LEEWAY:
            yield Finding(
                "bend_table_odd",
                f"{bend_line.label} of {part.number} ({bend.words}) in {part.thickness} gives a K-factor of {k:.3f}; "
                "expected 0 to 0.5",
                severity="warning",
                where=f"{bend_line.label}/table",
                fix="check the table again: for this thickness, radius, angle and unit? allowance or deduction?",
                measured=f"{k:.3f}",
                limit="0 to 0.5",
            )


def _assumed(part: Part, stated: list[BendLine]) -> Iterator[Finding]:
    said = [f"{f.label} {' and '.join(f.numbers.assumed)}" for f in stated if f.numbers.assumed]
    if said:
        sources = "; ".join(dict.fromkeys(f.numbers.source for f in stated if f.numbers.assumed))
        yield Finding(
            "bend_assumed",
            f"assumed for {part.number}, not entered: {labels(said)} ({sources})",
            severity="note",
            where="assumed at bends",
            fix="ask the vendor what they bend with, and enter it",
        )
