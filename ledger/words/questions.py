"""A question in one line: what is asked, what it holds up and depends on, and its day."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from ledger.domain.errors import BadInput, visible
from ledger.domain.moment import day
from ledger.domain.record import Question
from ledger.words.forms import LINKS, QUESTION
from ledger.words.line import Line, reads

_LINK = re.compile(r"(?P<word>holds\s+up|depends\s+on|needed\s+by)\s+(?P<names>.+)", re.IGNORECASE)


def next_ident(taken: Iterable[str]) -> str:
    """The first of Q1, Q2 … that no question has."""
    known = set(taken)
    return next(f"Q{n}" for n in range(1, len(known) + 2) if f"Q{n}" not in known)


@reads(QUESTION)
def question_line(text: str) -> Line:
    """`which face is up?; holds up TURN; depends on BASE/Q2, PIER; needed by 2026-05-01`."""
    asked, *tail = (piece.strip() for piece in text.split(";"))
    if not asked or _LINK.fullmatch(asked):
        raise BadInput("expected a question, then what it holds up and depends on")
    fields = {"text": asked, **_links(tail)}
    return Line(fields, _words(fields, asked) or "Enter records it")


@reads(LINKS)
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
            raise BadInput(f"read {visible(piece)!r}; expected {LINKS.hint}")
        names = tuple(name.strip() for name in found["names"].split(",") if name.strip())
        word = " ".join(found["word"].lower().split())
        if not names:
            raise BadInput(f"{word} what? expected {LINKS.hint}")
        if word == "needed by":
            fields["needed_by"] = day(found["names"].strip()).isoformat()
        else:
            field = word.replace(" ", "_")
            fields[field] = (*fields[field], *names)
    return fields


def _words(fields: dict[str, Any], asked: str = "") -> str:
    return Question("", asked, "", fields["holds_up"], fields["depends_on"], fields["needed_by"]).words


def question_words(question: Question) -> str:
    """A question as the line that would ask it."""
    return "; ".join(filter(None, (question.text, question.words)))
