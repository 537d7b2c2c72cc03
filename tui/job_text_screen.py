"""The job as text: written to a file to be edited anywhere; read back, looked at line by line, then recorded."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.widgets import Input, OptionList
from textual.widgets.option_list import Option

from ledger.domain.plural import counted
from tui.actions import bindings
from tui.entry_windows import Confirm
from tui.frame import JobScreen
from tui.signs import said

if TYPE_CHECKING:
    from ledger.job import Outcome


class JobTextScreen(JobScreen):
    """What a text of the job would change."""

    WHERE = "text"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]
    DEFAULT_CSS = """
    JobTextScreen #path { height: 1; border: none; }
    JobTextScreen #changes { height: 1fr; }
    """

    def __init__(self) -> None:
        super().__init__()
        self.found: Outcome | None = None
        self._data = b""

    def body(self) -> ComposeResult:
        yield Input(value="job.toml", placeholder="path of the text, such as job.toml, then Enter", id="path")
        yield OptionList(id="changes", markup=False)

    def on_mount(self) -> None:
        self.head("the job as text: nothing read yet")
        self.query_one("#changes").focus()
        self.tell("w writes the text to this file, r reads it, F names another")

    def leave(self) -> None:
        """Out of the path, then back."""
        changes = self.query_one("#changes")
        if changes.has_focus:
            self.fitup.one_back()
        else:
            changes.focus()

    def action_path(self) -> None:
        """Name a file."""
        self.query_one("#path").focus()

    def action_write(self) -> None:
        """Write the text of the job to the file; one that is there keeps its comments."""
        path, workstation = self._path(), self.fitup.workstation

        def written() -> str:
            from ledger.files import read_regular, write_whole

            old = read_regular(path) if path.is_file() else b""
            write_whole(path, self.job.text(old, path.parent, by=workstation).encode())
            return f"written: {path}; edit it, then r reads it"

        self.ask(written, self._told, busy="writing the text", group="change")

    @on(Input.Submitted, "#path")
    def path_given(self) -> None:
        self.action_again()

    def action_again(self) -> None:
        """Look at what the text would change."""
        path, workstation = self._path(), self.fitup.workstation
        self._data, self.found = b"", None
        self.query_one("#changes", OptionList).clear_options()

        def looked() -> tuple[bytes, Outcome]:
            from ledger.files import read_regular

            data = read_regular(path)
            return data, self.job.look_at_text(data, path.parent, by=workstation)

        self.ask(looked, self._show, busy="reading the text")

    def action_record(self) -> None:
        """Record what the text changes, all of it."""
        found = self.found
        if found is None or not found.changes:
            self.tell("nothing to record: r reads the file", fault=True)
            return
        many = counted(len(found.changes), "change")

        def answered(yes: bool | None) -> None:
            if yes:
                data, beside, workstation = self._data, self._path().parent, self.fitup.workstation
                record = partial(self.job.record_text, data, beside, by=workstation)
                self.ask(record, self._recorded, busy="recording", group="change")

        self.window(
            Confirm(Text().append_text(said(f"record {many} from this text?", "bold")), "Record"), answered
        )

    def _path(self) -> Path:
        return Path(self.query_one("#path", Input).value.strip() or "job.toml").expanduser()

    def _told(self, words: Any) -> None:
        self.tell(str(words))
        self.query_one("#changes").focus()

    def _show(self, value: Any) -> None:
        self._data, self.found = value
        changes = value[1].changes
        many = counted(len(changes), "change")
        self.head(f"the job as text: {many if changes else 'the job is as the file says'}")
        listed = self.query_one("#changes", OptionList)
        listed.clear_options()
        listed.add_options([Option(said(change.words)) for change in changes])
        listed.highlighted = 0 if changes else None
        listed.focus()
        self.tell("Ctrl+S records all of it" if changes else "")

    def _recorded(self, value: Any) -> None:
        many = counted(len(value.changes), "change")
        self.found = None
        self.query_one("#changes", OptionList).clear_options()
        self.head("the job as text: recorded")
        self.tell(f"{many} recorded")
