"""
Hardware that the connections of a job need: bolts, nuts, washers, studs and pins, added up.

An *item* is what is bought, its *size* a designation of the thread (or of the washer), its length as it is ordered.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

BOLT, STUD, NUT, WASHER = "bolt", "stud", "nut", "washer"
COUNTERSUNK, PIN, CAPTIVE_NUT = "countersunk screw", "dowel pin", "captive nut"
ITEMS: Final = (BOLT, COUNTERSUNK, STUD, PIN, NUT, CAPTIVE_NUT, WASHER)
WITH_LENGTH: Final = frozenset({BOLT, COUNTERSUNK, STUD, PIN})
MOST: Final = 1_000_000


@dataclass(frozen=True, slots=True)
class Use:
    """How many of an item one connection takes, over all the times that it occurs."""

    connection: str
    count: int
    times: int = 1


@dataclass(frozen=True, slots=True)
class Needed:
    """
    One line of the hardware list.

    `length` is empty where an item has none, or where it is not known; `remarks` says why, or that the length was
    worked out and not entered. `spares` come on top of `count`; what is on hand is taken off both.
    """

    item: str
    size: str
    length: str
    uses: tuple[Use, ...]
    spares: int = 0
    on_hand: int = 0
    remarks: tuple[str, ...] = ()

    @property
    def count(self) -> int:
        """How many the connections take."""
        return sum(use.count for use in self.uses)

    @property
    def to_buy(self) -> int:
        """How many are missing."""
        return max(self.count + self.spares - self.on_hand, 0)

    @property
    def name(self) -> str:
        """`bolt M8 x 30 mm`."""
        return named(self.item, self.size, self.length)

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        own = {"item": self.item, "size": self.size, "length": self.length, "count": self.count}
        more = {"spares": self.spares, "on_hand": self.on_hand, "to_buy": self.to_buy}
        uses = [{"connection": u.connection, "count": u.count, "times": u.times} for u in self.uses]
        return {**own, **more, "uses": uses, "remarks": list(self.remarks)}


@dataclass(frozen=True, slots=True)
class BoughtPart:
    """A part that is bought: how many, and None where nobody has said."""

    number: str
    title: str
    quantity: int | None


@dataclass(frozen=True, slots=True)
class NotCounted:
    """A connection whose hardware could not be counted, and what is missing."""

    connection: str
    why: str

    @property
    def words(self) -> str:
        """In a line."""
        return f"{self.connection}: {self.why}"


@dataclass(frozen=True, slots=True)
class HardwareList:
    """What is to be bought, the bought parts, and what could not be counted and why."""

    lines: tuple[Needed, ...]
    bought: tuple[BoughtPart, ...] = ()
    not_counted: tuple[NotCounted, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        bought = [{"part": b.number, "title": b.title, "quantity": b.quantity} for b in self.bought]
        lines = [line.to_json() for line in self.lines]
        return {"hardware": lines, "bought": bought, "not_counted": [n.words for n in self.not_counted]}


def named(item: str, size: str, length: str) -> str:
    """An item as it is called: `bolt M8 x 30 mm`, `nut M8`."""
    return f"{item} {size} x {length}" if length else f"{item} {size}"
