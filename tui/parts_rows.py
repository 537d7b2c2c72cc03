"""A row of the first screen: a part, its verdict once it is known, and its cells."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rich.text import Text

from tui.signs import Signs, said, tone, verdict_words

if TYPE_CHECKING:
    from textual.app import App

    from ledger.domain.gate import Verdict
    from ledger.domain.record import Part

TITLE_WIDTH = 30


@dataclass
class Row:
    """A part and, once it is known, its verdict or why there is none."""

    part: Part
    verdict: Verdict | None = None
    fault: str = ""

    @property
    def order(self) -> tuple[int, str]:
        """Most stops first; what is not judged yet behind."""
        return (-(len(self.verdict.stops) if self.verdict else -1), self.part.number)

    def matches(self, words: str) -> bool:
        """Whether number, title or verdict hold every one of these words."""
        verdict = "" if self.verdict is None else "GO" if self.verdict.go else "NO-GO"
        line = f"{self.part.number} {self.part.title} {verdict}".lower()
        return all(word in line for word in words.lower().split())

    def cells(self, app: App[object] | App[None], signs: Signs, *, marked: bool) -> tuple[Text, ...]:
        """Mark, number, revision, verdict, stops, warnings, title."""
        part, verdict = self.part, self.verdict
        shown, counts = Text(signs.wait), ("", "")
        if verdict:
            colour = tone(app, "success" if verdict.go else "error")
            shown = Text(verdict_words(signs, go=verdict.go), style=colour)
            counts = (str(len(verdict.stops)), str(len(verdict.warnings)))
        elif self.fault:
            shown = Text(f"{signs.no_go} failed", style=tone(app, "error"))
        title = said(part.title, most=TITLE_WIDTH)
        if part.locked:
            title = Text("(locked) ") + title
        mark = Text(signs.chosen if marked else " ")
        return (mark, said(part.number, most=20), said(part.revision), shown, *map(Text, counts), title)
