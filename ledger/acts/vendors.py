"""The act by which a vendor is recorded: what they cut by, their lead time and their working days."""

from __future__ import annotations

import json
from typing import Any, Literal

from pydantic import Field
from sqlmodel import Session

from ledger.acts.base import Act, Day, Entry, Name, put
from ledger.domain.errors import BadInput
from ledger.domain.vendor import LISTS, MOST_LEAD, WORKING_WEEK
from ledger.standards.processes import process
from ledger.store.tables import VendorFact


class RecordVendor(Act):
    """
    A vendor as a whole; recorded again, it replaces what was recorded before.

    Days off are single days, so that a calendar stays what it was whatever a list of holidays says later.
    """

    concerns = ("vendor", "name")
    kind: Literal["record_vendor"] = "record_vendor"
    name: Name
    processes: tuple[Name, ...] = ()
    lead_days: int | None = Field(default=None, ge=0, le=MOST_LEAD)
    weekdays: tuple[int, ...] = WORKING_WEEK
    days_off: tuple[Day, ...] = ()

    def check(self, facts: Session) -> None:
        self.rules(facts)
        for name in self.processes:
            process(name)

    def rules(self, facts: Session) -> None:
        if not self.weekdays or not {*self.weekdays} <= set(range(7)):
            raise BadInput(
                "a vendor who never works; expected at least one day of the week, such as Mon..Fri"
            )
        if list(self.weekdays) != sorted({*self.weekdays}) or list(self.days_off) != sorted({*self.days_off}):
            raise BadInput("days of a calendar are named in order, each once")

    def apply(self, facts: Session, entry: Entry) -> None:
        said: dict[str, Any] = self.model_dump(include=set(VendorFact.model_fields))
        said |= {name: json.dumps(list(said[name])) for name in LISTS}
        put(facts, VendorFact(**said))
