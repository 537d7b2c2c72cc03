"""
A list of what can be written or looked at, each row a way; a file that is there is kept without a yes.

Papers, pictures and exports ask for a place first; what a way finds is shown below the list.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import ClassVar

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import VerticalScroll
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from ledger.domain.address import folder_of
from ledger.domain.errors import BadInput
from tui.entry_windows import Confirm
from tui.frame import JobScreen
from tui.signs import said

Make = Callable[[Path], bytes]
Way = tuple[str, Callable[[], None]]


class WaysScreen(JobScreen):
    """A list of ways. `_offers` gives them, `_title` says what of."""

    BINDINGS: ClassVar[list[BindingType]] = []
    DEFAULT_CSS = """
    WaysScreen OptionList { height: auto; max-height: 60%; }
    WaysScreen VerticalScroll { height: 1fr; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._ways: tuple[Way, ...] = ()

    def body(self) -> ComposeResult:
        self._ways = tuple(self._offers())
        yield OptionList(*(Option(said(words)) for words, _way in self._ways), markup=False)
        with VerticalScroll():
            yield Static("", id="found")

    def on_mount(self) -> None:
        self.head(self._title())
        listed = self.query_one(OptionList)
        listed.highlighted = 0
        listed.focus()

    def action_open(self) -> None:
        """Go the way under the cursor."""
        at = self.query_one(OptionList).highlighted
        if at is not None and at < len(self._ways):
            self._ways[at][1]()

    @on(OptionList.OptionSelected)
    def row_selected(self) -> None:
        self.action_open()

    def _title(self) -> str:
        raise NotImplementedError

    def _offers(self) -> list[Way]:
        raise NotImplementedError

    def _found(self, lines: Text) -> None:
        self.query_one("#found", Static).update(lines)

    def _paper(self, words: str, name: str, make: Make) -> None:
        def take(text: str) -> None:
            path = path_of(text)
            if not os.path.lexists(path):
                self._write(path, make)
                return
            question = Confirm(said(f"{path} exists already: overwrite it?", "bold"), "Overwrite")
            self.window(
                question,
                lambda yes: self._write(path, make) if yes else self.tell("cancelled; nothing changed"),
            )

        self.enter(f"{words}: file to write", file_line, take, value=str(self._beside() / plain(name)))

    def _write(self, path: Path, make: Make) -> None:
        def work() -> Path:
            from ledger.files import write_whole

            write_whole(path, make(path))
            return path.absolute()

        self.ask(work, lambda made: self.tell(f"written: {made}"), busy="writing", group="change")

    def _beside(self) -> Path:
        return folder_of(self.fitup.place)


def path_of(text: str) -> Path:
    """What was typed, as a path. Raises BadInput."""
    if not text.strip() or "\0" in text:
        raise BadInput("a path is required")
    return Path(text.strip()).expanduser()


def file_line(text: str) -> str:
    """How a file to write to is read. Raises BadInput."""
    path = path_of(text)
    if path.is_dir():
        raise BadInput("that is a folder; expected a file name in it")
    if not path.absolute().parent.is_dir():
        raise BadInput(f"there is no folder {path.absolute().parent}")
    return "the file exists already: fitup asks before overwriting it" if path.exists() else "a new file"


def plain(name: str) -> str:
    """A file name without what a folder could be read from."""
    return "".join(c if c.isalnum() or c in "-_. " else "_" for c in name)
