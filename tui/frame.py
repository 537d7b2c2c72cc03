"""
What every screen has: a line that says what is going on, and a way to ask the shop without freezing.

`ask` does its work in a thread, which only posts a message; the handler alone touches widgets. A work that fails
becomes a line on the screen and never ends the program. Where a key is wanted, its passphrase is asked for and
the work is done again, so that nobody holds the shop while typing.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any, TypeVar, cast

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.message import Message
from textual.screen import ModalScreen, Screen
from textual.widgets import Footer, Static
from textual.worker import get_current_worker

from ledger.domain.errors import BadInput, FitupError
from tui.asking import LineEntry, Passphrase, Read
from tui.signs import Signs, said, tone

if TYPE_CHECKING:
    from ledger.shop import Shop
    from tui.app import Fitup

Work = Callable[[], Any]
Then = Callable[[Any], None]
Answer = TypeVar("Answer")
NARROW, WIDE = "-narrow", "-wide"
_WIDE_FROM = 100


class PassphraseWanted(BadInput):
    """A key is closed and its passphrase has not been typed yet."""

    def __init__(self, person: str) -> None:
        super().__init__("a passphrase is wanted")
        self.person = person


class ShopScreen(Screen[None]):
    """A screen of the shop. `body` composes what is between the title and the line at the foot."""

    HORIZONTAL_BREAKPOINTS = [(0, NARROW), (_WIDE_FROM, WIDE)]  # noqa: RUF012 - textual's own way
    DEFAULT_CSS = """
    ShopScreen #heading { height: 1; background: $panel; color: $foreground; text-style: bold; }
    ShopScreen OptionList { border: none; padding: 0; background: $background; scrollbar-gutter: stable; }
    ShopScreen OptionList:focus { border: none; }
    ShopScreen #told { height: auto; max-height: 4; }
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
        self._busy = False
        self._under_window = False

    def compose(self) -> ComposeResult:
        yield Static("", id="heading")
        yield from self.body()
        yield Static("", id="told")
        yield Footer(compact=True)

    def body(self) -> ComposeResult:
        """The widgets of this screen."""
        yield from ()

    @property
    def fitup(self) -> Fitup:
        """The program."""
        return cast("Fitup", self.app)

    @property
    def shop(self) -> Shop:
        """The open shop. Raises BadInput before it is open."""
        return self.fitup.open_shop()

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
        self._busy = False
        self.query_one("#told", Static).update(text)

    def ask(self, work: Work, then: Then, *, busy: str = "reading the shop", group: str = "ask") -> None:
        """Do the work in a thread, then hand its value to `then`."""
        self.tell(f"{busy} {self.signs.wait}")
        self._busy = True
        self.run_worker(
            partial(self._work, work, then), thread=True, exclusive=True, group=group, exit_on_error=False
        )

    def enter(
        self, title: str, read: Read, take: Callable[[str], None], *, value: str = "", hint: str = ""
    ) -> None:
        """Ask for a line; `take` gets it unless the person leaves."""
        window = LineEntry(title, read, value=value, hint=hint)
        self.window(window, lambda line: take(line) if line is not None else None)

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
        if self._under_window:
            self._under_window = False
        else:
            self.refreshed()

    @on(Answered)
    def answered(self, event: Answered) -> None:
        if self._busy:
            self.tell("")
        event.then(event.value)

    @on(Refused)
    def refused(self, event: Refused) -> None:
        fault = event.fault
        if isinstance(fault, PassphraseWanted):
            self._ask_passphrase(fault.person, event)
        elif isinstance(fault, FitupError):
            self.tell(str(fault), fault=True)
        else:
            self.log.error(repr(fault))
            self.tell(
                f"a fault of the program, please report it: {type(fault).__name__}: {fault}", fault=True
            )

    def _ask_passphrase(self, person: str, event: Refused) -> None:
        def again(typed: str | None) -> None:
            if typed is None:
                self.tell("left; nothing was signed")
                return
            self.fitup.hand_over(person, typed)
            self.ask(event.work, event.then, busy="signing", group="change")

        self.window(Passphrase(person), again)

    def _work(self, work: Work, then: Then) -> None:
        worker = get_current_worker()
        answer: Message
        try:
            answer = self.Answered(work(), then)
        except Exception as fault:  # noqa: BLE001 - shown on the screen; it must not end the program
            answer = self.Refused(fault, work, then)
        if not worker.is_cancelled:
            self.post_message(answer)
