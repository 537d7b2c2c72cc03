"""
The program of the screens: it holds the open job, who sits here, and what everywhere works.

Screens ask the job through `open_job`; nothing heavy is loaded before the first screen is on the terminal. Every
two seconds it looks whether another workstation has recorded something, and tells the screen on top. A plea to end
(SIGTERM, SIGHUP) leaves by the same way as Ctrl+Q, so that the terminal is as it was.
"""

from __future__ import annotations

import asyncio
import gc
import os
import signal
import sys
from collections.abc import Mapping
from contextlib import suppress
from functools import partial
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any, ClassVar

from textual import on
from textual.app import App
from textual.binding import BindingType
from textual.scrollbar import ScrollBar, ScrollBarRender

from ledger.domain.address import file_of
from ledger.domain.errors import BadInput, visible
from ledger.domain.program import DEMO_FIRM
from tui.actions import EVERYWHERE, bindings
from tui.frame import PassphraseRequired
from tui.leaving import HUNG_UP, end_process, end_within, wait_while, watch_terminal
from tui.saved_drawings import DrawingSaved, Watch, take_saved
from tui.signs import Signs, signs_for
from tui.themes import DARK, LIGHT

if TYPE_CHECKING:
    from textual.command import Provider

    from ledger.job import Job, Written

DARK_16, LIGHT_16 = "ansi-dark", "ansi-light"
_LOOKS_EVERY_S = 2.0
LONGEST_LEAVING_S = 1.5
_SWITCH_S = (
    0.0005  # a key waits so long for a thread that is judging; Python's own 5 ms is paid at every turn
)
_COLLECT_AT = (20_000, 20, 100)  # a full collection over 5,000 parts stops the screen for a tenth of a second
_FEW_COLOURS = frozenset({"linux", "xterm", "ansi", "vt100", "vt220", "screen"})


class PlainBar(ScrollBarRender):
    """A scroll bar of blanks, for terminals without block elements."""

    VERTICAL_BARS: ClassVar[list[str]] = [" "] * 8
    HORIZONTAL_BARS: ClassVar[list[str]] = [" "] * 8
    BLANK_GLYPH: ClassVar[str] = " "


def _actions_provider() -> type[Provider]:
    from tui.palette import ActionProvider

    return ActionProvider


