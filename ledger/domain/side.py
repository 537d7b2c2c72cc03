"""On which side of other points a point lies: `left of P1 P2`, seen from above, or `above P1 P2 P3` in space."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from ledger.domain.errors import BadInput, visible
from ledger.domain.plain_json import word_list, words

_HANDS: dict[str, Literal[1, -1]] = {"left": 1, "right": -1, "above": 1, "below": -1}
_FLAT, _SPACE = 2, 3


@dataclass(frozen=True, slots=True)
class PointSide:
    """A side as written: 1 for left or above, -1 for right or below, of two or of three points by their names."""

    written: str
    hand: Literal[1, -1]
    of: tuple[str, ...]

    def __str__(self) -> str:
        return self.written

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON; `from_json` reads them back."""
        return {"written": self.written, "hand": self.hand, "of": list(self.of)}

    @staticmethod
    def from_json(data: Mapping[str, Any]) -> PointSide:
        """What `to_json` wrote; its text is not read again. Raises ValueError, KeyError or TypeError."""
        hand = {1: 1, -1: -1}[data["hand"]]
        return PointSide(words(data["written"]), 1 if hand > 0 else -1, word_list(data["of"]))


def read_side(text: str) -> PointSide:
    """A side that a person wrote. Raises BadInput."""
    named = text.replace(",", " ").split()
    word = named[0].lower() if named else ""
    hand = _HANDS.get(word)
    of = tuple(named[2:] if len(named) > 1 and named[1].lower() == "of" else named[1:])
    expected = _FLAT if word in ("left", "right") else _SPACE
    if hand is None or len(of) != expected or len({*of}) != expected:
        raise BadInput(
            f"{visible(text)!r} is not a side; expected 'left of P1 P2' (going from P1 to P2, seen from above) "
            "or 'above P1 P2 P3'"
        )
    return PointSide(text, hand, of)
