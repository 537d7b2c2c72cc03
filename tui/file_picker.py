"""
Choosing files: the folder as a list, and a line that can be typed instead, which Tab completes.

Enter takes what is typed, else what is marked, else what is under the cursor; on a folder it goes into it. Where
several may be taken, the first row takes all of the folder, and Space marks some.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from ledger.domain.errors import BadInput
from ledger.domain.plural import counted
from tui.signs import said, tone

MOST_FILES = 500
_UP, _ALL = "..", "all"


class FilePicker(ModalScreen[tuple[str, ...] | None]):
    """The paths that were taken, or None for Escape."""

    DEFAULT_CSS = """
    FilePicker { align: center middle; }
    FilePicker > Vertical {
        width: 84; max-width: 96%; height: auto; max-height: 90%; background: $surface; padding: 1 2;
    }
    FilePicker OptionList { border: none; padding: 0; height: auto; max-height: 14; background: $surface; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        ("escape", "leave", "Back"),
        Binding("tab", "complete", "Complete", show=False, priority=True),
        ("space", "mark", "Mark"),
    ]

    def __init__(self, title: str, folder: Path, *, suffix: str = ".dxf", several: bool = False) -> None:
        super().__init__()
        self._title, self._suffix, self._several = title, suffix, several
        self._folder, self._start = folder, Path.cwd()
        self._files: list[Path] = []
        self._marked: set[Path] = set()

    def compose(self) -> ComposeResult:
        with Vertical():
            yield Static(said(self._title, "bold"))
            yield Input(id="line", select_on_focus=False)
            yield Static("", id="reading")
            yield OptionList(markup=False)
            more = ", Space marks" if self._several else ""
            yield Static(said(f"Enter takes, Tab completes{more}, Esc cancels"))

    def on_mount(self) -> None:
        self._go_to(self._folder)
        self.query_one(OptionList).focus()
        if not any(p.is_file() for p in self._files):
            self.query_one(Input).focus()

    def on_key(self, event: object) -> None:
        """What is typed while the list has the focus, or had it when it was typed, goes into the line."""
        character = getattr(event, "character", None)
        box = self.query_one(Input)
        if character and character.isprintable() and character != " ":
            box.focus()
            box.insert_text_at_cursor(character)

    def action_complete(self) -> None:
        """As much of the path as is common to all that begin so; into the list where that is no more."""
        box, listed = self.query_one(Input), self.query_one(OptionList)
        typed = box.value
        if not typed:
            (listed if box.has_focus else box).focus()
            return
        longer = completed(typed, self._start, self._suffix)
        if longer == typed:
            listed.focus()
        else:
            box.value = longer
            box.cursor_position = len(longer)
            box.focus()

    def action_mark(self) -> None:
        """Mark the file under the cursor, or no longer."""
        path = self._under_cursor
        if self._several and path is not None and path.is_file():
            self._marked.symmetric_difference_update({path})
            at = self.query_one(OptionList).highlighted or 0
            self._fill(min(at + 1, len(self._files)))

    def action_leave(self) -> None:
        self.dismiss(None)

    @on(Input.Submitted)
    def line_given(self, event: Input.Submitted) -> None:
        if not event.value.strip():
            self.row_selected()
            return
        path = self._typed(event.value)
        if path.is_dir():
            self.query_one(Input).value = ""
            self._go_to(path)
            self.query_one(OptionList).focus()
        elif path.is_file():
            self.dismiss((event.value.strip(),))
        else:
            self._say(f"no such file yet: {path}", fault=True)

    @on(OptionList.OptionSelected)
    def row_selected(self) -> None:
        at = self.query_one(OptionList).highlighted
        path = self._under_cursor
        if self._several and self._marked:
            self.dismiss(tuple(str(p) for p in sorted(self._marked)))
        elif self._several and at == 0 and self._drawings:
            self.dismiss(tuple(map(str, self._drawings)))
        elif path is not None and path.is_dir():
            self._go_to(path)
        elif path is not None:
            self.dismiss((str(path),))

    @on(Input.Changed)
    def line_changed(self, event: Input.Changed) -> None:
        path = self._typed(event.value) if event.value.strip() else None
        try:
            size = path.stat().st_size if path and path.is_file() else None
        except (OSError, ValueError):
            size = None
        if size is not None:
            self._say(f"{size} bytes")
        else:
            self._say("" if path is None or _is_folder(path) else "no such file yet", fault=True)

    @property
    def _drawings(self) -> list[Path]:
        return [p for p in self._files if p.is_file()]

    @property
    def _under_cursor(self) -> Path | None:
        at = self.query_one(OptionList).highlighted
        first = 1 if self._several and self._drawings else 0
        return self._files[at - first] if at is not None and 0 <= at - first < len(self._files) else None

    def _typed(self, text: str) -> Path:
        try:
            return self._start / Path(text.strip()).expanduser()
        except RuntimeError:  # no such home
            return self._start / text.strip()

    def _go_to(self, folder: Path) -> None:
        self._folder, self._marked = folder.absolute(), set()
        try:
            self._files = entries_of(self._folder, self._suffix)
        except OSError as fault:
            self._files = [self._folder.parent]
            self._say(f"cannot list {self._folder}: {fault.strerror}", fault=True)
        self._fill(0)

    def _fill(self, at: int) -> None:
        listed = self.query_one(OptionList)
        listed.clear_options()
        if self._several and self._drawings:
            listed.add_option(
                Option(said(f"all {counted(len(self._drawings), 'drawing')} of {self._folder}"))
            )
        for path in self._files:
            mark = "* " if path in self._marked else "  " if self._several else ""
            name = _UP if path == self._folder.parent else path.name + ("/" if path.is_dir() else "")
            listed.add_option(Option(said(f"{mark}{name}")))
        listed.highlighted = min(at, listed.option_count - 1)

    def _say(self, words: str, *, fault: bool = False) -> None:
        style = tone(self.app, "warning") if fault else ""
        self.query_one("#reading", Static).update(said(words, style))


