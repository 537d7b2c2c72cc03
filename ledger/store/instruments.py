"""
The job's own instruments as facts: what each is good for, and whether it was in calibration on a day.

A *calibration* counts from its day to the day it is due. Which one counted for a reading depends on the day of the
reading alone, so that what was read in time stays so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from sqlmodel import Session, select

from ledger.domain.calibration import Calibration
from ledger.standards.instruments import Instrument, class_limits, instrument
from ledger.standards.table import plain_name
from ledger.store.exact import as_written, length
from ledger.store.tables import InstrumentFact


def own_instruments(facts: Session) -> Mapping[str, Instrument]:
    """The newest calibration of each, as an instrument, by plain name."""
    newest = {row.name: row for row in calibrations(facts)}
    return {plain_name(name): _made(row) for name, row in newest.items()}


def calibrations(facts: Session) -> list[InstrumentFact]:
    """Every calibration, oldest first."""
    return sorted(facts.exec(select(InstrumentFact)).all(), key=lambda row: (row.calibrated, row.name))


def newest_calibrations(facts: Session) -> tuple[Calibration, ...]:
    """The newest calibration of every instrument of the job's own, by name."""
    newest = {row.name: row for row in calibrations(facts)}
    return tuple(Calibration(**as_written(newest[name])) for name in sorted(newest))


class Calibrated:
    """Whether what something was read with was in calibration then; only the job's own instruments say."""

    def __init__(self, facts: Session) -> None:
        self._rows: dict[str, list[InstrumentFact]] = {}
        for row in calibrations(facts):
            self._rows.setdefault(plain_name(row.name), []).append(row)

    def overdue(self, name: str, day: str) -> str:
        """In words, where it was not in calibration on that day; else nothing."""
        rows = self._rows.get(plain_name(name), []) if name and day else []
        if not rows:
            return ""
        before = [row for row in rows if row.calibrated <= day]
        if not before:
            return f"{name} was first calibrated {rows[0].calibrated}, and read {day}"
        due = before[-1].due
        return f"{name} was due for calibration {due}, and read {day}" if day > due else ""


def _made(row: InstrumentFact) -> Instrument:
    kind = instrument(row.tool)
    source = f"calibrated {row.calibrated}"
    made = replace(kind, name=row.name, source=source)
    if resolution := length(row, "resolution"):
        made = replace(made, resolution_mm=float(resolution.mm))
    if standard := length(row, "standard"):
        made = replace(made, standard_mm=float(standard.mm))
    if largest := length(row, "limit"):
        made = replace(made, limit_mm=float(largest.mm), limit_per_m=0.0, end_mm=0.0)
    if row.grade:
        limit, per_m, end = class_limits(row.grade)
        made = replace(made, limit_mm=limit, limit_per_m=per_m, end_mm=end, whole_metres=True)
        made = replace(made, source=f"class {row.grade}, {source}")
    return made
