"""
The flat drawing folds to the outside dimensions that were stated.

Looked at are key dimensions bound to a *leg*. The flat length of a bend is angle (R + K t), or what a bend table says.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from decimal import Decimal
from typing import Final

from ledger.checks._binding import binding
from ledger.checks._case import PartCase
from ledger.checks._folding import Fold, Folded, folded
from ledger.checks._frame import DoesNotApply, NotChecked, check
from ledger.checks._legs import folded_mm, leg_flat_mm
from ledger.domain.binding import LEG, Binding
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.domain.record import Dimension

NEAR_MM: Final = Decimal("0.05")  # a bend table is written to a tenth
_PLACES: Final = 6


@check(
    on=PartCase,
    source="bend allowance: angle (R + K t), deduction 2 (R + t) tan(angle/2) less it, legs as DIN 6935 measures them; "
    "K where not stated: Machinery's Handbook 31st ed. p. 1421, else DIN 6935",
    codes=("off_folded", "fold_lost"),
    severity="stop",
    not_checked="spring-back, and how far each bend strays when it is made",
)
def flat_length(case: PartCase) -> Iterator[Finding | NotChecked]:
    """
    A flat plate that is a millimetre long gives a flange that is a millimetre long.

    The drawing is flat, the dimension that matters is folded: between them stands a K-factor that nobody sees. What
    follows from an assumed one is a warning, what follows from a stated one a stop.
    """
    legs = [(d, b) for d in case.part.dimensions if (b := binding(d.bound)) is not None and b.kind == LEG]
    if not legs:
        raise DoesNotApply
    try:
        whole = folded(case.part)
    except DoesNotApply:
        whole = None
    for dimension, bound in legs:
        yield from _held(case, whole, dimension, bound)


def _held(
    case: PartCase, whole: Folded | None, dimension: Dimension, bound: Binding
) -> Iterator[Finding | NotChecked]:
    found = leg_flat_mm(case.part, whole, bound) if whole else None
    if found is None:
        yield _lost(case, dimension)
        return
    flat, folds = found
    unsaid = [f.label for f in folds if f.stated is None]
    if unsaid:
        yield NotChecked(
            f"{dimension.name} against the flat drawing: nothing is stated of {', '.join(unsaid)}"
        )
        return
    made = folded_mm(flat, folds)
    if not _holds(dimension, made):
        yield _off(dimension, flat, made, folds)


def _holds(dimension: Dimension, made: float) -> bool:
    if not math.isfinite(made):
        return False
    deviation = Decimal(str(round(made, _PLACES))) - dimension.nominal.mm
    return dimension.limits.allows(deviation) if dimension.limits else abs(deviation) <= NEAR_MM


def _lost(case: PartCase, dimension: Dimension) -> Finding:
    thick = "" if case.part.thickness else ", or there is no thickness to reckon with"
    return Finding(
        "fold_lost",
        f"{dimension.name} is bound to {dimension.bound}, which is not on the drawing{thick}",
        severity="stop",
        where=dimension.name,
        remedy="bind it to a bend line and a hole that are there (fitup bend PART shows them)",
    )


def _off(dimension: Dimension, flat: float, made: float, folds: tuple[Fold, ...]) -> Finding:
    limits = dimension.limits.written if dimension.limits else f"±{NEAR_MM} mm"
    assumed = [f"{a} at {f.label} ({f.numbers.source})" for f in folds for a in f.numbers.assumed]
    takes = ", ".join(f"{f.label} takes {f.numbers.allowance_mm:.3f} mm of the flat" for f in folds)
    said = f"; assumed: {'; '.join(assumed)}" if assumed else ""
    longer = made - float(dimension.nominal.mm)
    move = f"make the flat {'shorter' if longer > 0 else 'longer'} by {show_mm(abs(longer))} there"
    return Finding(
        "off_folded",
        f"{dimension.name} is to be {dimension.nominal} ({limits}) outside; the flat drawing has {show_mm(flat)} there "
        f"and folds to {show_mm(made)} ({takes}){said}",
        severity="warning" if assumed else "stop",
        where=dimension.name,
        remedy=f"{move}, or state the radius and the K-factor that the vendor folds with"
        if assumed
        else f"{move}, or correct the dimension or the K-factor",
        measured=show_mm(made),
        limit=f"{dimension.nominal.written} {limits}",
    )
