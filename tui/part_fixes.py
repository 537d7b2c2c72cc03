"""From a fix to its place on the screens: what opens over the part screen, or in its stead."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tui import connection_edit
from tui.choice_window import Choose
from tui.fixes import Fix
from tui.part_edit import PartEditor
from tui.permit_window import withdraw
from tui.why_window import LinesWindow

if TYPE_CHECKING:
    from ledger.domain.connection import Connection
    from tui.part_verbs import PartVerbs

_EDITORS = {
    "dimension": "dimension",
    "field": "field",
    "question": "answer",
    "group": "group",
    "hole": "open_hole",
    "operation": "operation",
    "tried": "tried",
    "bend": "bend",
    "point": "point",
    "distance": "distance",
}

# What is answered here.
_OWN = {
    "connection": "_look_at",
    "mend": "_mend",
    "no connection": "_no_connection",
    "together": "_together",
    "not checked": "_not_checked",
    "fields": "_fields",
    "history": "_history",
    "permit": "_permit",
}
# What is a verb of the screen.
_VERBS = {"sign": "sign", "lock": "lock", "changes": "changes", "profile": "take", "revision": "new"}


@dataclass(frozen=True)
class FindingFixes:
    """What fixes lead to from a part's screen."""

    screen: PartVerbs

    def open(self, fix: Fix) -> None:
        """Open the place of a fix."""
        if fix.kind in ("record", "reading", "group") and self._connection(fix.name):
            self._fix_connection(fix)
        elif fix.kind in _EDITORS:
            getattr(self.screen.editor(), _EDITORS[fix.kind])(fix.name)
        elif fix.kind in _OWN:
            getattr(self, _OWN[fix.kind])(fix)
        elif fix.kind in _VERBS:
            getattr(self.screen, f"action_{_VERBS[fix.kind]}")()
        else:
            self.screen.action_why()

    def _look_at(self, fix: Fix) -> None:
        from tui.connection_screen import ConnectionScreen

        self.screen.app.push_screen(ConnectionScreen(fix.name, place=fix.place))

    def _history(self, _fix: Fix) -> None:
        self.screen.action_tab("history")

    def _permit(self, fix: Fix) -> None:
        withdraw(self.screen, int(fix.name))

    def _together(self, fix: Fix) -> None:
        """A part that waits for another: both are signed together, or the other is opened, or what joins them."""
        other = fix.place.rpartition("/")[2]
        connection = fix.place.removesuffix(f"/{other}")

        def chosen(way: str | None) -> None:
            if way == "together":
                from tui.sign_screen import SignScreen

                self.screen.app.push_screen(SignScreen(tuple(sorted({*self.screen.together, other}))))
            elif way == "other":
                from tui.part_screen import PartScreen

                self.screen.app.push_screen(PartScreen(other))
            elif way == "connection":
                self.open(Fix("connection", connection, fix.place))

        ways = {
            "together": f"sign {self.screen.number} and {other} together, to lock them together",
            "other": f"open {other}",
            "connection": f"look at {connection}",
        }
        self.screen.window(Choose(f"{self.screen.number} waits for {other}", ways), chosen)

    def _not_checked(self, _fix: Fix) -> None:
        """What no check looked at, in a window."""
        if self.screen.view:
            lines = ("not checked:", *(f"- {m}" for m in self.screen.view.verdict.not_checked))
            self.screen.window(LinesWindow(lines), lambda _closed: None)

    def _fields(self, fix: Fix) -> None:
        """One of the fields that are not entered."""
        ways = {name: name.replace("_", " ") for name in fix.name.split()}
        title = f"which field of {self.screen.number}?"
        self.screen.window(
            Choose(title, ways), lambda name: self.screen.editor().field(name) if name is not None else None
        )

    def _mend(self, _fix: Fix) -> None:
        """A clean copy of the drawing, or another file; what the copy cannot know is asked for first."""
        from tui.clean_copy import Mending

        if self.screen.view:
            Mending(self.screen, self.screen.view.part).start(self.screen.editor().take)

    def _no_connection(self, _fix: Fix) -> None:
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
