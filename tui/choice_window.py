"""A small window that offers a few ways on and gives back the one that was taken, or None for Escape."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from tui.frame import ASIDE
from tui.signs import said

if TYPE_CHECKING:
    from tui.frame import JobScreen


class Choose(ModalScreen[str | None]):
    """One of a few: `ways` are the words to show by the value that each gives back."""

    DEFAULT_CSS = """
    Choose { align: left bottom; }
    Choose > Vertical { width: 72; max-width: 100%; height: auto; max-height: 90%; background: $surface; padding: 0 2; }
    Choose OptionList { border: none; padding: 0; height: auto; max-height: 14; background: $surface; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [("escape", "leave", "Back")]

    def __init__(self, title: str, ways: Mapping[str, str], *, chosen: str = "") -> None:
        super().__init__()
        self._title, self._ways, self._chosen = title, dict(ways), chosen

    def compose(self) -> ComposeResult:
        with Vertical():
            yield Static(said(self._title, "bold"))
            yield OptionList(*(Option(said(words)) for words in self._ways.values()), markup=False)
            yield Static("Enter accepts, Esc cancels")

    def on_mount(self) -> None:
        listed = self.query_one(OptionList)
        known = list(self._ways)
        listed.highlighted = known.index(self._chosen) if self._chosen in known else 0
        listed.focus()

    @on(OptionList.OptionSelected)
    def take_it(self, event: OptionList.OptionSelected) -> None:
        self.dismiss(list(self._ways)[event.option_index])

    def action_leave(self) -> None:
        self.dismiss(None)


class MarkSome(ModalScreen[tuple[str, ...] | None]):
    """Some of several: the values of the rows that are marked when Enter is pressed, or None for Escape."""

    DEFAULT_CSS = """
    MarkSome { align: center middle; }
    MarkSome > Vertical {
        width: 96; max-width: 96%; height: auto; max-height: 90%; background: $surface; padding: 1 2;
    }
    MarkSome OptionList { border: none; padding: 0; height: auto; max-height: 14; background: $surface; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [("escape", "leave", "Back"), ("space", "mark", "Mark")]

    def __init__(self, title: str, ways: Mapping[str, str], *, marked: Collection[str] = ()) -> None:
        super().__init__()
        self._title, self._ways, self._marked = title, dict(ways), set(marked)

    def compose(self) -> ComposeResult:
        with Vertical():
            yield Static(said(self._title, "bold"))
            yield OptionList(markup=False)
            yield Static("Space marks, Enter accepts, Esc cancels")

    def on_mount(self) -> None:
        self._fill(0)
        self.query_one(OptionList).focus()

    def action_mark(self) -> None:
        """Mark the row under the cursor, or no longer."""
        at = self.query_one(OptionList).highlighted or 0
        self._marked.symmetric_difference_update({list(self._ways)[at]})
        self._fill(at)

    @on(OptionList.OptionSelected)
    def take_them(self) -> None:
        self.dismiss(tuple(way for way in self._ways if way in self._marked))

    def action_leave(self) -> None:
        self.dismiss(None)

    def _fill(self, at: int) -> None:
        listed = self.query_one(OptionList)
        listed.clear_options()
        listed.add_options(
            [
                Option(said(f"{'[x]' if way in self._marked else '[ ]'} {words}"))
                for way, words in self._ways.items()
            ]
        )
        listed.highlighted = at


def choose_person(screen: JobScreen, title: str, does: str, take: Callable[[str], None]) -> None:
    """Which of the people who hold a key does it; `take` gets the name unless the person at the screen leaves."""

    def offered(people: tuple[tuple[str, tuple[str, ...], str], ...]) -> None:
        ways = {name: f"{name} {does}" for name, _roles, key in people if key}
        if ways:
            screen.window(Choose(title, ways), lambda name: take(name) if name is not None else None)
        else:
            screen.tell(
                "nobody is enrolled with a key, and this needs a signature: enroll a person first", fault=True
            )

    screen.ask(screen.job.people, offered, group=ASIDE)
