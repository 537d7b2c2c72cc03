"""
A vendor: who cuts, by what, how long it takes, on which days they work.

The *lead* is how many of the vendor's own working days pass from the day after an order is sent to the last day of it.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields
from typing import Any

WORKING_WEEK = (0, 1, 2, 3, 4)  # Monday to Friday
MOST_LEAD = 1000


@dataclass(frozen=True, slots=True)
class Vendor:
    """`weekdays` from 0 for Monday; `days_off` as YYYY-MM-DD, in order."""

    name: str
    processes: tuple[str, ...] = ()
    lead_days: int | None = None
    weekdays: tuple[int, ...] = WORKING_WEEK
    days_off: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {n: list(v) if n in LISTS else v for n, v in asdict(self).items()}


LISTS = tuple(f.name for f in fields(Vendor) if isinstance(f.default, tuple))
