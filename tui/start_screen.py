"""The screen of a folder without a job: start one here, import one, or make the demo."""

from __future__ import annotations

from pathlib import Path
from typing import Any, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from ledger.domain.address import folder_of, shown
from ledger.domain.errors import BadInput
from tui.actions import bindings
from tui.frame import JobScreen
from tui.ways_screen import path_of

DEMO = "fitup-demo"


class StartScreen(JobScreen):
    """Three ways on; nothing is written before one is taken."""

    WHERE = "start"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]

    def body(self) -> ComposeResult:
        yield OptionList(
            Option("Start a job in this folder", id="start"),
            Option("Import an exported job", id="bring in"),
            Option(f"Make the demo in ./{DEMO} and open it", id="demo"),
            markup=False,
        )

    def on_mount(self) -> None:
        self.head(f"no job at {shown(self.fitup.place)}")
        self.query_one(OptionList).focus()

    @on(OptionList.OptionSelected)
    def chosen(self, event: OptionList.OptionSelected) -> None:
        if event.option_id == "demo":
            self.action_demo()
        elif event.option_id == "bring in":
            self.action_bring_in()
        else:
            self.action_new()

    def action_new(self) -> None:
        """Ask for a title, then start."""
        folder = folder_of(self.fitup.place).absolute().name
        hint = "such as Pier Observatory Works"
        self.enter(
            "firm, printed as legal owner", _title, self._start, value=folder, hint=hint, replaced=True
        )

    def action_demo(self) -> None:
        """Make the demo; it lies in a folder of its own."""
        self.ask(self._make_demo, self._opened, busy="making the demo, takes some seconds", group="change")

    def action_bring_in(self) -> None:
        """Ask for the exported folder or zip, then rebuild the job here."""

        def work(text: str) -> tuple[str, tuple[str, ...]]:
            from ledger.job import Job

            with Job.bring_in(self.fitup.place, path_of(text), lambda _name: "") as job:
                return self.fitup.place, job.left_out

        def done(found: tuple[str, tuple[str, ...]]) -> None:
            place, left_out = found
            self._opened(place)
            if left_out:
                self.notify("\n".join(left_out), severity="warning", timeout=30, markup=False)

        def take(text: str) -> None:
            self.ask(lambda: work(text), done, busy="importing the job", group="change")

        self.enter("exported job to import", _exported, take, hint="a folder or zip written by fitup export")

    def _start(self, title: str) -> None:
        def work() -> str:
            from ledger.job import Job

            Job.start(self.fitup.place, title, lambda _name: "").close()
            return self.fitup.place

        self.ask(work, self._opened, busy="starting the job", group="change")

    def _make_demo(self) -> str:
        from ledger.demo.walk import run_demo

        folder = Path(DEMO)
        if not (folder / "fitup.db").is_file():
            run_demo(folder, lambda _line: None)
        return str(folder / "fitup.db")

    def _opened(self, place: Any) -> None:
        from tui.parts_screen import PartsScreen

        self.fitup.place = place
        self.app.switch_screen(PartsScreen())


def _title(text: str) -> str:
    if not text.strip():
        raise BadInput("firm missing; enter its name")
    return f"firm: {text.strip()}"


def _exported(text: str) -> str:
    path = path_of(text)
    if not path.exists():
        raise BadInput("no such folder or file")
    return f"rebuilt from {path.absolute()}, to the same seal"
