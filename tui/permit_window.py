"""Accepting one finding in writing: a reason with its last day, who signs it, and a yes. And withdrawing it."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

from rich.text import Text

from ledger.domain.gate import NOT_PERMITTED
from ledger.words.forms import PERMIT
from ledger.words.permits import permit_line
from tui.choice_window import choose_person
from tui.entry_windows import Confirm
from tui.part_editor import words_expected
from tui.signs import said

if TYPE_CHECKING:
    from ledger.domain.finding import Finding
    from ledger.job import ToPermit
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
        def by(person: str) -> None:
            screen.ask(
                lambda: screen.job.to_permit(number, finding.code, finding.where),
                lambda found: _sure(screen, number, found, text, person),
                busy="looking",
                group="look",
            )

        choose_person(screen, "who permits it?", "signs the permit", by)

    place = f" at {finding.where}" if finding.where else ""
    screen.enter(
        f"reason to permit {finding.code}{place}",
        lambda t: permit_line(t, today).reading,
        because,
        hint=PERMIT.hint,
    )


def withdraw(screen: JobScreen, permit: int) -> None:
    """Withdraw the permit of this entry, at every part that it names: a reason, and who signs it."""

    def because(reason: str) -> None:
        def by(person: str) -> None:
            screen.ask(
                lambda: screen.job.withdraw_permit(permit, person, reason),
                screen.recorded,
                busy="signing",
                group="change",
            )

        choose_person(screen, "who withdraws it?", "signs", by)

    screen.enter("reason for withdrawing the permit", words_expected("a reason"), because)


def _sure(screen: JobScreen, number: str, found: ToPermit, text: str, person: str) -> None:
    finding, line = found.finding, permit_line(text)
    words = Text("\n").join(
        (
            said(f"{person} permits {finding.code} [{finding.where}] on {found.text}:", "bold"),
            said(finding.message),
            said(line.reading),
        )
    )

    def work() -> None:
        screen.job.permit(number, person, seen=found, code=finding.code, place=finding.where, **line.fields)

    def answered(yes: bool | None) -> None:
        if yes:
            screen.ask(work, screen.recorded, busy="signing", group="change")

    screen.window(Confirm(words, "Permit"), answered)
