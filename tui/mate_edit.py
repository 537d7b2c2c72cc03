"""Declaring, changing and dropping a mate, and measuring on it: asked for over whichever screen is there."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING, Any

from ledger.domain.errors import BadInput
from tui.frame import ASIDE
from tui.lines import reading_line
from tui.mate_lines import MATE_HINT, mate_line, mate_words, new_name
from tui.recording import do, words_wanted

if TYPE_CHECKING:
    from ledger.domain.mated import Mate, Reading
    from tui.frame import ShopScreen


def declare(screen: ShopScreen, number: str) -> None:
    """Declare a mate of this part in one line, or in the form."""
    screen.ask(lambda: _known(screen), lambda known: _line(screen, number, None, known), group=ASIDE)


def change(screen: ShopScreen, mate: Mate) -> None:
    """Declare a mate anew; its clearances and readings stay."""
    screen.ask(
        lambda: _known(screen), lambda known: _line(screen, mate.plies[0].part, mate, known), group=ASIDE
    )


def drop(screen: ShopScreen, mate: Mate, gone: Any = None) -> None:
    """Drop a mate, after its name was typed and a reason given; `gone` is called with it dropped."""

    def named(text: str) -> str:
        if text.strip() != mate.name:
            raise BadInput(f"type {mate.name}: its clearances and readings go with it")
        return "Enter goes on: why?"

    def because(reason: str) -> None:
        do(screen, "mates", "DropMate", name=mate.name, reason=reason, then=gone)

    def take(_text: str) -> None:
        screen.enter(f"why is {mate.name} dropped?", words_wanted("a reason"), because)

    screen.enter(f"drop the mate {mate.name}? type its name", named, take)


def measure(screen: ShopScreen, mate: str, name: str, wanted: str = "") -> None:
    """Record a reading of a required clearance."""

    def take(text: str) -> None:
        def told(made: Reading) -> None:
            screen.refreshed()
            screen.tell(f"recorded: {made.words}")

        work = lambda: screen.shop.measure(mate, name, text, by=screen.fitup.seat)  # noqa: E731 - one call
        screen.ask(work, told, busy="recording", group="change")

    title = f"{name} of {mate}, measured" + (f"; wanted {wanted}" if wanted else "")
    hint = "such as 1.8 ±0.1 mm feeler; behind it how warm the parts were, where it matters: at 30C"
    screen.ask(
        screen.shop.own_instruments,
        lambda own: screen.enter(title, lambda t: reading_line(t, own), take, hint=hint),
        group=ASIDE,
    )


def _known(screen: ShopScreen) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The numbers of all parts, and the names of all mates."""
    return tuple(p.number for p in screen.shop.parts()), tuple(m.name for m in screen.shop.mates())


def _line(screen: ShopScreen, number: str, mate: Mate | None, known: tuple[Collection[str], ...]) -> None:
    parts, taken = known

    def read(text: str) -> str:
        if not text.strip():
            return "Enter opens the form, field by field"
        line = mate_line(text, parts)
        if not mate:
            new_name(line.fields["name"], taken)
        elif line.fields["name"] != mate.name:
            raise BadInput(f"the name stays {mate.name}: drop it and declare another one instead")
        return line.reading

    def take(text: str) -> None:
        if text.strip():
            do(screen, "mates", "DeclareMate", **mate_line(text, parts).fields)
            return
        from tui.mate_form import MateForm

        screen.app.push_screen(MateForm(number, mate))

    title = f"change the mate {mate.name}" if mate else f"a mate of {number}"
    screen.enter(title, read, take, value=mate_words(mate) if mate else "", hint=MATE_HINT)
