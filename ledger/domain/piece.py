"""
A piece that came back, and what was measured of it.

A *feature* is a hole by its label, with its diameter, its place or both, or a key dimension by its name. Places are in
the coordinates of the drawing; the uncertainty is expanded (U).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from ledger.domain.errors import BadInput, visible
from ledger.domain.quantity import Length

_PIECE = re.compile(r"(?P<part>[^#\s]+)#(?P<piece>[1-9][0-9]{0,6})")


@dataclass(frozen=True, slots=True)
class Feature:
    """What was read of one feature; `at` is the place of a hole, None where it was not measured."""

    name: str
    value: Length | None
    at: tuple[Length, Length] | None
    uncertainty: Length
    instrument: str
    coated: bool = False
    by: str = ""
    day: str = ""

    @property
    def words(self) -> str:
        """`H1 = 13.62 mm at 20.1 mm, 20.0 mm ±0.05 mm caliper`."""
        size = f" = {self.value.written}" if self.value else ""
        place = f" at {self.at[0].written}, {self.at[1].written}" if self.at else ""
        return f"{self.name}{size}{place} ±{self.uncertainty.written} {self.instrument}".strip()

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        at = [a.to_json() for a in self.at] if self.at else None
        return {
            "feature": self.name, "value": self.value.to_json() if self.value else None, "at": at,
            "uncertainty": self.uncertainty.to_json(), "instrument": self.instrument,
            "coated": self.coated, "by": self.by, "day": self.day,
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece by its number among all pieces of its part, of which revision, and what was measured of it."""

    part: str
    number: int
    revision: str
    order: str
    state: str = ""
    features: tuple[Feature, ...] = ()

    @property
    def name(self) -> str:
        """`BASE#1`."""
        return f"{self.part}#{self.number}"

    def feature(self, name: str) -> Feature | None:
        """What was measured of a feature."""
        return next((f for f in self.features if f.name == name), None)


def read_piece(text: str) -> tuple[str, int]:
    """A piece by its name, `BASE#1`. Raises BadInput."""
    found = _PIECE.fullmatch(text.strip())
    if found is None:
        raise BadInput(f"read {visible(text)!r}; expected a piece, such as BASE#1")
    return found["part"], int(found["piece"])
