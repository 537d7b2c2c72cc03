"""Removing an entry of a part or a connection: the one under the cursor, with a reason."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tui.part_editor import do, words_expected
from tui.permit_window import withdraw

if TYPE_CHECKING:
    from ledger.domain.record import Part
    from tui.frame import JobScreen
    from tui.part_row import Row

_THINGS = ("dimension", "group", "operation", "point")


def remove(screen: JobScreen, part: Part, row: Row | None) -> None:
    """Remove what this row of a part is about, or say why there is nothing to remove."""
    kind, name = (row.kind, row.name) if row else ("", "")
    if kind == "distance":
        a, _, b = name.partition(" to ")
        _ask(screen, f"the distance {name}", "RemoveDistance", number=part.number, a=a, b=b)
    elif kind == "bend":
        _ask(screen, f"the bend data of {name}", "RemoveBend", number=part.number, label=name)
    elif kind == "permit":
        withdraw(screen, int(name))
    elif kind == "connection":
        screen.tell(f"open {name}: x removes it there")
    elif what := _what(part, kind, name):
        fields = {"number": part.number, "what": what, "name": name}
        _ask(screen, f"the {what} {name}", "RemoveOfPart", **fields)
    elif kind == "hole":
        screen.tell(f"{name} comes from the drawing: edit it there, then take the drawing again")
    else:
        screen.tell(
            "put the cursor on a key dimension, group, operation, hole, point, distance, bend or permit"
        )


def remove_clearance(screen: JobScreen, connection: str, name: str) -> None:
    """Remove a required clearance of a connection, with its readings."""
    _ask(screen, f"the clearance {name}", "RemoveClearance", connection=connection, name=name)


def _what(part: Part, kind: str, name: str) -> str:
    """The thing that is removed; of a hole its operation where the hole itself is drawn."""
    if kind in _THINGS:
        return kind
    if kind != "hole":
        return ""
    if any(p.label == name for p in part.points):
        return "point"
    if any(m.hole.label == name for m in part.measured_holes):
        return "hole"
    return "operation" if any(f.label == name for f in part.operations) else ""


def _ask(screen: JobScreen, words: str, act: str, **fields: Any) -> None:
    def because(reason: str) -> None:
        do(screen, act, reason=reason, **fields)

    screen.enter(f"reason for removing {words}", words_expected("a reason"), because)
