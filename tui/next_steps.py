"""The panel over the table of parts: the few steps that unblock the most parts, each opened by Enter or a click."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from tui.next_window import step_words
from tui.signs import said

if TYPE_CHECKING:
    from ledger.domain.next_steps import Step

_SHOWN = 3


class NextSteps(OptionList):
    """At most three steps; gone where there are none."""

    DEFAULT_CSS = """
    NextSteps { height: auto; max-height: 5; display: none; text-wrap: nowrap; text-overflow: ellipsis; }
    NextSteps.any { display: block; }
    """

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - textual's own word
        super().__init__(id=id, markup=False)
        self.steps: tuple[Step, ...] = ()
        self.border_title = "next (f)"

    def show(self, steps: tuple[Step, ...]) -> None:
        """These steps, the first of them."""
        self.steps = steps[:_SHOWN]
        self.set_class(bool(self.steps), "any")
        self.styles.height = len(self.steps) + 2  # and its frame
        self.clear_options()
        wide = max((len(step.part) for step in self.steps), default=0)
        for place, step in enumerate(self.steps, 1):
            text = Text().append(f"{place} ").append_text(said(f"{step.part:<{wide}}  ", "bold"))
            text.append(f"unblocks {len(step.frees)}  " if len(step.frees) > 1 else "")
            self.add_option(Option(text.append_text(said(step_words(step)))))
