"""
Small windows that ask for one thing: a line, a passphrase, a yes. Each gives back a value, or None for Escape.

A line shows how it is read while it is typed, and is not taken while it cannot be read. One that was left with Escape
is there again when the same is asked for.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.screen import ModalScreen
from textual.widgets import Button, Input, Static

from ledger.domain.errors import BadInput
from tui.signs import said, tone

Read = Callable[[str], str]

_WINDOW = """
    align: left bottom;
    & > Vertical { width: 72; max-width: 100%; height: auto; max-height: 90%;
                   background: $surface; padding: 0 2; }
    & .buttons { height: auto; }
    & Button { margin: 0 2 0 0; }
"""


class LineEntry(ModalScreen[str | None]):
    """One line with a live reading. `read` gives the reading, or raises BadInput."""

    DEFAULT_CSS = f"LineEntry {{ {_WINDOW} }}"
    BINDINGS: ClassVar[list[BindingType]] = [("escape", "leave", "Back")]

    def __init__(
        self,
        title: str,
        read: Read,
        *,
        value: str = "",
        hint: str = "",
        fault: str = "",
        replaced: bool = False,
        left: Callable[[str], None] | None = None,
    ) -> None:
        super().__init__()
        self._fault, self._left, self._replaced = fault, left, replaced
        self._title, self._read, self._value, self._hint = title, read, value, hint

    def compose(self) -> ComposeResult:
        with Vertical():
            yield Static(said(self._title, "bold"))
            yield Input(value=self._value, id="line", select_on_focus=self._replaced)
            yield Static("", id="reading")
            yield Static(said(self._hint or "Enter accepts, Esc cancels"))

    @on(Input.Changed)
    def read_it(self, event: Input.Changed) -> None:
        self._show(event.value)

    @on(Input.Submitted)
    def take_it(self, event: Input.Submitted) -> None:
        if self._show(event.value):
            self.dismiss(event.value)

    def action_leave(self) -> None:
        line = self.query_one(Input).value
        if self._left is not None:
            self._left(line if line != self._value else "")
        self.dismiss(None)

    def _show(self, line: str) -> bool:
        """Whether the line can be read; shows how. What the job refused is shown until another line is typed."""
        if self._fault and line == self._value:
            self.query_one("#reading", Static).update(said(self._fault, tone(self.app, "error")))
            return True
        try:
            text, good = said(self._read(line)), True
        except BadInput as fault:
            text, good = said(fault, tone(self.app, "warning")), False
        self.query_one("#reading", Static).update(text)
        return good


class Passphrase(ModalScreen[str | None]):
    """
    A passphrase, hidden while it is typed; for a new key it is typed twice.

    Enter is taken where keys come in, before those behind it are handed to a field: so what is typed ahead goes into
    the second field. A field is read once it has taken in what was typed into it.
    """

    DEFAULT_CSS = f"Passphrase {{ {_WINDOW} }}"
    BINDINGS: ClassVar[list[BindingType]] = [
        ("escape", "leave", "Back"),
        Binding("enter", "next", "Next", show=False, priority=True),
    ]

    def __init__(self, person: str, *, new: bool = False) -> None:
        super().__init__()
        self._person, self._new = person, new
        self._ending = False

    def compose(self) -> ComposeResult:
        with Vertical():
            yield Static(said(f"passphrase of {self._person}", "bold"))
            yield Input(password=True, id="passphrase")
            if self._new:
                yield Static("type it again")
                yield Input(password=True, id="again")
            yield Static("asked once a session; Esc cancels", id="told")

    def action_next(self) -> None:
        """On to the second field, or done."""
        first, *more = self.query(Input)
        again = more[0] if more else first
        if self.focused is not again:
            self.set_focus(again)
        elif not self._ending:
            self._ending = True
            again.call_later(lambda: first.call_later(self._end, again.value))

    def _end(self, typed_again: str) -> None:
        first, *more = self.query(Input)
        if first.value == typed_again:
            self.dismiss(first.value)
            return
        for field in (first, *more):
            field.value = ""
        self.set_focus(first)
        self._ending = False
        self.query_one("#told", Static).update("the two entries differ; type both again")

    def action_leave(self) -> None:
        self.dismiss(None)


class Confirm(ModalScreen[bool]):
    """A yes that takes two keys: the way back has the focus."""

    DEFAULT_CSS = f"Confirm {{ {_WINDOW} }}"
    BINDINGS: ClassVar[list[BindingType]] = [("escape", "leave", "Back")]

    def __init__(self, text: Text, yes: str) -> None:
        super().__init__()
        self._text, self._yes = text, yes

    def compose(self) -> ComposeResult:
        with Vertical():
            yield Static(self._text)
            with Horizontal(classes="buttons"):
                yield Button("Back", id="no")
                yield Button(Text(self._yes), id="yes")
            yield Static("Tab switches buttons")

    @on(Button.Pressed)
    def chosen(self, event: Button.Pressed) -> None:
        self.dismiss(event.button.id == "yes")

    def action_leave(self) -> None:
        self.dismiss(False)  # noqa: FBT003 - the answer
