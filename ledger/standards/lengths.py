"""
How long a bolt must be, which length is sold, and how much of it is thread.

The *grip* is what is clamped between head and nut: the plies, their coats and the washers. Behind the nut two threads
stand out. The *shank* is what of a bolt has no thread; a screw that is threaded up to its head has none.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from ledger.standards.fasteners import Fastener
from ledger.standards.table import source_of, table

THREADS_OUT: Final = 2
_SAME_MM = 1e-6


@dataclass(frozen=True, slots=True)
class Stack:
    """What a bolt goes through, mm: plies with their coats, washers, and the nut (0 where it goes into a thread)."""

    plies_mm: float
    washers_mm: float = 0.0
    nut_mm: float = 0.0

    @property
    def grip_mm(self) -> float:
        """What is clamped."""
        return self.plies_mm + self.washers_mm

    def needed_mm(self, pitch_mm: float) -> float:
        """How long a bolt with a nut must be at least: grip, nut, two threads standing out."""
        return self.grip_mm + self.nut_mm + THREADS_OUT * pitch_mm


def next_length(bolt: Fastener, least_mm: float) -> float | None:
    """The shortest length sold that is not below this one, mm; None past the table."""
    return next((sold for sold in lengths(bolt) if sold >= least_mm - _SAME_MM), None)


def is_sold(bolt: Fastener, length_mm: float) -> bool:
    """Whether a length is one of those sold as a rule."""
    return any(abs(sold - length_mm) <= 0.05 for sold in lengths(bolt))  # noqa: PLR2004 - inch lengths are written rounded


def lengths(bolt: Fastener) -> Iterable[float]:
    """The lengths sold, mm, the shortest first."""
    rows = _series(bolt)
    return (float(length) * rows["unit_mm"] for length in rows["lengths"])


def shank_mm(bolt: Fastener, length_mm: float) -> float:
    """What has no thread of a bolt that is not threaded up to its head; 0 for a short one."""
    rows = _series(bolt)
    unit = float(rows["unit_mm"])
    row = next(r for r in rows["thread"] if length_mm / unit <= r["up_to"])
    return max(length_mm - float(row["times"]) * bolt.diameter_mm - float(row["plus"]) * unit, 0.0)


def length_source(bolt: Fastener) -> str:
    """Where the lengths are from."""
    return source_of("lengths", _series(bolt))


def _series(bolt: Fastener) -> Mapping[str, Any]:
    rows: Mapping[str, Any] = table("lengths")["inch" if bolt.system == "UN" else "metric"]
    return rows
