"""A calibration of an instrument of the job's own, as plain values."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Calibration:
    """
    One calibration: `tool` is the kind, lengths as written, days as YYYY-MM-DD.

    At most one of `standard` (standard uncertainty), `limit` (largest error) and `grade` (class of a tape) is entered.
    """

    name: str
    calibrated: str
    tool: str
    resolution: str
    standard: str
    limit: str
    grade: str
    due: str
