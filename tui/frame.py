"""
What every screen has: a line that says what is going on, and a way to ask the job without freezing.

`ask` does its work in a thread, which only posts a message; the handler alone touches widgets. A work that fails
becomes a line on the screen, is logged, and never ends the program. Reading that takes longer than a moment is shown
so, and Escape leaves it; writing is not left half way. Where a key is required, its passphrase is asked for and the
work is done again, so that nobody holds the job while typing. What another workstation records is told at the foot, and
the screen is shown afresh once nothing is being typed over it.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from traceback import format_exception
from typing import TYPE_CHECKING, Any, TypeVar, cast

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.message import Message
from textual.screen import ModalScreen, Screen
from textual.timer import Timer
from textual.widgets import DataTable, Footer, OptionList, Static
from textual.worker import get_current_worker

from ledger.domain.errors import BadInput, FitupError, visible
from tui.entry_windows import Confirm, LineEntry, Passphrase, Read
from tui.signs import Signs, said, tone

if TYPE_CHECKING:
    from textual.widget import Widget

    from ledger.job import Job, Written
    from tui.app import Fitup

Work = Callable[[], Any]
Then = Callable[[Any], None]
Entry = tuple[str, Read, Callable[[str], None], str, str]
Answer = TypeVar("Answer")
NARROW, WIDE = "-narrow", "-wide"
SHOWN_AFTER_S = 0.15  # a shorter wait is no news
_READING = "ask"
ASIDE = "aside"  # reading for a window, beside what the screen itself reads
_WIDE_FROM = 100


class PassphraseRequired(BadInput):
    """A key is closed and its passphrase has not been typed yet."""

    def __init__(self, person: str) -> None:
        super().__init__("a passphrase is required")
        self.person = person


class JobScreen(Screen[None]):
    """A screen of the job. `body` composes what is between the title and the line at the foot."""

    HORIZONTAL_BREAKPOINTS = [(0, NARROW), (_WIDE_FROM, WIDE)]  # noqa: RUF012 - textual's own way
    DEFAULT_CSS = """
    JobScreen #heading { height: 1; background: $panel; color: $foreground; text-style: bold; }
    JobScreen OptionList { border: none; padding: 0; background: $background; scrollbar-gutter: stable; }
    JobScreen OptionList:focus { border: none; }
    JobScreen #told { height: auto; max-height: 4; }
    """

    class Answered(Message):
        """Work that came out well."""

        def __init__(self, value: Any, then: Then) -> None:
            super().__init__()
            self.value, self.then = value, then

    class Refused(Message):
        """Work that did not, and how to do it again."""

        def __init__(self, fault: Exception, work: Work, then: Then) -> None:
            super().__init__()
            self.fault, self.work, self.then = fault, work, then

    def __init__(self) -> None:
        super().__init__()
        self._busy = ""
        self._busy_shown = False
        self._wait: Timer | None = None
        self._under_window = False
        self._behind = False
        self._entered: tuple[Entry, str] | None = None  # what was typed last, until the job has taken it
        self._fault = ""

    def compose(self) -> ComposeResult:
        yield Static("", id="heading")
        yield from self.body()
        yield Static("", id="told")
        yield Footer(compact=True, show_command_palette=False)

    def body(self) -> ComposeResult:
        """The widgets of this screen."""
        yield from ()

    @property
    def fitup(self) -> Fitup:
        """The program."""
        return cast("Fitup", self.app)

    @property
    def job(self) -> Job:
        """The open job. Raises BadInput before it is open."""
        return self.fitup.open_job()

    @property
    def signs(self) -> Signs:
        """What this terminal can show."""
        return self.fitup.signs

    def head(self, words: str) -> None:
        """The title line."""
        self.query_one("#heading", Static).update(said(words))

    def tell(self, words: str | Text, *, fault: bool = False) -> None:
        """The line at the foot."""
        text = said(words) if isinstance(words, str) else words
        if fault:
            text = Text().append(f"{self.signs.no_go} ", tone(self.app, "error")).append_text(text)
        self._rest()
        self.query_one("#told", Static).update(text)

    def ask(self, work: Work, then: Then, *, busy: str = "reading the job", group: str = _READING) -> None:
        """Do the work in a thread, then hand its value to `then`. Only work of the reading group can be left."""
        self._rest()
        self._busy = group
        leave = "; Esc cancels" if group == _READING else ""
        self._wait = self.set_timer(SHOWN_AFTER_S, partial(self._waiting, f"{busy} {self.signs.wait}{leave}"))
        work = self._written(work) if group == "change" else work
        self.run_worker(
            partial(self._work, work, then), thread=True, exclusive=True, group=group, exit_on_error=False
        )

    def _written(self, work: Work) -> Work:
        """The work as one that is waited for when the program ends."""
        program = self.fitup

        def whole() -> Any:
            program.writing += 1
            try:
                return work()
            finally:
                program.writing -= 1

        return whole

    def stopped_waiting(self) -> bool:
        """Leave reading that is going on and has been said to; whether there was any."""
        if not (self._busy_shown and self._busy == _READING):
            return False
        self.workers.cancel_group(self, _READING)
        self.tell("cancelled; nothing changed")
        return True

    def undo(self) -> None:
        """Undo this workstation's newest entry, after showing which it is."""

        def shown(last: Any) -> None:
            from tui.entries import entry_words

            text = said("undo", "bold").append("\n").append_text(said(entry_words(last)))
            undo = lambda: self.job.undo(last.seq, by=self.fitup.workstation)  # noqa: E731 - one call
            self.window(
                Confirm(text, "Undo"),
                lambda yes: self.ask(undo, self.recorded, busy="undoing", group="change") if yes else None,
            )

        self.ask(lambda: self.job.last_of(self.fitup.workstation), shown, group=ASIDE)

    def copy_row(self, *, whole: bool) -> None:
        """Copy what is under the cursor, by the terminal's own clipboard; its first word alone unless `whole`."""
        words = self.whole_row() or under_cursor(self.focused)
        if not words:
            self.tell("nothing under the cursor to copy")
            return
        text = words if whole else words.split()[0].rstrip(":")
        self.app.copy_to_clipboard(text)
        self.tell(f"copied: {' '.join(text.split())}")

    def whole_row(self) -> str:
        """What is under the cursor in full where a row shows it cut; nothing where rows are whole."""
        return ""

    def told_by_others(self, news: tuple[Written, ...]) -> None:
        """Another workstation has recorded something; what is being typed here stays."""
        from tui.entries import others_words

        words = others_words(news)
        self.app.notify(visible(words), title="another workstation", timeout=20, markup=False)
        if self._under_window:
            self._behind = True
        else:
            self.refreshed()

    def enter(
        self,
        title: str,
        read: Read,
        take: Callable[[str], None],
        *,
        value: str = "",
        hint: str = "",
        replaced: bool = False,
    ) -> None:
        """Ask for a line; `take` gets it unless the person leaves. A `replaced` value goes with the first key."""
        kept = self.fitup.unfinished
        entry = (title, read, take, value, hint)

        def answered(line: str | None) -> None:
            if line is None:
                return
            kept.pop(title, None)
            self._entered = (entry, line)
            take(line)

        before = kept.get(title, "")
        window = LineEntry(
            title,
            read,
            value=before or value,
            hint=hint,
            fault=self._fault,
            replaced=replaced,
            left=partial(kept.__setitem__, title),
        )
        self._fault = ""
        self.window(window, answered)

    def window(self, window: ModalScreen[Answer], take: Callable[[Answer | None], None]) -> None:
        """Open a small window over this screen, which stays as it is meanwhile."""
        self._under_window = True
        self.app.push_screen(window, take)

    def leave(self) -> None:
        """One step back: out of this screen, unless it has something of its own to leave first."""
        self.fitup.one_back()

    def refreshed(self) -> None:
        """Called when this screen is on top again, or when something was recorded."""

    def recorded(self, _value: Any = None) -> None:
        """Something was written: say so and show it."""
        self.refreshed()
        self.tell("recorded")

    def on_screen_resume(self) -> None:
        if not self._under_window or self._behind:
            self.refreshed()
        self._under_window = self._behind = False

    @on(Answered)
    def answered(self, event: Answered) -> None:
        if self._busy_shown:
            self.tell("")
        self._rest()
        self._entered = None
        event.then(event.value)

    @on(Refused)
    def refused(self, event: Refused) -> None:
        fault = event.fault
        if isinstance(fault, PassphraseRequired):
            self._ask_passphrase(fault.person, event)
        elif isinstance(fault, FitupError):
            self.tell(str(fault), fault=True)
            self._ask_again(str(fault))
        else:
            self.log.error("".join(format_exception(fault)))
            self.tell(f"internal error, please report it: {type(fault).__name__}: {fault}", fault=True)

    def _ask_again(self, fault: str) -> None:
        """Show the line that was refused once more, with what is wrong with it."""
        entered, self._entered = self._entered, None
        if entered is not None and self.app.screen is self:
            (title, read, take, _value, hint), line = entered
            self._fault = fault
            self.enter(title, read, take, value=line, hint=hint)

    def _ask_passphrase(self, person: str, event: Refused) -> None:
        def again(typed: str | None) -> None:
            if typed is None:
                self.tell("cancelled; nothing was signed")
                return
            self.fitup.hand_over(person, typed)
            self.ask(event.work, event.then, busy="signing", group="change")

        self.window(Passphrase(person), again)

    def _waiting(self, words: str) -> None:
        if not self._busy:  # the answer came with the timer's last tick
            return
        self.query_one("#told", Static).update(said(words))
        self._busy_shown = True

    def _rest(self) -> None:
        if self._wait is not None:
            self._wait.stop()
        self._busy, self._busy_shown, self._wait = "", False, None

    def _work(self, work: Work, then: Then) -> None:
        worker = get_current_worker()
        answer: Message
        try:
            answer = self.Answered(work(), then)
        except Exception as fault:  # noqa: BLE001 - shown on the screen; it must not end the program
            answer = self.Refused(fault, work, then)
        if not worker.is_cancelled:
            self.post_message(answer)


def under_cursor(widget: Widget | None) -> str:
    """The row under the cursor of a list or a table, as text; nothing elsewhere."""
    if isinstance(widget, OptionList) and widget.highlighted is not None:
        prompt = widget.get_option_at_index(widget.highlighted).prompt
        return prompt.plain if isinstance(prompt, Text) else str(prompt)
    if isinstance(widget, DataTable) and widget.row_count:
        cells = (str(cell).strip() for cell in widget.get_row_at(widget.cursor_row))
        return "\t".join(cell for cell in cells if cell)
    return ""
