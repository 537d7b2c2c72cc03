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
    Action("ctrl+q", "quit", "Leave", EVERYWHERE, foot=False),
    Action("ctrl+p", "command_palette", "Find an action", EVERYWHERE, foot=False),
    Action("u", "undo", "Take back", EVERYWHERE, foot=False),
    Action("y", "copy", "Copy the row", EVERYWHERE, foot=False),
    Action("Y", "copy_name", "Copy its first word", EVERYWHERE, foot=False),
    Action("ctrl+t", "theme", "Light or dark", EVERYWHERE, foot=False),
    Action("s", "start", "Start a shop here", "start"),
    Action("d", "demo", "Make the demo in ./fitup-demo", "start"),
    Action("i", "bring_in", "Bring one in", "start"),
    Action("enter", "open", "Open", "parts"),
    Action("slash", "filter", "Filter", "parts"),
    Action("v", "view", "Picture", "parts"),
    Action("space", "mark", "Set", "parts"),
    Action("s", "sign", "Sign", "parts"),
    Action("l", "lock", "Lock", "parts"),
    Action("j", "journal", "Journal", "parts"),
    Action("f", "first", "What to do first", "parts", foot=False),
    Action("n", "new", "New part", "parts", foot=False),
    Action("t", "table", "Dimensions from a table", "parts", foot=False),
    Action("i", "instruments", "Instruments and folding", "parts", foot=False),
    Action("e", "enrol", "People and policy", "parts", foot=False),
    Action("w", "keep", "Guard, verify, take out", "parts", foot=False),
    Action("r", "again", "Judge again", "parts", foot=False),
    Action("enter", "open", "Open or cure", "part"),
    Action("v", "view", "Picture", "part"),
    Action("d", "dimension", "Dimension", "part"),
    Action("t", "take", "Profile", "part"),
    Action("g", "group", "Name a group", "part", foot=False),
    Action("a", "question", "Ask a question", "part", foot=False),
    Action("k", "links", "Links of a question", "part", foot=False),
    Action("m", "mate", "Mate", "part"),
    Action("f", "finish", "Finish of a hole", "part", foot=False),
    Action("b", "bend", "State a bend", "part", foot=False),
    Action("h", "hole", "Measured hole", "part", foot=False),
    Action("i", "point", "Point of a structure", "part", foot=False),
    Action("o", "distance", "Distance between points", "part", foot=False),
    Action("x", "drop", "Drop it from the record", "part", foot=False),
    Action("p", "permit", "Permit the finding", "part", foot=False),
    Action("w", "write", "Write a file", "part", foot=False),
    Action("c", "changes", "What changed", "part", foot=False),
    Action("n", "revise", "New revision", "part", foot=False),
    Action("s", "sign", "Sign", "part"),
    Action("l", "lock", "Lock", "part", foot=False),
    Action("enter", "open", "Measure or open", "mate"),
    Action("plus", "closer", "Closer", "mate"),
    Action("minus", "farther", "Farther", "mate"),
    Action("0", "whole", "Whole", "mate"),
    Action("up", "pan('up')", "Move the picture up", "mate", foot=False),
    Action("down", "pan('down')", "Move the picture down", "mate", foot=False),
    Action("left", "pan('left')", "Move the picture left", "mate", foot=False),
    Action("right", "pan('right')", "Move the picture right", "mate", foot=False),
    Action("c", "clearance", "Require a clearance", "mate", foot=False),
    Action("b", "bolts", "Bolt length", "mate", foot=False),
    Action("f", "freeze", "Freeze a face", "mate", foot=False),
    Action("e", "change", "Change the mate", "mate", foot=False),
    Action("x", "drop", "Drop the mate, or its clearance", "mate", foot=False),
    Action("enter", "open", "Ask or record", "mate form"),
    Action("enter", "open", "Change", "people"),
    Action("n", "enrol", "Enrol a person", "people"),
    Action("p", "policy", "Policy", "people"),
    Action("k", "key", "Keys of the person", "people"),
    Action("enter", "open", "State anew", "instruments"),
    Action("n", "new", "New instrument", "instruments"),
    Action("f", "folding", "Folding of a vendor", "instruments"),
    Action("enter", "open", "Write it", "files"),
    Action("enter", "open", "Do it", "keeping"),
    Action("enter", "open", "Sign as", "sign"),
    Action("enter", "open", "Lock as", "lock"),
    Action("r", "record", "Record", "table"),
    Action("g", "good", "Record the good rows", "table"),
    Action("f", "path", "File", "table"),
    Action("p", "paste", "Paste", "table"),
    Action("slash", "filter", "Filter", "journal"),
    Action("v", "verify", "Verify", "journal"),
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
