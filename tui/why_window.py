"""A window with everything known of a finding: what is wrong, the sum behind its number, every fix, its source."""

from __future__ import annotations

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
    from ledger.domain.finding import Why


class WhyWindow(ModalScreen[None]):
    """Read-only; Esc or Enter closes it."""

    DEFAULT_CSS = """
    WhyWindow { align: center middle; }
    WhyWindow > VerticalScroll {
        width: 100; max-width: 96%; height: auto; max-height: 90%; background: $surface; padding: 1 2;
    }
    WhyWindow Static { height: auto; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [("escape", "leave", "Back"), ("enter", "leave", "Back")]

    def __init__(self, why: Why) -> None:
        super().__init__()
        self._why = why

    def compose(self) -> ComposeResult:
        with VerticalScroll():
            yield Static(Text("\n").join(said(line) for line in why_lines(self._why)))
            yield Static(said("Esc closes", "dim"))

    def on_mount(self) -> None:
        self.query_one(VerticalScroll).focus()

    def action_leave(self) -> None:
        self.dismiss(None)
