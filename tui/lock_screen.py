"""
Locking: the verdicts of the set, by whom, where to, and the number of its parts typed out.

It cannot be undone, so that nothing but the typed number starts it; afterwards the packet's place is shown.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import VerticalScroll
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from ledger.domain.address import folder_of
from ledger.domain.errors import BadInput
from ledger.domain.plural import counted
from tui.actions import bindings
from tui.frame import JobScreen
from tui.signs import finding_lines, said, verdict_words

if TYPE_CHECKING:
    from ledger.domain.verdict import Verdict


class LockScreen(JobScreen):
    """Lock a set of parts."""

    WHERE = "lock"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]
    DEFAULT_CSS = """
    LockScreen #what { height: 1fr; padding: 0 1; }
    LockScreen #who { height: auto; max-height: 7; }
    """

    def __init__(self, numbers: tuple[str, ...]) -> None:
        super().__init__()
        self.numbers = numbers
        self.verdicts: tuple[Verdict, ...] = ()
        self._people: tuple[str, ...] = ()
        self._made: Text | None = None

    def body(self) -> ComposeResult:
        with VerticalScroll(id="what"):
            yield Static("", id="subject")
        yield OptionList(id="who", markup=False)

    def on_mount(self) -> None:
        self.head(f"lock {', '.join(self.numbers)}")
        self.query_one(OptionList).focus()

    @property
    def expected(self) -> str:
        """What will be locked."""
        return ", ".join(f"{v.part} {v.revision}" for v in self.verdicts)

    def refreshed(self) -> None:
        self.ask(self._look, self._show, busy="checking")

    def action_open(self) -> None:
        """Lock as the person under the cursor."""
        at = self.query_one(OptionList).highlighted
        if at is None or at >= len(self._people):
            return
        if any(not v.go for v in self.verdicts):
            self.tell("NO-GO: cannot be locked until the stops above are fixed", fault=True)
            return
        self._type_it(self._people[at])

    @on(OptionList.OptionSelected, "#who")
    def row_selected(self) -> None:
        self.action_open()

    def _look(self) -> tuple[Any, ...]:
        return self.job.verdicts(self.numbers), self.job.people()

    def _show(self, value: Any) -> None:
        self.verdicts, people = value
        self.query_one("#subject", Static).update(self._made or Text("\n").join(self._subject()))
        self._people = () if self._made else tuple(name for name, _roles, _key in people)
        listed = self.query_one(OptionList)
        listed.clear_options()
        listed.add_options([Option(said(f"{name} locks")) for name in self._people])
        listed.highlighted = 0 if self._people else None
        if self._made:
            self.tell(
                "locked; packet and DXF files are in the folder above; the packet's path is on the clipboard"
            )

    def _subject(self) -> Iterator[Text]:
        for v in self.verdicts:
            words = verdict_words(self.signs, go=v.go)
            yield said(f"{v.part} revision {v.revision}: {words}   fingerprint {v.subject[:12]}", "bold")
            for text, _ in finding_lines(self.app, self.signs, (*v.stops, *v.warnings)):
                yield Text("  ").append_text(text)
            if v.signed:
                yield said(f"  signed: {', '.join(f'{s.role} by {s.person}' for s in v.signed)}")
        matters = list(dict.fromkeys(m for v in self.verdicts for m in v.not_checked))
        yield said("not checked:", "bold")
        yield from (said(f"- {matter}") for matter in matters)

    def _type_it(self, person: str) -> None:
        many = len(self.verdicts)

        def read(text: str) -> str:
            if text.strip() != str(many):
                raise BadInput(f"expected {many}: {self.expected}")
            return f"locks {self.expected}; Enter continues to the folder"

        def take(_text: str) -> None:
            self._where(person)

        self.enter(
            f"to lock {counted(many, 'part')}, type {many}",
            read,
            take,
            hint=f"{self.expected}: a locked revision never changes again",
        )

    def _where(self, person: str) -> None:
        place = str(folder_of(self.fitup.place) / "out")

        def read(text: str) -> str:
            if not text.strip():
                raise BadInput("a folder is required")
            return f"packet and DXF files go to {Path(text.strip()).absolute()}"

        self.enter("folder for the packet", read, lambda text: self._lock(person, text.strip()), value=place)

    def _lock(self, person: str, out: str) -> None:
        work = lambda: self.job.lock(self.numbers, person, Path(out))  # noqa: E731 - one call
        self.ask(work, self._locked, busy="locking", group="change")

    def _locked(self, made: Any) -> None:
        lines = (
            f"locked: {self.expected}",
            f"packet: {made.packet}",
            f"folder: {made.folder}",
            f"seal:   {made.seal}",
        )
        self._made = Text("\n").join(said(line) for line in lines)
        self.app.copy_to_clipboard(str(made.packet))
        self.refreshed()
