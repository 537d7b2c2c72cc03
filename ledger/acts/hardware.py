"""The act by which it is recorded how many of an item of hardware are on hand."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field
from sqlmodel import Session

from ledger.acts.base import Act, Entry, Name, one_of, put
from ledger.acts.quantities import OptionalLength, fact_fields
from ledger.domain.errors import BadInput, visible
from ledger.domain.needed import ITEMS, MOST, WASHER, WITH_LENGTH
from ledger.domain.quantity import plain
from ledger.standards.fasteners import fastener
from ledger.standards.hardware import washer_size
from ledger.store.tables import OnHandFact


class RecordOnHand(Act):
    """How many of an item are on hand; recorded again, it replaces what was recorded before."""

    concerns = ("hardware", "item")
    kind: Literal["record_on_hand"] = "record_on_hand"
    item: Annotated[str, AfterValidator(one_of("item of hardware", ITEMS))]
    size: Name
    length: OptionalLength = None
    count: int = Field(ge=0, le=MOST)

    def check(self, facts: Session) -> None:
        self.rules(facts)
        known = fastener(self.size)
        expected = washer_size(known) if self.item == WASHER else known.designation
        if self.size != expected:
            raise BadInput(f"read {visible(self.size)!r}; expected {expected}")

    def rules(self, facts: Session) -> None:
        if self.length and self.item not in WITH_LENGTH:
            raise BadInput(f"a {self.item} has no length; expected such as '40 {self.item} {self.size}'")

    def apply(self, facts: Session, entry: Entry) -> None:
        length_mm = plain(self.length.mm) if self.length else ""
        put(facts, OnHandFact(length_mm=length_mm, **fact_fields(OnHandFact, self)))
