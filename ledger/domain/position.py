"""
What holds one ply on another: an entered pose, pins, or flush edges; and fasteners beside the connection's own.

`10 0 90` or `as drawn` is a whole pose. `pins` leaves it to the dowel pins of the connection: two pins fix the place,
one leaves a turn. `left on left` lays a straight side of the first ply flush with a side of the second, and the first
can still slide along it; `left on left and bottom on bottom` fixes both. Sides are left, right, bottom, top.

A connection's other fasteners are said as `M6 dowel PINS on PINS`: fastener, joint, and the hole group of each ply.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final, Literal, cast, get_args

from ledger.domain.connection import JOINTS, Also, Pins, Sides
from ledger.domain.errors import BadInput, visible
from ledger.domain.number_text import decimal, plain
from ledger.domain.pose import Pose, read_pose

Side = Literal["left", "right", "bottom", "top"]
SIDES: tuple[str, ...] = get_args(Side)
PINS: Final = "pins"
FORMS: Final = (
    "x y angle in mm and degrees, such as '10 0 90', 'as drawn', 'pins', 'left on left', or "
    "'left on left and bottom on bottom'"
)
_AWAY: Final = {"right": 0, "top": 90, "left": 180, "bottom": 270}


@dataclass(frozen=True, slots=True)
class Position:
    """Where the first ply lies: as written, and what that holds it by. Numbers are kept as plain decimals."""

    written: str
    held: Pose | Pins | Sides

    def to_json(self) -> dict[str, Any]:
        held = self.held
        if isinstance(held, Pins):
            return {"written": self.written, "pins": True}
        if isinstance(held, Sides):
            return {"written": self.written, "sides": [list(pair) for pair in held.pairs]}
        x, y, angle = (plain(Decimal(repr(n))) for n in (held.x_mm, held.y_mm, held.angle_deg))
        pose = {"x_mm": x, "y_mm": y, "angle_deg": angle, "turned_over": held.turned_over}
        return {"written": self.written, **pose}

    @staticmethod
    def from_json(data: dict[str, Any]) -> Position:
        """The position that `to_json` wrote; its text is not read again."""
        written = str(data["written"])
        if data.get("pins"):
            return Position(written, Pins())
        if "sides" in data:
            return Position(written, Sides(tuple((str(a), str(b)) for a, b in data["sides"])))
        x, y, angle = (float(decimal(data[name])) for name in ("x_mm", "y_mm", "angle_deg"))
        return Position(written, Pose(angle, x, y, turned_over=bool(data["turned_over"])))


def position_of(text: str) -> Position:
    """The same with what was written. Raises BadInput."""
    return Position(text, read_position(text))


def read_position(text: str) -> Pose | Pins | Sides:
    """What a person wrote of where the first ply lies. Raises BadInput with the forms there are."""
    words = text.split()
    if words == [PINS]:
        return Pins()
    if "on" in words:
        return _sides(text)
    try:
        return read_pose(text)
    except BadInput:
        raise BadInput(f"read {visible(text)!r} as a position; expected {FORMS}") from None


def read_also(text: str) -> Also:
    """A fastener beside the connection's own: `M6 dowel PINS on PINS`. Raises BadInput."""
    for joint in sorted(JOINTS, key=len, reverse=True):
        fastener, found, groups = text.partition(f" {joint} ")
        named = tuple(g.strip() for g in groups.split(" on "))
        if found and fastener.strip() and len(named) > 1 and all(named):
            return Also(fastener.strip(), joint, named)
    raise BadInput(
        f"read {visible(text)!r}; expected a fastener, its joint and the hole group of each part, such as "
        f"'M6 dowel PINS on PINS'"
    )


def quarter_turn(side_a: str, side_b: str, *, turned_over: bool) -> int:
    """By how many degrees A is turned so that its side faces the way of B's."""
    own = _AWAY[side_a]
    return (_AWAY[side_b] - (-own if turned_over else own)) % 360


def _sides(text: str) -> Sides:
    pairs = []
    for piece in text.split(" and "):
        words = piece.split()
        if len(words) != 3 or words[1] != "on" or not {words[0], words[2]} <= set(SIDES):  # noqa: PLR2004 - SIDE on SIDE
            raise BadInput(
                f"read {visible(text)!r}; expected sides ({', '.join(SIDES)}), such as 'left on left'"
            )
        pairs.append((cast("Side", words[0]), cast("Side", words[2])))
    if len(pairs) > 2:  # noqa: PLR2004 - two sides fix a plate
        raise BadInput(f"read {visible(text)!r}; two sides fix the place already, name one or two")
    ways = [{quarter_turn(a, b, turned_over=turned_over) for a, b in pairs} for turned_over in (False, True)]
    across = len({_AWAY[b] % 180 for _, b in pairs}) == len(pairs)
    if not across or all(len(w) > 1 for w in ways):
        raise BadInput(f"read {visible(text)!r}; these two sides cannot meet, however it is turned")
    return Sides(tuple(pairs))
