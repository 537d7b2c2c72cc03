"""A paper template that was tried fits; one was tried where the policy asks for it."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.answers import DoesNotApply
from ledger.cases.parts import SurroundedPart
from ledger.checks._frame import check
from ledger.domain.finding import Finding


@check(
    on=SurroundedPart,
    source="common practice: paper is tried before metal is cut",
    codes=("template_misfit", "template_not_tried"),
    severity="stop",
    not_checked="how well the template was laid on, and whether its scale bar was measured",
)
def template_tried(seen: SurroundedPart) -> Iterator[Finding]:
    """
    Paper laid on the real structure finds what every measurement missed.

    Only a trial of the drawing as it is now counts. That none was tried is told where the policy asks for it.
    """
    part = seen.case.part
    asked = "template_not_tried" in seen.asked
    if part.form != "cut" or part.taken is None or not (part.trials or asked):
        raise DoesNotApply
    tried = part.tried
    if tried is None and asked:
        before = " since its drawing changed" if part.trials else ""
        yield Finding(
            "template_not_tried",
            f"no template of {part.number} was tried{before}",
            severity="warning",
            where=part.number,
            fix="print it (fitup template), lay it on what is there, and record what came of it (fitup tried)",
        )
    elif tried is not None and tried.result != "fits":
        yield Finding(
            "template_misfit",
            f"template of {part.number} does not fit: {tried.note} ({tried.by}, {tried.day})",
            severity="stop",
            where=part.number,
            fix="correct the drawing and try its template again, or record a trial that fits",
        )
