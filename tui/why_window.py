"""A window with everything known of a finding: what is wrong, the sum behind its number, every fix, its source."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from ledger.words.verdicts import why_lines
from tui.signs import said

if TYPE_CHECKING:
    from ledger.domain.finding import Finding
    from tui.frame import JobScreen


class LinesWindow(ModalScreen[None]):
    """Lines to read; Esc or Enter closes it."""

    DEFAULT_CSS = """
    LinesWindow { align: center middle; }
    LinesWindow > VerticalScroll {
        width: 100; max-width: 96%; height: auto; max-height: 90%; background: $surface; padding: 1 2;
    }
    LinesWindow Static { height: auto; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [("escape", "leave", "Back"), ("enter", "leave", "Back")]

    def __init__(self, lines: Iterable[str]) -> None:
        super().__init__()
        self._lines = tuple(lines)

    def compose(self) -> ComposeResult:
        with VerticalScroll():
            yield Static(Text("\n").join(said(line) for line in self._lines))
            yield Static(said("Esc closes"))

    def on_mount(self) -> None:
        self.query_one(VerticalScroll).focus()

    def action_leave(self) -> None:
        self.dismiss(None)


def show_why(screen: JobScreen, number: str, finding: Finding) -> None:
    """Everything known of a finding of this part, in a window."""

    def show(why: object) -> None:
        screen.window(LinesWindow(why_lines(why)), lambda _closed: None)  # type: ignore[arg-type]  # what `why` gave

    screen.ask(lambda: screen.job.why(number, finding.code), show)
