"""Accepting one finding in writing: a reason with its last day, who signs it, and a yes."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

from rich.text import Text

from ledger.domain.gate import NOT_PERMITTED
from tui.choice_window import choose_person
from tui.entry_windows import Confirm
from tui.record_lines import permit_line
from tui.signs import said

if TYPE_CHECKING:
    from ledger.domain.finding import Finding
    from tui.frame import JobScreen


def permit(screen: JobScreen, number: str, finding: Finding) -> None:
    """Permit this finding on the open revision of a part, where the gate takes permits for it."""
    if finding.code in NOT_PERMITTED:
        screen.tell(f"{finding.code} cannot be permitted: something was not done; do it first", fault=True)
        return
    if finding.severity == "note":
        screen.tell("a note needs no permit", fault=True)
        return

    today = datetime.now(UTC).date().isoformat()

    def because(text: str) -> None:
        choose_person(
            screen,
            "who permits it?",
            "signs the permit",
            lambda person: _sure(screen, number, finding, text, person),
        )

    place = f" at {finding.where}" if finding.where else ""
    hint = (
        "REASON, up to VALUE, until YYYY-MM-DD   such as: trimmed on site, up to 240.5 mm, until 2026-06-30"
    )
    screen.enter(
        f"reason to permit {finding.code}{place}", lambda t: permit_line(t, today).reading, because, hint=hint
    )


def _sure(screen: JobScreen, number: str, finding: Finding, text: str, person: str) -> None:
    line = permit_line(text)
    words = Text("\n").join(
        (
            said(f"{person} permits {finding.code} [{finding.where}] on {number}:", "bold"),
            said(finding.message),
            said(line.reading),
        )
    )

    def work() -> None:
        screen.job.permit(number, person, code=finding.code, place=finding.where, **line.fields)

    def answered(yes: bool | None) -> None:
        if yes:
            screen.ask(work, screen.recorded, busy="signing", group="change")

    screen.window(Confirm(words, "Permit"), answered)
