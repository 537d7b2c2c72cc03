"""Changing the keys of a person: which goes from when on, whether one is added, why, who signs for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text

from ledger.words.forms import KEY
from ledger.words.people import key_line
from tui.choice_window import choose_person
from tui.entry_windows import Confirm, Passphrase
from tui.signs import said

if TYPE_CHECKING:
    from ledger.domain.key_line import KeyLine
    from tui.frame import JobScreen


def change_key(screen: JobScreen, name: str, lines: tuple[KeyLine, ...]) -> None:
    """Ask for a change of this person's keys in one line, then for who signs it."""

    def taken(text: str) -> None:
        choose_person(
            screen,
            "who signs the change?",
            "signs the change",
            lambda person: _sure(screen, name, lines, text, person),
        )

    keys = "; ".join(map(_standing, lines))
    hint = f"{KEY.shape}   keys: {keys}"
    screen.enter(f"change the keys of {name}", lambda t: key_line(t, lines).reading, taken, hint=hint)


def _standing(line: KeyLine) -> str:
    state = "in force" if line.in_force else f"retired from entry {line.until} on"
    return f"{line.key[:16]} since {line.since}, {state}"


def _sure(screen: JobScreen, name: str, lines: tuple[KeyLine, ...], text: str, person: str) -> None:
    line = key_line(text, lines)
    adds = line.fields.pop("adds")
    words = Text("\n").join((said(f"{person} changes the keys of {name}:", "bold"), said(line.reading)))

    def change(passphrase: str | None) -> None:
        def work() -> tuple[str, tuple[KeyLine, ...]]:
            made = screen.job.change_key(name, new=passphrase, by=person, **line.fields)
            return made, screen.job.keys_that_went()

        screen.ask(work, changed, busy="changing keys", group="change")

    def changed(value: tuple[str, tuple[KeyLine, ...]]) -> None:
        made, went = value
        others = ", ".join(f"{k.person} {k.key[:16]}" for k in went if k.person != name)
        screen.refreshed()
        screen.tell(
            f"keys of {name} changed{f'; new key {made[:16]}' if made else ''}"
            f"{f'; also retired with it: {others}' if others else ''}"
        )

    def answered(yes: bool | None) -> None:
        if yes and adds:
            screen.window(
                Passphrase(name, new=True), lambda typed: change(typed) if typed is not None else None
            )
        elif yes:
            change(None)

    screen.window(Confirm(words, "Change keys"), answered)
