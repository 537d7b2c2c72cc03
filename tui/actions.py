"""
Every action that a key can call, in one list.

It feeds the bindings and the footer of each screen, the searchable help, and the table of keys in the readme.
An *action* belongs to one place: a screen, or everywhere. `foot` is whether the footer has room for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from textual.binding import Binding

EVERYWHERE = "everywhere"


@dataclass(frozen=True, slots=True)
class Action:
    """A key, the action it calls (`action_NAME`), what it does in words, and where it works."""

    key: str
    name: str
    label: str
    where: str
    foot: bool = True

    @property
    def shown_key(self) -> str:
        """The key as people say it."""
        return _SAID.get(self.key, self.key)


_SAID = {
    "ctrl+q": "Ctrl+Q",
    "ctrl+p": "Ctrl+P",
    "ctrl+t": "Ctrl+T",
    "ctrl+s": "Ctrl+S",
    "ctrl+g": "Ctrl+G",
    "full_stop": ".",
    "question_mark": "?",
    "escape": "Esc",
    "enter": "Enter",
    "slash": "/",
    "space": "Space",
    "tab": "Tab",
    "plus": "+",
    "minus": "-",
    "up": "Up",
    "down": "Down",
    "left": "Left",
    "right": "Right",
}

ACTIONS: tuple[Action, ...] = (
    Action("question_mark", "help", "Help", EVERYWHERE),
    Action("escape", "back", "Back", EVERYWHERE, foot=False),
    Action("ctrl+q", "quit", "Quit", EVERYWHERE, foot=False),
    Action("ctrl+p", "command_palette", "Find an action or a part", EVERYWHERE, foot=False),
    Action("u", "undo", "Undo my last entry", EVERYWHERE, foot=False),
    Action("y", "copy", "Copy the row", EVERYWHERE, foot=False),
    Action("Y", "copy_name", "Copy its first word", EVERYWHERE, foot=False),
    Action("A", "take_saved", "Take drawings that were saved", EVERYWHERE, foot=False),
    Action("ctrl+t", "theme", "Light or dark", EVERYWHERE, foot=False),
    Action("n", "new", "New job here", "start"),
    Action("d", "demo", "Make the demo in ./fitup-demo", "start"),
    Action("I", "bring_in", "Import a job", "start"),
    Action("enter", "open", "Open", "parts"),
    Action("f", "first", "Do next", "parts"),
    Action("t", "take", "Drawings", "parts"),
    Action("n", "new", "New part", "parts", foot=False),
    Action("space", "mark", "Mark", "parts"),
    Action("s", "sign", "Sign", "parts"),
    Action("l", "lock", "Lock", "parts"),
    Action("e", "why", "Why", "parts"),
    Action("slash", "filter", "Filter", "parts", foot=False),
    Action("v", "view", "Picture", "parts", foot=False),
    Action("m", "match", "Suggested connections", "parts", foot=False),
    Action("S", "sort", "Sort by the next column", "parts", foot=False),
    Action("j", "journal", "Journal", "parts", foot=False),
    Action("T", "table", "Dimensions from a table", "parts", foot=False),
    Action("J", "text", "The job as text", "parts", foot=False),
    Action("i", "instruments", "Instruments and bend data", "parts", foot=False),
    Action("O", "orders", "Orders, pieces, schedule, hardware", "parts", foot=False),
    Action("P", "people", "People and policy", "parts", foot=False),
    Action("w", "write", "Check outgoing files, verify, export", "parts", foot=False),
    Action("r", "again", "Check again", "parts", foot=False),
    Action("enter", "open", "Open or fix", "part"),
    Action("e", "why", "Why", "part"),
    Action("f", "first", "Do next", "part", foot=False),
    Action("1", "tab('findings')", "Findings", "part", foot=False),
    Action("2", "tab('record')", "Record", "part", foot=False),
    Action("3", "tab('dimensions')", "Dimensions and holes", "part", foot=False),
    Action("4", "tab('connections')", "Connections", "part", foot=False),
    Action("5", "tab('history')", "History", "part", foot=False),
    Action("v", "view", "Picture", "part"),
    Action("k", "dimension", "Key dimension", "part", foot=False),
    Action("t", "take", "Drawing", "part"),
    Action("c", "connection", "Connection", "part"),
    Action("g", "group", "Hole group", "part", foot=False),
    Action("o", "operation", "Operation on a hole", "part", foot=False),
    Action("b", "bend", "Bend data", "part", foot=False),
    Action("W", "enter_line('tried')", "Template tried", "part", foot=False),
    Action("a", "question", "Ask a question", "part", foot=False),
    Action("E", "evidence", "Keep a photograph or a paper", "part", foot=False),
    Action("H", "links", "What a question holds up", "part", foot=False),
    Action("h", "hole", "Measured hole", "part", foot=False),
    Action("full_stop", "point", "Point of a structure", "part", foot=False),
    Action("D", "distance", "Distance between points", "part", foot=False),
    Action("x", "remove", "Remove an entry made by mistake", "part", foot=False),
    Action("p", "permit", "Permit a finding", "part", foot=False),
    Action("w", "write", "Write a file", "part", foot=False),
    Action("C", "changes", "What changed", "part", foot=False),
    Action("n", "new", "New revision", "part", foot=False),
    Action("s", "sign", "Sign", "part"),
    Action("l", "lock", "Lock", "part", foot=False),
    Action("enter", "open", "Measure or open", "connection"),
    Action("e", "why", "Why", "connection"),
    Action("plus", "closer", "Zoom in", "connection"),
    Action("minus", "farther", "Zoom out", "connection"),
    Action("0", "whole", "Show all", "connection"),
    Action("up", "pan('up')", "Move the picture up", "connection", foot=False),
    Action("down", "pan('down')", "Move the picture down", "connection", foot=False),
    Action("left", "pan('left')", "Move the picture left", "connection", foot=False),
    Action("right", "pan('right')", "Move the picture right", "connection", foot=False),
    Action("n", "new", "Require a clearance", "connection", foot=False),
    Action("B", "bolts", "Bolt length", "connection", foot=False),
    Action("z", "freeze", "Freeze an interface", "connection", foot=False),
    Action("c", "connection", "Edit the connection", "connection", foot=False),
    Action("x", "remove", "Remove the connection, or its clearance", "connection", foot=False),
    Action("enter", "open", "Edit or record", "connection form"),
    Action("enter", "open", "Edit", "people"),
    Action("n", "new", "Enroll a person", "people"),
    Action("R", "roles", "Roles of the person", "people"),
    Action("enter", "open", "Edit", "instruments"),
    Action("n", "new", "New instrument", "instruments"),
    Action("b", "bend", "Bend data of a vendor", "instruments"),
    Action("enter", "open", "Receive, measure or edit", "orders"),
    Action("n", "new", "New order", "orders"),
    Action("w", "write", "Write the hardware list", "orders"),
    Action("enter", "open", "Write", "files"),
    Action("enter", "open", "Run", "custody"),
    Action("enter", "open", "Sign as", "sign"),
    Action("l", "lock", "Lock", "sign"),
    Action("enter", "open", "Lock as", "lock"),
    Action("ctrl+s", "record", "Record", "table"),
    Action("ctrl+g", "good", "Good rows", "table"),
    Action("F", "path", "File", "table"),
    Action("V", "paste", "Paste", "table"),
    Action("w", "write", "Write", "text"),
    Action("r", "again", "Read", "text"),
    Action("ctrl+s", "record", "Record", "text"),
    Action("F", "path", "File", "text"),
    Action("slash", "filter", "Filter", "journal"),
    Action("r", "again", "Verify", "journal"),
)


def actions_at(where: str) -> tuple[Action, ...]:
    """The actions of a screen, then those that work everywhere."""
    own = tuple(a for a in ACTIONS if a.where == where != EVERYWHERE)
    return own + tuple(a for a in ACTIONS if a.where == EVERYWHERE)


def bindings(where: str) -> list[Binding | tuple[str, str] | tuple[str, str, str]]:
    """The bindings of one place, for a screen's BINDINGS."""
    from textual.binding import Binding

    return [
        Binding(a.key, a.name, a.label, show=a.foot, key_display=a.shown_key, priority=a.name == "quit")
        for a in ACTIONS
        if a.where == where
    ]


def keys_table() -> str:
    """The table of keys for the readme, in Markdown."""
    lines = ["| where | key | what it does |", "|---|---|---|"]
    lines.extend(f"| {a.where} | `{a.shown_key}` | {a.label} |" for a in ACTIONS)
    return "\n".join(lines) + "\n"