def _is_folder(path: Path) -> bool:
    try:
        return path.is_dir()
    except (OSError, ValueError):
        return False


def entries_of(folder: Path, suffix: str) -> list[Path]:
    """The files of a folder with this suffix, then its folders and the one above. Raises OSError."""
    there = sorted((p for p in folder.iterdir() if not p.name.startswith(".")), key=lambda p: p.name.lower())
    files = [p for p in there if p.name.lower().endswith(suffix) and not p.is_dir()]
    return [*files[:MOST_FILES], *(p for p in there if p.is_dir()), folder.parent]


def completed(typed: str, start: Path, suffix: str) -> str:
    """What is typed, with all that every file and folder has in common whose name begins so; folders end in /."""
    at = max(typed.rfind(mark) for mark in ("/", os.sep)) + 1
    lead, stem = typed[:at], typed[at:]
    try:
        folder = start / Path(lead).expanduser()
        names = [
            p.name + ("/" if p.is_dir() else "")
            for p in folder.iterdir()
            if p.name.startswith(stem) and (p.is_dir() or p.name.lower().endswith(suffix))
        ]
    except (OSError, RuntimeError, ValueError):
        return typed
    common = names[0] if names else stem
    for name in names:
        while not name.startswith(common):
            common = common[:-1]
    return f"{lead}{common}"


def pick(
    show: Callable[[FilePicker, Callable[[tuple[str, ...] | None], None]], None],
    title: str,
    folder: Path,
    take: Callable[[tuple[str, ...]], None],
    *,
    several: bool = False,
    suffix: str = ".dxf",
) -> None:
    """Show a picker by `show` (a screen's `window`); `take` gets the paths unless the person leaves."""

    def taken(paths: tuple[str, ...] | None) -> None:
        if paths:
            take(paths)

    show(FilePicker(title, folder, suffix=suffix, several=several), taken)


def existing(path: str) -> Path:
    """The folder of a path that was taken. Raises BadInput where there is none."""
    folder = Path(path).expanduser().absolute().parent
    if not folder.is_dir():
        raise BadInput(f"there is no folder {folder}")
    return folder
