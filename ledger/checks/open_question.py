"""No question about the part is still open."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.parts import SurroundedPart
from ledger.checks._frame import check
from ledger.domain.finding import Finding


@check(
    on=SurroundedPart,
    source="common practice: a drawing with open points is not released",
    codes=("question_open",),
    severity="stop",
)
def open_question(seen: SurroundedPart) -> Iterator[Finding]:
    """
    What was asked has been decided and the answer is written down.

    A question that is forgotten is answered by the saw.
    """
    case = seen.case
    for owner, question in (*(("", q) for q in case.part.questions), *seen.blocking):
        if question.is_open:
            about = f"{question.ident} of {owner}, which holds this up, is " if owner else ""
            waits = f"; it depends on {', '.join(question.waiting)}" if question.waiting else ""
            past = ", which is past" if question.needed_by in seen.late else ""
            until = f" (by {question.needed_by}{past})" if question.needed_by else ""
            yield Finding(
                "question_open",
                f"{about}still to be decided{until}: {question.text}{waits}",
                severity="stop",
                where=f"{owner}/{question.ident}" if owner else question.ident,
                fix="first settle what it depends on"
                if question.waiting
                else "decide it and record the answer",
            )
