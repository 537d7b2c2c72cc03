"""Taking a thing out of the record of a part or a mate: the one under the cursor, with a reason."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tui.recording import do, words_wanted

if TYPE_CHECKING:
    from ledger.domain.record import Part
    from tui.frame import ShopScreen
    from tui.part_rows import Row

_THINGS = ("dimension", "group", "finish", "point")


def drop(screen: ShopScreen, part: Part, row: Row | None) -> None:
    """Drop what this row of a part is about, or say why there is nothing to drop."""
    kind, name = (row.kind, row.name) if row else ("", "")
    if kind == "distance":
        a, _, b = name.partition(" to ")
        _ask(screen, f"the distance {name}", "survey", "DropDistance", number=part.number, a=a, b=b)
    elif kind == "bend":
        _ask(screen, f"what is said of {name}", "bends", "DropBend", number=part.number, label=name)
    elif kind == "mate":
        screen.tell(f"open {name}: x drops it there")
    elif what := _what(part, kind, name):
        fields = {"number": part.number, "what": what, "name": name}
        _ask(screen, f"the {what} {name}", "dropping", "DropOfPart", **fields)
    elif kind == "hole":
        screen.tell(f"{name} is on the drawing: change it there, and take the profile again")
    else:
        screen.tell("put the cursor on a key dimension, group, finish, hole, point, distance or bend")


def drop_clearance(screen: ShopScreen, mate: str, name: str) -> None:
    """Drop a required clearance of a mate, with its readings."""
    _ask(screen, f"the clearance {name}", "dropping", "DropClearance", mate=mate, name=name)


def _what(part: Part, kind: str, name: str) -> str:
    """The thing that is dropped; of a hole its finish where the hole itself is drawn."""
    if kind in _THINGS:
        return kind
    if kind != "hole":
        return ""
    if any(p.label == name for p in part.points):
        return "point"
    if any(m.hole.label == name for m in part.measured_holes):
        return "hole"
    return "finish" if any(f.label == name for f in part.hole_finishes) else ""


def _ask(screen: ShopScreen, words: str, module: str, act: str, **fields: Any) -> None:
    def because(reason: str) -> None:
        do(screen, module, act, reason=reason, **fields)

    screen.enter(f"why is {words} dropped?", words_wanted("a reason"), because)
