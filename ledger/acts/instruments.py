"""The act of an instrument of the job's own: what it is good for, and its calibration."""

from __future__ import annotations

import calendar
import re
from datetime import date
from typing import Literal

from pydantic import Field
from sqlmodel import Session

from ledger.acts.base import Act, Entry, Name, OptionalName, put
from ledger.acts.quantities import OptionalLength, fact_fields
from ledger.domain.errors import BadInput, visible
from ledger.domain.moment import day
from ledger.standards.instruments import class_limits, instrument
from ledger.store.tables import InstrumentFact


class RecordInstrument(Act):
    """
    An instrument at a calibration; recorded again, the new calibration counts from its own day.

    How good it is: `standard`, its standard uncertainty from the certificate (k = 1); or `limit`, its largest error
    either side; or `grade`, the class of a tape; else what its kind has. `day` is the day it was recorded.
    """

    concerns = ("instrument", "name")
    kind: Literal["record_instrument"] = "record_instrument"
    name: Name
    tool: Name
    resolution: OptionalLength = None
    standard: OptionalLength = None
    limit: OptionalLength = None
    grade: OptionalName = ""
    calibrated: str
    months: int = Field(default=12, ge=1, le=120)
    day: str

    def check(self, facts: Session) -> None:
        instrument(self.tool)
        if re.match(r"[\d.±+-]", self.name):
            raise BadInput(
                f"the instrument {visible(self.name)!r} begins like a reading: put a word first, as in tape 5 m"
            )
        if sum(map(bool, (self.standard, self.limit, self.grade))) > 1:
            raise BadInput(
                "say once how good it is: its standard uncertainty, its largest error, or its class"
            )
        if self.grade:
            class_limits(self.grade)
        calibrated, today = day(self.calibrated), day(self.day)
        if calibrated > today:
            raise BadInput(
                f"a calibration on {self.calibrated} is in the future; today is {self.day}: look at the certificate"
            )

    def apply(self, facts: Session, entry: Entry) -> None:
        fields = fact_fields(InstrumentFact, self)
        put(
            facts,
            InstrumentFact(
                due=_later(date.fromisoformat(self.calibrated), self.months).isoformat(), **fields
            ),
        )


def _later(start: date, months: int) -> date:
    """The same day so many months later, or the last of a shorter month."""
    place = start.year * 12 + start.month - 1 + months
    year, month = place // 12, place % 12 + 1
    return date(year, month, min(start.day, calendar.monthrange(year, month)[1]))
