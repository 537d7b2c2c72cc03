"""What changed of a part: since each person last signed it, and from revision to revision."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import VerticalScroll
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from tui.actions import bindings
from tui.frame import JobScreen
from tui.signs import said

if TYPE_CHECKING:
    from ledger.job import Between, Since

MOST_LINES = 500


class ChangesScreen(JobScreen):
    """Each step of a part as one row; what changed in the one under the cursor is below."""

    WHERE = "changes"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]
    DEFAULT_CSS = """
    ChangesScreen #steps { height: auto; max-height: 50%; }
    ChangesScreen #one { height: 1fr; padding: 0 1; background: $panel; }
    """

    def __init__(self, number: str) -> None:
        super().__init__()
        self.number = number
        self.steps: tuple[Since | Between, ...] = ()

    def body(self) -> ComposeResult:
        yield OptionList(id="steps", markup=False)
        with VerticalScroll(id="one"):
            yield Static("", id="detail")

    def on_mount(self) -> None:
        self.head(f"{self.number}: what changed")
        self.query_one(OptionList).focus()

    def refreshed(self) -> None:
        self.ask(lambda: self.job.changes_told(self.number), self._show, busy="comparing")

    @on(OptionList.OptionHighlighted, "#steps")
    def row_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        if event.option_index < len(self.steps):
            self.query_one("#detail", Static).update(change_lines(self.steps[event.option_index]))

    def _show(self, story: Any) -> None:
        self.steps = (*story.since, *story.steps)
        listed = self.query_one(OptionList)
        at = listed.highlighted or 0
        listed.clear_options()
        listed.add_options([Option(said(step.words)) for step in self.steps])
        listed.highlighted = min(at, len(self.steps) - 1)


def change_lines(step: Since | Between) -> Text:
    """Every change of a step, a line each."""
    lines = [said(c.words) for c in step.changes[:MOST_LINES]]
    if len(step.changes) > MOST_LINES:
        lines.append(
            said(f"{len(step.changes) - MOST_LINES} more; see all with: fitup changes {step.number}")
        )
    return Text("\n").join(lines or [said("nothing to compare, or nothing changed")])
