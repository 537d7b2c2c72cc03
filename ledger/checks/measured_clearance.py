"""
A required clearance is proven by a reading on the real structure.

With U the expanded uncertainty of the reading, a value inside the limits by at least U is *proven*, one
outside by more than U is *missed*, and one in between is *not proven* either way. Both stop: what is good enough all
the same is permitted in writing, and such a permit holds up to the worst that the reading allows.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from ledger.cases.answers import DoesNotApply, NotRun
from ledger.cases.connections import ConnectionCase
from ledger.checks._frame import check
from ledger.domain.connection import Clearance, Reading
from ledger.domain.finding import Finding
from ledger.domain.quantity import plain
from ledger.domain.uncertainty import decide


@check(
    on=ConnectionCase,
    source="ISO 14253-1: proof of conformity and of non-conformity with U",
    codes=("not_measured", "clearance_missed", "not_proven"),
    severity="stop",
    not_checked="whether the reading was taken at the tightest place",
)
def measured_clearance(case: ConnectionCase) -> Iterator[Finding]:
    """
    The room that is needed was found to be there, by more than the measurement could be wrong.

    A drawing cannot know where the concrete, the weld and the old bracket really are.
    """
    if not case.connection.clearances:
        raise DoesNotApply
    for clearance in case.connection.clearances:
        where = f"{case.connection.name}/{clearance.name}"
        if clearance.reading is None:
            yield Finding(
                "not_measured",
                f"{clearance.name} must be {clearance.required} and has not been measured",
                severity="stop",
                where=where,
                fix="measure it on the structure and record value, uncertainty and instrument",
                limit=clearance.required.written,
            )
        else:
            yield from _judged(clearance, clearance.reading, where)


def _judged(clearance: Clearance, reading: Reading, where: str) -> Iterator[Finding]:
    value, doubt = reading.value.mm, reading.uncertainty.mm
    least, most = clearance.required.least_mm, clearance.required.most_mm
    if not (value.is_finite() and doubt.is_finite() and doubt > 0):
        raise NotRun(f"the reading of {clearance.name} has no value with an uncertainty: record it again")
    if least is None and most is None:
        raise NotRun(f"{clearance.name} has no limit: enter one")
    decision = decide(value, least, most, doubt)
    if decision.outcome == "inside":
        return
    small = least is not None and (most is None or value - least <= most - value)
    words = "too small" if small else "too large"
    shown = f"{reading.value.written} ±{reading.uncertainty.written}"
    missed = decision.outcome == "outside"
    yield Finding(
        "clearance_missed" if missed else "not_proven",
        f"{clearance.name} {'is' if missed else 'may be'} {words}: {shown}, required {clearance.required}",
        severity="stop",
        where=where,
        fix="make room on the structure or change the drawing, then measure again"
        if missed
        else _better(decision.room, words),
        measured=shown,
        limit=clearance.required.written,
        value=plain(value if missed else value - doubt if small else value + doubt),
        bound=plain(least if small and least is not None else most if most is not None else value),
    )


def _better(room: Decimal, words: str) -> str:
    if room > 0:
        return f"measure with an uncertainty of ±{plain(room)} mm or better, or make more room"
    if room == 0:
        return "the reading is on the limit, which no measurement can prove: make more room"
    return f"make more room; a reading surer than ±{plain(-room)} mm at this value would prove it {words}"
