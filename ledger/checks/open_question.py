"""No question about the part is still open."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.checks._case import PartCase
from ledger.checks._frame import check
from ledger.domain.finding import Finding


@check(
    on=PartCase,
    source="common practice: a drawing with open points is not released",
    codes=("question_open",),
    severity="stop",
    apart_from=("dimensions", "note"),
)
def open_question(case: PartCase) -> Iterator[Finding]:
    """
    What was asked has been decided and the answer is written down.

    A question that is forgotten is answered by the saw.
    """
    for question in case.part.questions:
        if question.is_open:
            yield Finding(
                "question_open",
                f"still to be decided: {question.text}",
                severity="stop",
                where=question.ident,
                remedy="decide it and record the answer",
            )
