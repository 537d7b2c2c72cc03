"""Recording, editing and removing a connection, and measuring on it: asked for over whichever screen is there."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING, Any

from ledger.domain.errors import BadInput
from ledger.words.clearances import reading_line
from ledger.words.connections import connection_line, connection_words, fits_a_line, new_name
from ledger.words.forms import CONNECTION, READING
from tui.frame import ASIDE
from tui.part_editor import do, words_expected

if TYPE_CHECKING:
    from ledger.domain.connection import Connection, Reading
    from tui.frame import JobScreen


def declare(screen: JobScreen, number: str) -> None:
    """Record a connection of this part in one line, or in the form."""
    screen.ask(lambda: _known(screen), lambda known: _line(screen, number, None, known), group=ASIDE)


def change(screen: JobScreen, connection: Connection) -> None:
    """Edit a connection; its clearances and readings stay."""
    screen.ask(
        lambda: _known(screen),
        lambda known: _line(screen, connection.plies[0].part, connection, known),
        group=ASIDE,
    )


def remove(screen: JobScreen, connection: Connection, gone: Any = None) -> None:
    """Remove a connection, after its name was typed and a reason given; `gone` is called with it removed."""

    def named(text: str) -> str:
        if text.strip() != connection.name:
            raise BadInput(f"type {connection.name}: its clearances and readings go with it")
        return "Enter continues to the reason"

    def because(reason: str) -> None:
        do(screen, "RemoveConnection", name=connection.name, reason=reason, then=gone)

    def take(_text: str) -> None:
        screen.enter(f"reason for removing {connection.name}", words_expected("a reason"), because)

    screen.enter(f"remove the connection {connection.name}: type its name", named, take)


def measure(screen: JobScreen, connection: str, name: str, expected: str = "") -> None:
    """Record a reading of a required clearance."""

    def take(text: str) -> None:
        def told(made: Reading) -> None:
            screen.refreshed()
            screen.tell(f"recorded: {made.words}")

        work = lambda: screen.job.measure(connection, name, text, by=screen.fitup.workstation)  # noqa: E731 - one call
        screen.ask(work, told, busy="recording", group="change")

    title = f"{name} of {connection}, measured" + (f"; expected {expected}" if expected else "")
    screen.ask(
        screen.job.own_instruments,
        lambda own: screen.enter(title, lambda t: reading_line(t, own), take, hint=READING.hint),
        group=ASIDE,
    )


def _known(screen: JobScreen) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The numbers of all parts, and the names of all connections."""
    return tuple(p.number for p in screen.job.parts()), tuple(m.name for m in screen.job.connections())


def _line(
    screen: JobScreen, number: str, connection: Connection | None, known: tuple[Collection[str], ...]
) -> None:
    parts, taken = known
    if connection and not fits_a_line(connection, parts):
        _form(screen, number, connection)
        return

    def read(text: str) -> str:
        if not text.strip():
            return "Enter opens the form, field by field"
        line = connection_line(text, parts)
        if not connection:
            new_name(line.fields["name"], taken)
        elif line.fields["name"] != connection.name:
            raise BadInput(
                f"the name must stay {connection.name}; to rename it, remove it and record a new one"
            )
        return line.reading

    def take(text: str) -> None:
        if text.strip():
            do(screen, "RecordConnection", **connection_line(text, parts).fields)
            return
        _form(screen, number, connection)

    title = f"edit the connection {connection.name}" if connection else f"new connection of {number}"
    screen.enter(
        title,
        read,
        take,
        value=connection_words(connection, parts) if connection else "",
        hint=CONNECTION.hint,
    )


def _form(screen: JobScreen, number: str, connection: Connection | None) -> None:
    from tui.connection_form import ConnectionForm

    screen.app.push_screen(ConnectionForm(number, connection))
