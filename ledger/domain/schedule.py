"""
When parts must go out, and when they can be here.

The *day* of a job is the day by which everything must be here. A part is sent on a day, and here on the last day of its
vendor's lead. What is left is told in the vendor's own working days, below zero where the day cannot be met any more.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Literal

SOON_DAYS: Final = 7
State = Literal["here", "ordered", "to send", "not known"]


@dataclass(frozen=True, slots=True)
class PartDays:
    """
    One part. `send_by` is the last day on which it can go out, `here` the first on which it can be here, `left` how
    many working days lie between; nothing of these where the state is here or not known, and `why` says what is
    missing. `waits` is what has to be decided or has to be here before.
    """

    part: str
    revision: str
    state: State
    vendor: str = ""
    lead_days: int | None = None
    order: str = ""
    send_by: str = ""
    here: str = ""
    left: int | None = None
    waits: tuple[str, ...] = ()
    why: str = ""

    @property
    def late(self) -> bool:
        """Whether the day cannot be met any more."""
        return self.left is not None and self.left < 0

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        return {
            "part": self.part, "revision": self.revision, "state": self.state, "vendor": self.vendor or None,
            "lead_days": self.lead_days, "order": self.order or None, "send_by": self.send_by or None,
            "here": self.here or None, "working_days_left": self.left, "waits": list(self.waits), "why": self.why,
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class Schedule:
    """
    Every part, what must go out first in front. `day` is the job's day, empty where none was said: then what is left is
    counted to `all_here`, the first day on which all of what is known can be here.
    """

    today: str
    day: str
    all_here: str
    parts: tuple[PartDays, ...]

    @property
    def critical(self) -> tuple[str, ...]:
        """The parts that hold everything up: those with the least working days left."""
        least = min((p.left for p in self.parts if p.left is not None), default=None)
        return tuple(p.part for p in self.parts if p.left is not None and p.left == least)

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        own = {"today": self.today, "day": self.day or None, "all_here": self.all_here or None}
        return {**own, "critical": list(self.critical), "parts": [p.to_json() for p in self.parts]}
