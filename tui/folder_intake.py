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
        from ledger.job import Asked

        taken = screen.job.take_drawings(paths, Asked(fields=fields), by=screen.fitup.workstation)
        return taken, screen.job.suggest()

    def then(value: tuple[TakenFolder, tuple[Numbered, ...]]) -> None:
        taken, found = value
        screen.refreshed()
        words = f"{counted(len(taken.parts), 'part')} recorded"
        if taken.refused:
            one = taken.refused[0]
            screen.tell(f"{words}; {len(taken.refused)} refused: {one.file}: {one.why}", fault=True)
        else:
            screen.tell(words)
        if any(_is_new(n) for n in found):
            _offer(screen, found)

    screen.ask(work, then, busy="reading the drawings", group="change")


def suggest(screen: JobScreen) -> None:
    """Offer the connections that the drawings speak of and that are not recorded."""

    def then(found: tuple[Numbered, ...]) -> None:
        if any(_is_new(n) for n in found):
            _offer(screen, found)
        else:
            screen.tell("no hole patterns that agree beyond chance, or all are recorded")

    screen.ask(screen.job.suggest, then, busy="comparing hole patterns")


def _is_new(one: Numbered) -> bool:
    return one.proposal.proposed and not one.connection


def _offer(screen: JobScreen, found: tuple[Numbered, ...]) -> None:
    ways: dict[str, str] = {}
    sure = []
    for one in found:
        if not _is_new(one) or len(ways) >= _MOST:
            continue
        words, several = one.to_json()["headline"], len(one.proposal.choices) > 1
        for letter, _choice in zip("abcdefghijkl", one.proposal.choices, strict=False):
            mark = f"{one.number}{letter}" if several else str(one.number)
            ways[mark] = f"{words}{f', way {letter}' if several else ''}"
        if not several:
            sure.append(str(one.number))

    def record(marks: tuple[str, ...] | None) -> None:
        if not marks:
            return
        work = lambda: screen.job.record_suggested(",".join(marks), by=screen.fitup.workstation)  # noqa: E731 - one call
        screen.ask(work, recorded, busy="recording", group="change")

    def recorded(names: tuple[str, ...]) -> None:
        screen.refreshed()
        screen.tell(f"recorded: {', '.join(names)}")

    title = "connections that the holes speak of: Space marks, Enter records what is marked"
    screen.window(MarkSome(title, ways, marked=sure), record)
