"""
The program of the screens: it holds the open shop, who sits here, and what everywhere works.

Screens ask the shop through `open_shop`; nothing heavy is loaded before the first screen is on the terminal.
"""

from __future__ import annotations

import os
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, ClassVar

from textual.app import App
from textual.binding import BindingType

from ledger.domain.errors import BadInput
from tui.actions import EVERYWHERE, bindings
from tui.frame import PassphraseWanted
from tui.signs import Signs, signs_for

if TYPE_CHECKING:
    from ledger.shop import Shop


class Fitup(App[None]):
    """The screens of one shop."""

    TITLE = "fitup"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(EVERYWHERE)]

    def __init__(self, place: str, signs: Signs | None = None) -> None:
        super().__init__()
        self.place = place
        self.signs = signs or signs_for()
        self._shop: Shop | None = None
        self._opening = Lock()
        self._typed: dict[str, str] = {}

    def on_mount(self) -> None:
        if Path(self.place).is_file():
            from tui.parts_screen import PartsScreen

            self.push_screen(PartsScreen())
        else:
            from tui.start_screen import StartScreen

            self.push_screen(StartScreen())

    def open_shop(self) -> Shop:
        """The shop, opened at the first call. Raises FitupError."""
        with self._opening:
            if self._shop is None:
                from ledger.shop import Shop

                self._shop = Shop(self.place, self._passphrase)
            return self._shop

    def hand_over(self, person: str, typed: str) -> None:
        """A passphrase just typed; it is used once and forgotten, the key stays open for the sitting."""
        self._typed[person] = typed

    @property
    def seat(self) -> str:
        """Who records things here: FITUP_BY, else the login. Raises BadInput."""
        import getpass

        try:
            return os.environ.get("FITUP_BY") or getpass.getuser()
        except (OSError, KeyError) as fault:
            raise BadInput("who does this? name yourself in FITUP_BY and come back") from fault

    async def action_back(self) -> None:
        """One step back, as the screen on top understands it."""
        from tui.frame import ShopScreen

        if isinstance(self.screen, ShopScreen):
            self.screen.leave()

    def one_back(self) -> None:
        """One screen back; the first stays."""
        if len(self.screen_stack) > 2:  # noqa: PLR2004 - textual's own blank one, and ours
            self.pop_screen()

    def action_help(self) -> None:
        """The list of actions, to search and to run."""
        from tui.help_screen import HelpScreen

        here = self.screen
        where = getattr(here, "WHERE", EVERYWHERE)
        self.push_screen(HelpScreen(where), lambda name: self._run_in(name) if name else None)

    def _run_in(self, name: str) -> None:
        self.call_later(self._run, name)

    async def _run(self, name: str) -> None:
        own = name.partition("(")[0]
        there = self.screen if hasattr(self.screen, f"action_{own}") else self
        await self.run_action(name, there)

    def on_unmount(self) -> None:
        if self._shop is not None:
            self._shop.close()

    def _passphrase(self, person: str) -> str:
        if person not in self._typed:
            raise PassphraseWanted(person)
        return self._typed.pop(person)


def run(place: str) -> int:
    """Open the screens on a shop; the exit code."""
    program = Fitup(place)
    program.run()
    return program.return_code or 0
