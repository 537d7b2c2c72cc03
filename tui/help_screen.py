"""The help: every action of the screen below, to be searched by typing and run with Enter."""

from __future__ import annotations

from typing import ClassVar

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from tui.actions import Action, actions_at


class HelpScreen(ModalScreen[str | None]):
    """The name of the action to run, or None."""

    DEFAULT_CSS = """
    HelpScreen { align: center middle; }
    HelpScreen > Vertical { width: 60; max-width: 96%; height: 90%; background: $surface; padding: 1 2; }
    HelpScreen OptionList { height: 1fr; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [("escape", "leave", "Back"), ("down", "into", "Down")]

    def __init__(self, where: str) -> None:
        super().__init__()
        self._actions = actions_at(where)

    def compose(self) -> ComposeResult:
        with Vertical():
            yield Static("keys on this screen: type to search, Enter runs the first")
            yield Input(placeholder="search", id="search")
            yield OptionList(id="actions", markup=False)

    def on_mount(self) -> None:
        self._fill("")

    @on(Input.Changed)
    def search(self, event: Input.Changed) -> None:
        self._fill(event.value)

    @on(Input.Submitted)
    def run_first(self) -> None:
        found = self.query_one(OptionList)
        if found.option_count:
            self.dismiss(found.get_option_at_index(found.highlighted or 0).id)

    @on(OptionList.OptionSelected)
    def run_chosen(self, event: OptionList.OptionSelected) -> None:
        self.dismiss(event.option_id)

    def action_into(self) -> None:
        self.query_one(OptionList).focus()

    def action_leave(self) -> None:
        self.dismiss(None)

    def _fill(self, words: str) -> None:
        found = self.query_one(OptionList)
        found.clear_options()
        found.add_options([Option(_line(a), id=a.name) for a in self._actions if _matches(a, words)])
        if found.option_count:
            found.highlighted = 0


def _matches(action: Action, words: str) -> bool:
    line = f"{action.shown_key} {action.label}".lower()
    return all(word in line for word in words.lower().split())


def _line(action: Action) -> Text:
    return Text(f"{action.shown_key:<8} {action.label}")
