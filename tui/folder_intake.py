"""
From the first screen: several drawings taken at once, each a part, and the connections that their holes speak of.

Files are chosen, what they have in common is said in one line, and what is proposed is shown with what is sure marked.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ledger.domain.plural import counted
from ledger.words.forms import STOCK
from ledger.words.stock import stock_line
from tui.choice_window import MarkSome
from tui.file_picker import existing, pick
from tui.why_window import LinesWindow

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ledger.job import Numbered, TakenFolder
    from tui.frame import JobScreen

_MOST = 40


def take_drawings(screen: JobScreen) -> None:
    """Choose drawings, say what they have in common, take them; then offer the connections they speak of."""

    def chosen(paths: tuple[str, ...]) -> None:
        screen.fitup.last_folder = existing(paths[0])
        screen.enter(
            f"{counted(len(paths), 'drawing')}: what they have in common",
            lambda t: stock_line(t).reading,
            lambda t: _take(screen, paths, stock_line(t).fields),
            hint=STOCK.hint,
        )

    title = "drawings to take: each becomes a part"
    pick(screen.window, title, screen.fitup.last_folder, chosen, several=True)


def _take(screen: JobScreen, paths: Sequence[str], fields: dict[str, Any]) -> None:
    def work() -> tuple[TakenFolder, tuple[Numbered, ...]]:
        from ledger.domain.taking import Asked

        taken = screen.job.take_drawings(paths, Asked(fields=fields), by=screen.fitup.workstation)
        return taken, screen.job.suggest()

    def then(value: tuple[TakenFolder, tuple[Numbered, ...]]) -> None:
        taken, found = value
        screen.refreshed()

        def go_on(_closed: object = None) -> None:
            if any(_is_new(n) for n in found):
                _offer(screen, [n for n in found if _is_new(n)])

        if taken.refused or taken.skipped:
            lines = [f"{counted(len(taken.parts), 'part')} recorded, {len(taken.refused)} refused"]
            lines += [f"{one.file}: {one.why}" for one in taken.refused]
            lines += [f"{one.file}: taken before, as {one.number}" for one in taken.skipped]
            screen.window(LinesWindow(lines), go_on)
        else:
            screen.tell(f"{counted(len(taken.parts), 'part')} recorded")
            go_on()

    screen.ask(work, then, busy="reading the drawings", group="change")


def suggest(screen: JobScreen) -> None:
    """Offer the connections that the drawings speak of and that are not recorded."""

    def then(found: tuple[Numbered, ...]) -> None:
        missing = [n for n in found if not n.connection]
        if missing:
            _offer(screen, missing)
        else:
            screen.tell("no hole patterns that agree, or all of them are recorded")

    screen.ask(screen.job.suggest, then, busy="comparing hole patterns")


def _is_new(one: Numbered) -> bool:
    return one.proposal.proposed and not one.connection


def _offer(screen: JobScreen, found: Sequence[Numbered]) -> None:
    """These proposals to be marked; what is sure and leaves nothing to choose is marked already."""
    ways: dict[str, str] = {}
    sure = []
    for one in found[:_MOST]:
        words, several = one.headline, len(one.proposal.choices) > 1
        for letter, _choice in zip("abcdefghijkl", one.proposal.choices, strict=False):
            mark = f"{one.number}{letter}" if several else str(one.number)
            ways[mark] = f"{words}{f', way {letter}' if several else ''}"
        if _is_new(one) and not several:
            sure.append(str(one.number))

    def record(marks: tuple[str, ...] | None) -> None:
        if not marks:
            return
        work = lambda: screen.job.record_suggested(",".join(marks), by=screen.fitup.workstation)  # noqa: E731 - one call
        screen.ask(work, recorded, busy="recording", group="change")

    def recorded(names: tuple[str, ...]) -> None:
        screen.refreshed()
        screen.tell(f"recorded: {', '.join(names)}")

    some = f" (the first {_MOST} of {len(found)})" if len(found) > _MOST else ""
    title = f"connections that the holes speak of{some}: Space marks, Enter records what is marked"
    screen.window(MarkSome(title, ways, marked=sure), record)
