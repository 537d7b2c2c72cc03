"""
The flat drawing bends to the outside dimensions that were entered.

Looked at are key dimensions measured on a *leg*. The flat length of a bend is angle (R + K t), or what a bend table
says.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from decimal import Decimal
from typing import Final

from ledger.cases.answers import DoesNotApply, NotChecked
from ledger.cases.parts import PartCase
from ledger.checks._bend_lines import BendLine, BentPart, bent_part
from ledger.checks._frame import check
from ledger.checks._legs import bent_mm, leg_flat_mm
from ledger.domain.finding import Finding
from ledger.domain.measured_on import LEG, MeasuredOn
from ledger.domain.quantity import show_mm
from ledger.domain.record import Dimension

NEAR_MM: Final = Decimal("0.05")  # a bend table is written to a tenth
_PLACES: Final = 6


@check(
    on=PartCase,
    source="bend allowance: angle (R + K t), deduction 2 (R + t) tan(angle/2) less it, legs as DIN 6935 measures them; "
    "K where not entered: Machinery's Handbook 31st ed. p. 1421, else DIN 6935",
    codes=("off_bent", "leg_lost"),
    severity="stop",
    not_checked="spring-back, and how far off each bend is made",
)
def flat_length(case: PartCase) -> Iterator[Finding | NotChecked]:
    """
    A flat plate that is a millimeter long gives a flange that is a millimeter long.

    The drawing is flat, the dimension that matters is bent: between them stands a K-factor that nobody sees. What
    follows from an assumed one is a warning, what follows from an entered one a stop.
    """
    legs = [(d, b) for d in case.part.dimensions if (b := d.measured_on) is not None and b.kind == LEG]
    if not legs:
        raise DoesNotApply
    try:
        whole = bent_part(case.part)
    except DoesNotApply:
        whole = None
    for dimension, measured_on in legs:
        yield from _held(case, whole, dimension, measured_on)


def _held(
    case: PartCase, whole: BentPart | None, dimension: Dimension, measured_on: MeasuredOn
) -> Iterator[Finding | NotChecked]:
    found = leg_flat_mm(case.part, whole, measured_on) if whole else None
    if found is None:
        yield _lost(case, dimension)
        return
    flat, bend_lines = found
    unsaid = [f.label for f in bend_lines if f.stated is None]
    if unsaid:
        yield NotChecked(f"{dimension.name} against the flat drawing: no bend data for {', '.join(unsaid)}")
        return
    made = bent_mm(flat, bend_lines)
    if not _holds(dimension, made):
        yield _off(dimension, flat, made, bend_lines)


def _holds(dimension: Dimension, made: float) -> bool:
    if not math.isfinite(made):
        return False
    deviation = Decimal(str(round(made, _PLACES))) - dimension.nominal.mm
    return dimension.limits.allows(deviation) if dimension.limits else abs(deviation) <= NEAR_MM


def _lost(case: PartCase, dimension: Dimension) -> Finding:
    thick = "" if case.part.thickness else ", or the thickness is missing"
    return Finding(
        "leg_lost",
        f"{dimension.name} is measured on {dimension.measured_on}, which is not on the drawing{thick}",
        severity="stop",
        where=dimension.name,
        fix="measure it on a bend line and a hole that are there (fitup bend PART shows them)",
    )


def _off(dimension: Dimension, flat: float, made: float, bend_lines: tuple[BendLine, ...]) -> Finding:
    limits = dimension.limits.written if dimension.limits else f"±{NEAR_MM} mm"
    assumed = [f"{a} at {f.label} ({f.numbers.source})" for f in bend_lines for a in f.numbers.assumed]
    takes = ", ".join(f"{f.label} takes {f.numbers.allowance_mm:.3f} mm of the flat" for f in bend_lines)
    said = f"; assumed: {'; '.join(assumed)}" if assumed else ""
    longer = made - float(dimension.nominal.mm)
    move = f"make the flat {'shorter' if longer > 0 else 'longer'} by {show_mm(abs(longer))} there"
    return Finding(
        "off_bent",
        f"{dimension.name} must be {dimension.nominal} ({limits}) outside; the flat drawing has {show_mm(flat)} there "
        f"and bends to {show_mm(made)} ({takes}){said}",
        severity="warning" if assumed else "stop",
        where=dimension.name,
        fix=f"{move}, or enter the radius and the K-factor that the vendor bends with"
        if assumed
        else f"{move}, or correct the dimension or the K-factor",
        measured=show_mm(made),
        limit=f"{dimension.nominal.written} {limits}",
    )
