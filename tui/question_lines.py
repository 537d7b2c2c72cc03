"""One-line entries about questions: what is asked, what it blocks and waits for, and its day."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from ledger.domain.errors import BadInput, visible
from ledger.domain.record import Question
from tui.lines import Line

LINK_HINT = "blocks PART or MATE; waits for Q2, BASE/Q2, PART or MATE/CLEARANCE; by YYYY-MM-DD"
QUESTION_HINT = f"QUESTION; {LINK_HINT}"
_LINK = re.compile(r"(?P<word>blocks|waits\s+for|by)\s+(?P<names>.+)", re.IGNORECASE)


def question_line(text: str) -> Line:
    """`which face is up?; blocks TURN; waits for BASE/Q2, PIER; by 2026-05-01`."""
    asked, *tail = (piece.strip() for piece in text.split(";"))
    if not asked or _LINK.fullmatch(asked):
        raise BadInput("a question is wanted, then what it blocks and waits for")
    fields = {"text": asked, **_links(tail)}
    return Line(fields, _words(fields, asked) or "Enter records it")


def link_line(text: str) -> Line:
    """`blocks TURN; waits for BASE/Q2, PIER; by 2026-05-01`; nothing written frees the question of all of it."""
    fields = _links([piece.strip() for piece in text.split(";")])
    return Line(fields, _words(fields) or "it blocks its own part alone, waits for nothing and has no day")


def link_words(question: Question) -> str:
    """What hangs on a question as the line that would say it."""
    return question.words


def _links(pieces: list[str]) -> dict[str, Any]:
    fields: dict[str, Any] = {"blocks": (), "waits": (), "due": ""}
    for piece in filter(None, pieces):
        found = _LINK.fullmatch(piece)
        if not found:
            raise BadInput(f"read {visible(piece)!r}; wanted {LINK_HINT}")
        names = tuple(name.strip() for name in found["names"].split(",") if name.strip())
        word = found["word"].split()[0].lower()
        if not names:
            raise BadInput(f"{word} what? wanted {LINK_HINT}")
        if word == "by":
            fields["due"] = _day(found["names"].strip())
        else:
            fields[word] = (*fields[word], *names)
    return fields


def _day(text: str) -> str:
    try:
        if date.fromisoformat(text).isoformat() == text:
            return text
    except ValueError:
        pass
    raise BadInput(f"read {visible(text)!r} as a day; wanted YYYY-MM-DD")


def _words(fields: dict[str, Any], asked: str = "") -> str:
    return Question("", asked, "", fields["blocks"], fields["waits"], fields["due"]).words