class Fitup(App[None]):
    """The screens of one job."""

    TITLE = "fitup"
    CSS = """
    OptionList > .option-list--option-disabled { color: $foreground; }
    Input > .input--placeholder, Input > .input--suggestion { color: $secondary; }
    ModalScreen OptionList, ModalScreen OptionList:focus { border: none; padding: 0; }
    ModalScreen { background: transparent; }
    ModalScreen > Vertical, ModalScreen > VerticalScroll { border: round $primary; }
    Fitup.-plain ModalScreen > Vertical, Fitup.-plain ModalScreen > VerticalScroll { border: ascii $primary; }
    Fitup.-plain #next { border: ascii $primary; }
    Fitup.-plain Input, Fitup.-plain Input:focus { border: ascii $border; }
    Fitup.-plain Button, Fitup.-plain Button:focus { border: ascii $border; }
    Fitup.-plain TextArea, Fitup.-plain TextArea:focus { border: ascii $border; }
    Fitup.-plain Toast { border: none; }
    """
    COMMANDS = {_actions_provider}  # noqa: RUF012 - textual's own way
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(EVERYWHERE)]

    def __init__(self, place: str, signs: Signs | None = None) -> None:
        super().__init__()
        self.place = place
        self.signs = signs or signs_for()
        self._job: Job | None = None
        self._opening = Lock()
        self._typed: dict[str, str] = {}
        self._seen = 0
        self.drawings = Watch(self.post_message)
        self.unfinished: dict[str, Any] = {}  # what was typed and left, by the title of its window
        self.writing = 0  # how many changes are being written
        self.last_folder = Path.cwd()  # where a file was chosen last
        self.few_colours = has_few_colours()
        self.register_theme(DARK)
        self.register_theme(LIGHT)
        self.theme = DARK_16 if self.few_colours else DARK.name
        if os.environ.get("FITUP_THEME") == "light":
            self.action_theme()

    def on_mount(self) -> None:
        self.set_class(not self.signs.braille, "-plain")
        ScrollBar.renderer = ScrollBarRender if self.signs.braille else PlainBar
        if not self.is_headless:
            self._leave_when_asked()
            loop = asyncio.get_running_loop()
            watch_terminal(
                partial(loop.call_soon_threadsafe, self._asked_to_leave, HUNG_UP),
                busy=lambda: self.writing > 0,
            )
        self.set_interval(_LOOKS_EVERY_S, self._look_around)
        path = file_of(self.place)
        if path is None or path.is_file():
            from tui.parts_screen import PartsScreen

            self.push_screen(PartsScreen())
        else:
            from tui.start_screen import StartScreen

            self.push_screen(StartScreen())

    def open_job(self) -> Job:
        """The job, opened at the first call. Raises FitupError."""
        with self._opening:
            if self._job is None:
                from ledger.job import Job

                job = Job(self.place, self._passphrase)
                if job.firm == DEMO_FIRM:
                    use_demo_keys(self.place)
                self._seen, _ = job.news(0)
                self._job = job
            return self._job

    def hand_over(self, person: str, typed: str) -> None:
        """A passphrase just typed; it is used once and forgotten, the key stays open for the sitting."""
        self._typed[person] = typed

    @property
    def workstation(self) -> str:
        """Who records things here: FITUP_BY, else the login. Raises BadInput."""
        import getpass

        try:
            return os.environ.get("FITUP_BY") or getpass.getuser()
        except (OSError, KeyError) as fault:
            raise BadInput("no name for the journal: set FITUP_BY to your name and start again") from fault

    async def action_back(self) -> None:
        """One step back, as the screen on top understands it."""
        from tui.frame import JobScreen

        if isinstance(self.screen, JobScreen) and not self.screen.stopped_waiting():
            self.screen.leave()

    def one_back(self) -> None:
        """One screen back; the first stays."""
        if len(self.screen_stack) > 2:  # noqa: PLR2004 - textual's own blank one, and ours
            self.pop_screen()

    def action_theme(self) -> None:
        """From dark to light and back, by the theme's own colours."""
        dark, light = (DARK_16, LIGHT_16) if self.few_colours else (DARK.name, LIGHT.name)
        self.theme = light if self.theme == dark else dark

    def action_undo(self) -> None:
        """Undo this workstation's newest entry by a counter-act."""
        from tui.frame import JobScreen

        if isinstance(self.screen, JobScreen):
            self.screen.undo()

    def action_copy(self) -> None:
        """The row or finding under the cursor to the clipboard."""
        self._copy(whole=True)

    def action_copy_name(self) -> None:
        """Its first word alone."""
        self._copy(whole=False)

    def _copy(self, *, whole: bool) -> None:
        from tui.frame import JobScreen

        if isinstance(self.screen, JobScreen):
            self.screen.copy_row(whole=whole)

    def action_help(self) -> None:
        """The list of actions, to search and to run."""
        from tui.help_screen import HelpScreen

        here = self.screen
        where = getattr(here, "WHERE", EVERYWHERE)
        self.push_screen(HelpScreen(where), lambda name: self.run_named(name) if name else None)

    def run_named(self, name: str) -> None:
        """Run an action by its name, on the screen where it stands or here."""
        self.call_later(self._run, name)

    async def _run(self, name: str) -> None:
        own = name.partition("(")[0]
        there = self.screen if hasattr(self.screen, f"action_{own}") else self
        await self.run_action(name, there)

    def _leave_when_asked(self) -> None:
        loop = asyncio.get_running_loop()
        for sign in filter(
            None, (signal.SIGTERM, getattr(signal, "SIGHUP", None))
        ):  # Windows has but the first
            with suppress(NotImplementedError):
                loop.add_signal_handler(sign, self._asked_to_leave, 128 + sign)

    def _asked_to_leave(self, code: int) -> None:
        end_within(LONGEST_LEAVING_S, code, busy=lambda: self.writing > 0)
        self.exit(None, code)

    async def _shutdown(self) -> None:
        """As textual does it; then the process ends, without waiting for threads that only read."""
        await super()._shutdown()
        if not self.is_headless:
            await asyncio.to_thread(wait_while, lambda: self.writing > 0)
            end_process(self.return_code or 0)

    def _look_around(self) -> None:
        """What others have recorded since the last look; in a thread, and only once the job is open."""
        if self._job is not None:
            self.run_worker(self._look, thread=True, exclusive=True, group="around", exit_on_error=False)

    def _look(self) -> None:
        if self._job is None:
            return
        with suppress(
            Exception
        ):  # the next look tells; a screen that needs the job says what is wrong with it
            self.drawings.follow(self._job)
            seen, news = self._job.news(self._seen)
            self._seen = seen
            if news:
                self.call_from_thread(self._tell_news, news)

    def _tell_news(self, news: tuple[Written, ...]) -> None:
        from tui.frame import JobScreen

        for screen in reversed(self.screen_stack):
            if isinstance(screen, JobScreen):
                screen.told_by_others(news)
                return

    @on(DrawingSaved)
    def drawing_saved(self, event: DrawingSaved) -> None:
        """Say what was saved in the drawing program."""
        words = self.drawings.told(event.saved)
        if words:
            self.notify(visible(words), title="drawing saved", timeout=20, markup=False)

    def action_take_saved(self) -> None:
        """Take the drawings that were saved since they were taken."""
        from tui.frame import JobScreen

        if isinstance(self.screen, JobScreen):
            take_saved(self.screen, self.drawings)

    def on_unmount(self) -> None:
        self.drawings.end()
        if self._job is not None:
            self._job.close()

    def _passphrase(self, person: str) -> str:
        kept = os.environ.get("FITUP_PASSPHRASE_FILE")
        if person not in self._typed and kept:
            return kept_passphrase(kept)
        if person not in self._typed:
            raise PassphraseRequired(person)
        return self._typed.pop(person)


def use_demo_keys(place: str) -> None:
    """Sign in the demo with its own keys, which lie with their passphrase in its folder, unless others are named."""
    folder = file_of(place)
    keys = folder.parent / "keys" if folder else None
    if keys and "FITUP_KEYS" not in os.environ and (keys / "passphrase.txt").is_file():
        os.environ["FITUP_KEYS"] = str(keys)
        os.environ.setdefault("FITUP_PASSPHRASE_FILE", str(keys / "passphrase.txt"))


def kept_passphrase(path: str) -> str:
    """The passphrase that a file keeps, its first line. Raises BadInput."""
    try:
        return Path(path).read_text(encoding="utf-8-sig").split("\n", 1)[0].rstrip("\r")
    except (OSError, UnicodeDecodeError) as fault:
        raise BadInput(
            "cannot read the file that FITUP_PASSPHRASE_FILE names; expected a passphrase in it"
        ) from fault


def has_few_colours(environ: Mapping[str, str] = os.environ) -> bool:
    """Whether the terminal has but 16 colours, by what it says of itself."""
    return not environ.get("COLORTERM") and environ.get("TERM", "") in _FEW_COLOURS


def run(place: str) -> int:
    """Open the screens on a job; the exit code."""
    sys.setswitchinterval(_SWITCH_S)
    gc.set_threshold(*_COLLECT_AT)
    program = Fitup(place)
    program.run()
    return program.return_code or 0
