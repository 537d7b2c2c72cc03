"""From a fix to its place on the screens: what opens over the part screen, or in its stead."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tui import connection_edit
from tui.choice_window import Choose
from tui.part_edit import PartEditor

if TYPE_CHECKING:
    from ledger.domain.connection import Connection
    from tui.fixes import Fix
    from tui.part_screen import PartScreen

_EDITORS = {
    "dimension": "dimension",
    "field": "field",
    "question": "answer",
    "group": "group",
    "hole": "open_hole",
    "operation": "operation",
    "bend": "bend",
    "point": "point",
    "distance": "distance",
}


@dataclass(frozen=True)
class FindingFixes:
    """What fixes lead to from a part's screen."""

    screen: PartScreen

    def open(self, fix: Fix) -> None:
        """Open the place of a fix."""
        if fix.kind == "connection":
            from tui.connection_screen import ConnectionScreen

            self.screen.app.push_screen(ConnectionScreen(fix.name, place=fix.place))
        elif fix.kind == "sign":
            self.screen.action_sign()
        elif fix.kind == "profile":
            self.screen.editor().take()
        elif fix.kind == "mend":
            self._mend()
        elif fix.kind == "no connection":
            self._no_connection()
        elif fix.kind in ("record", "reading", "group") and self._connection(fix.name):
            self._fix_connection(fix)
        elif fix.kind == "revision":
            self.screen.action_revise()
        elif fix.kind in _EDITORS:
            getattr(self.screen.editor(), _EDITORS[fix.kind])(fix.name)
        else:
            self.screen.tell("nothing to edit here: the finding says what to do")

    def _mend(self) -> None:
        """A clean copy of the drawing, or another file; what the copy cannot know is asked for first."""
        from tui.clean_copy import Mending

        if self.screen.view:
            Mending(self.screen, self.screen.view.part).start(self.screen.editor().take)

    def _no_connection(self) -> None:
        """It is in no connection: either one is recorded, or the part connects to nothing."""

        def chosen(way: str | None) -> None:
            if way == "connection":
                self.screen.action_connection()
            elif way == "alone":
                self.screen.editor().unconnected()

        ways = {"connection": "record a connection", "alone": "connects to nothing"}
        self.screen.window(Choose(f"{self.screen.number} is in no connection", ways), chosen)

    def _fix_connection(self, fix: Fix) -> None:
        """What is wrong with how a connection is recorded, with a group of its holes, or with a reading."""
        connection = self._connection(fix.name)
        if connection is None:
            return
        if fix.kind == "record":
            connection_edit.change(self.screen, connection)
        elif fix.kind == "reading":
            expected = next((c.required.written for c in connection.clearances if c.name == fix.place), "")
            connection_edit.measure(self.screen, connection.name, fix.place, expected)
        else:
            self._fix_group(connection, fix.place)

    def _fix_group(self, connection: Connection, number: str) -> None:
        group = next((p.group for p in connection.plies if p.part == number), "")

        def chosen(way: str | None) -> None:
            editor = (
                self.screen.editor()
                if number == self.screen.number
                else PartEditor(self.screen, number, None)
            )
            if way == "group":
                editor.group(group)
            elif way == "take":
                editor.take()
            elif way == "connection":
                connection_edit.change(self.screen, connection)

        ways = {
            "group": f"edit hole group {group or 'bolts'} of {number}",
            "connection": f"edit {connection.name} to use another group",
            "take": f"take a drawing for {number}",
        }
        self.screen.window(Choose(f"{connection.name}: the holes of {number}", ways), chosen)

    def _connection(self, name: str) -> Connection | None:
        return (
            next((m for m in self.screen.view.connections if m.name == name), None)
            if self.screen.view
            else None
        )
