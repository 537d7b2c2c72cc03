"""Where something was measured on an existing structure: a point, or the middle of a hole or stud."""

from __future__ import annotations

from dataclasses import dataclass

from ledger.domain.shape import Point


@dataclass(frozen=True, slots=True)
class MeasuredPoint:
    """In mm: its place, the diameter of a hole or stud, and its expanded uncertainty U where one is known."""

    label: str
    at: Point
    diameter_mm: float | None = None
    uncertainty_mm: float | None = None
