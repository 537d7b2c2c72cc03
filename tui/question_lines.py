"""One-line entries about questions: what is asked, what it holds up and depends on, and its day."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from ledger.domain.errors import BadInput, visible
from ledger.domain.record import Question
from tui.lines import Line

LINK_HINT = (
    "holds up PART or CONNECTION; depends on Q2, BASE/Q2, PART or CONNECTION/CLEARANCE; needed by YYYY-MM-DD"
)
QUESTION_HINT = f"QUESTION; {LINK_HINT}"
_LINK = re.compile(r"(?P<word>holds\s+up|depends\s+on|needed\s+by)\s+(?P<names>.+)", re.IGNORECASE)


def question_line(text: str) -> Line:
    """`which face is up?; holds up TURN; depends on BASE/Q2, PIER; needed by 2026-05-01`."""
    asked, *tail = (piece.strip() for piece in text.split(";"))
    if not asked or _LINK.fullmatch(asked):
        raise BadInput("expected a question, then what it holds up and depends on")
    fields = {"text": asked, **_links(tail)}
    return Line(fields, _words(fields, asked) or "Enter records it")


def link_line(text: str) -> Line:
    """`holds up TURN; depends on BASE/Q2, PIER; needed by 2026-05-01`; an empty line clears it all."""
    fields = _links([piece.strip() for piece in text.split(";")])
    return Line(fields, _words(fields) or "holds up only its own part, depends on nothing, no date")


def link_words(question: Question) -> str:
    """What hangs on a question as the line that would enter it."""
    return question.words


def _links(pieces: list[str]) -> dict[str, Any]:
    fields: dict[str, Any] = {"holds_up": (), "depends_on": (), "needed_by": ""}
    for piece in filter(None, pieces):
        found = _LINK.fullmatch(piece)
        if not found:
            raise BadInput(f"read {visible(piece)!r}; expected {LINK_HINT}")
        names = tuple(name.strip() for name in found["names"].split(",") if name.strip())
        word = " ".join(found["word"].lower().split())
        if not names:
            raise BadInput(f"{word} what? expected {LINK_HINT}")
        if word == "needed by":
            fields["needed_by"] = _day(found["names"].strip())
        else:
            field = word.replace(" ", "_")
            fields[field] = (*fields[field], *names)
    return fields


def _day(text: str) -> str:
    try:
        if date.fromisoformat(text).isoformat() == text:
            return text
    except ValueError:
        pass
    raise BadInput(f"{visible(text)!r} is not a date; expected YYYY-MM-DD")


def _words(fields: dict[str, Any], asked: str = "") -> str:
    return Question("", asked, "", fields["holds_up"], fields["depends_on"], fields["needed_by"]).words
