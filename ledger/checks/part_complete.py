"""
The vendor must be told material, thickness, process, quantity and hand.

Existing structure is not ordered, and of a catalogue part only the number of pieces is.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply
from ledger.cases.parts import PartCase
from ledger.checks._frame import check
from ledger.domain.finding import Finding
from ledger.domain.record import Part


@check(
    on=PartCase,
    source="common practice: what a vendor asks for before quoting",
    codes=("material_missing", "thickness_missing", "process_missing", "quantity_missing", "twin_missing"),
    severity="stop",
    not_checked="whether the vendor stocks this material in this thickness",
)
def part_complete(case: PartCase) -> Iterator[Finding]:
    """
    Everything that an order must say is written down.

    What is left out is guessed by someone who does not know the structure, and the guess is cut.
    """
    part = case.part
    if part.form == "site":
        raise DoesNotApply
    for what, missing, fix in _expected(part):
        if missing:
            yield Finding(
                f"{what}_missing", f"{part.number} has no {what}", severity="stop", where=what, fix=fix
            )
    if part.hand == "opposite" and case.twin is None:
        yield Finding(
            "twin_missing",
            f"{part.number} is of the opposite hand, but the part it mirrors is not known",
            severity="stop",
            where="hand",
            fix="name the part it is opposite to, or enter another hand",
        )


def _expected(part: Part) -> Iterator[tuple[str, bool, str]]:
    if part.form == "cut":
        thickness = part.thickness.mm if part.thickness else None
        known = thickness is not None and thickness.is_finite() and thickness > 0
        yield "material", not part.material.strip(), "enter it as it is ordered, such as S355 or 6061-T6"
        yield "thickness", not known, "enter the thickness with its unit, such as 12 mm or 3/8 in"
        yield "process", not part.process.strip(), "enter how it is cut, such as laser or water-jet"
    counted = part.quantity is not None and part.quantity >= 1
    yield "quantity", not counted, "enter how many pieces are ordered"
