"""
What a key dimension is measured on: the words of its *binding* to the drawing.

width, height; `diameter H1`; `distance H1 H2`, straight, or `distance-x`, `distance-y` along one axis; `edge H1`, from
the centre of a hole to the nearest edge of the plate; `slot-length H1`, `slot-width H1`; of a hole group `pitch GROUP`,
from each hole to the next, and `circle GROUP`, the diameter of the bolt circle; `radius X Y`, of the arc whose rim is
nearest to a place in mm; `angle X Y`, of the straight edge nearest to a place, turning left from the x axis, above 0 up
to 180 deg; `area`, of the plate without its holes and openings. On a surveyed part `distance P1 P2` is between points,
in space where they are. Of a bent part `leg B1 X Y`, from the outside of a bend to the edge of the flange in which a
place lies; `leg B1 H1`, to the centre of a hole; `leg B1 B2`, from outside to outside. Common practice of naming, no
source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from ledger.domain.amounts import DEGREES, MM, MM2
from ledger.domain.bend import is_bend_label
from ledger.domain.errors import BadInput, visible
from ledger.domain.plain_json import finite, word_list, words

HOLES: dict[str, int] = {
    "width": 0,
    "height": 0,
    "area": 0,
    "diameter": 1,
    "edge": 1,
    "slot-length": 1,
    "slot-width": 1,
    "distance": 2,
    "distance-x": 2,
    "distance-y": 2,
}
GROUPS = ("pitch", "circle")
PLACED = ("radius", "angle")
LEG = "leg"
UNITS = {"angle": DEGREES, "area": MM2}
_FORMS = (
    "width, height, 'diameter H1', 'distance H1 H2' (distance-x, distance-y), 'edge H1', 'slot-length H1', "
    "'slot-width H1', 'pitch GROUP', 'circle GROUP', 'radius X Y', 'angle X Y', area, 'leg B1 H1', 'leg B1 B2', "
    "'leg B1 X Y'"
)


@dataclass(frozen=True, slots=True)
class MeasuredOn:
    """A kind, and what it names: hole labels, a group, bend labels, a place in mm; and all of it as written."""

    kind: str
    labels: tuple[str, ...] = ()
    group: str = ""
    place_mm: tuple[float, float] = (0.0, 0.0)
    bends: tuple[str, ...] = ()
    written: str = ""

    def __str__(self) -> str:
        return self.written

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON, numbers as text; `from_json` reads them back."""
        return {
            "written": self.written,
            "kind": self.kind,
            "labels": list(self.labels),
            "group": self.group,
            "place_mm": [repr(v) for v in self.place_mm],
            "bends": list(self.bends),
        }

    @staticmethod
    def from_json(data: Mapping[str, Any]) -> MeasuredOn:
        """What `to_json` wrote; its text is not read again. Raises ValueError, KeyError or TypeError."""
        x, y = map(finite, word_list(data["place_mm"]))
        labels, bends = (word_list(data[name]) for name in ("labels", "bends"))
        return MeasuredOn(
            words(data["kind"]), labels, words(data["group"]), (x, y), bends, words(data["written"])
        )

    @property
    def unit(self) -> str:
        """What it is measured in: mm, deg or mm2."""
        return UNITS.get(self.kind, MM)


def read_measured_on(text: str) -> MeasuredOn | None:
    """The binding that a person wrote; None for no words. Raises BadInput with the forms there are."""
    found = _read(text)
    return replace(found, written=text) if found else None


def _read(text: str) -> MeasuredOn | None:
    kind, *rest = text.split() or [""]
    if not kind:
        return None
    if HOLES.get(kind) == len(rest):
        return MeasuredOn(kind, tuple(rest))
    if kind in GROUPS and rest:
        return MeasuredOn(kind, group=text.split(maxsplit=1)[1].strip())
    if kind in PLACED and len(rest) == 2:  # noqa: PLR2004 - a place has two numbers
        place = tuple(_number(word) for word in rest)
        if all(math.isfinite(v) for v in place):
            return MeasuredOn(kind, place_mm=(place[0], place[1]))
    if kind == LEG and rest and is_bend_label(rest[0]):
        leg = _leg(rest)
        if leg:
            return leg
    raise BadInput(f"read {visible(text)!r}; expected {_FORMS}")


def _leg(rest: list[str]) -> MeasuredOn | None:
    """A leg to another bend, to a hole, or to the edge of the flange at a place."""
    if len(rest) == 2 and rest[0] != rest[1]:  # noqa: PLR2004 - a bend and one other thing
        if is_bend_label(rest[1]):
            return MeasuredOn(LEG, bends=(rest[0], rest[1]))
        return MeasuredOn(LEG, (rest[1],), bends=(rest[0],))
    place = tuple(_number(word) for word in rest[1:])
    if len(place) == 2 and all(math.isfinite(v) for v in place):  # noqa: PLR2004 - a place has two numbers
        return MeasuredOn(LEG, place_mm=(place[0], place[1]), bends=(rest[0],))
    return None


def _number(word: str) -> float:
    try:
        return float(word)
    except ValueError:
        return math.nan
