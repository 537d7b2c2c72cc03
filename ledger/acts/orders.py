"""Acts about orders: sent to a vendor, received piece by piece, canceled."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session

from ledger.acts.base import Act, Day, Entry, Name, Text, make, newest_part, put
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.order import MOST_PIECES
from ledger.domain.plural import counted
from ledger.store.orders import orders
from ledger.store.rows import row_with, rows_with
from ledger.store.tables import OrderFact, OrderLineFact, PartFact, ReceiptFact, VendorFact
from ledger.store.vendors import vendors
from ledger.words.vendors import cut_by


class OrderedPart(BaseModel):
    """One line of an order."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    part: Name
    revision: Name
    quantity: int = Field(ge=1, le=MOST_PIECES)


class RecordOrder(Act):
    """What was sent to a vendor. Only locked revisions are ordered; what was sent is not changed, but canceled."""

    concerns = ("order", "ident")
    kind: Literal["record_order"] = "record_order"
    ident: Name
    vendor: Name
    sent: Day
    due: Day = ""
    reference: Text = ""
    price: Text = ""
    lines: tuple[OrderedPart, ...] = Field(min_length=1)

    def rules(self, facts: Session) -> None:
        if row_with(facts, OrderFact, self.ident):
            raise BadInput(f"there is an order {visible(self.ident)} already: give this one another name")
        if row_with(facts, VendorFact, self.vendor) is None:
            raise UnknownName("vendor", self.vendor, [v.name for v in vendors(facts)])
        if not self.sent or (self.due and self.due < self.sent):
            raise BadInput(
                f"sent {self.sent or 'on no day'}, due {self.due or 'on no day'}; expected the day it was sent, and "
                "no earlier day that it is due"
            )
        if len({line.part for line in self.lines}) != len(self.lines):
            raise BadInput("an order names each part once")
        for line in self.lines:
            row = row_with(facts, PartFact, line.part, line.revision)
            if row is None:
                known = [r.revision for r in rows_with(facts, PartFact, by="place", number=line.part)]
                raise UnknownName(f"revision of {line.part}", line.revision, known)
            if row.form != "cut" or not row.locked:
                what = (
                    "is not cut by a vendor" if row.form != "cut" else "is not locked: lock it, then order it"
                )
                raise BadInput(f"{visible(line.part)} revision {line.revision} {what}")

    def apply(self, facts: Session, entry: Entry) -> None:
        own = self.model_dump(include={"ident", "vendor", "sent", "due", "reference", "price"})
        put(facts, OrderFact(**own))
        for place, line in enumerate(self.lines):
            named = {"ident": self.ident, "part": line.part, "part_revision": line.revision}
            put(facts, OrderLineFact(place=place, quantity=line.quantity, **named))


class CancelOrder(Act):
    """An order is not to be carried out any more; what has come back of it stays."""

    concerns = ("order", "ident")
    kind: Literal["cancel_order"] = "cancel_order"
    ident: Name
    reason: Text

    def rules(self, facts: Session) -> None:
        row = order_named(facts, self.ident)
        if not self.reason:
            raise BadInput("canceling an order needs a reason")
        if row.canceled:
            raise BadInput(f"order {visible(self.ident)} is canceled already: {visible(row.canceled)}")

    def apply(self, facts: Session, entry: Entry) -> None:
        row = order_named(facts, self.ident)
        put(facts, OrderFact(**{**row.model_dump(), "canceled": self.reason}))


class ReceivedPart(BaseModel):
    """Pieces of one part of an order."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    part: Name
    count: int = Field(ge=1, le=MOST_PIECES)


class RecordReceipt(Act):
    """Pieces that came back, numbered on among all pieces of their part."""

    concerns = ("order", "ident")
    kind: Literal["record_receipt"] = "record_receipt"
    ident: Name
    day: Day
    lines: tuple[ReceivedPart, ...] = Field(min_length=1)
    state: Text = ""

    def rules(self, facts: Session) -> None:
        row = order_named(facts, self.ident)
        if row.canceled:
            raise BadInput(f"order {visible(self.ident)} is canceled: {visible(row.canceled)}")
        if self.day < row.sent:
            raise BadInput(
                f"received on {self.day or 'no day'}; order {visible(self.ident)} was sent on {row.sent}"
            )
        if len({line.part for line in self.lines}) != len(self.lines):
            raise BadInput("a receipt names each part once")
        ordered = {x.part: x for x in rows_with(facts, OrderLineFact, by="place", ident=self.ident)}
        for line in self.lines:
            if line.part not in ordered:
                raise UnknownName(f"part of order {self.ident}", line.part, ordered)
            before = _received(facts, ident=self.ident, part=line.part)
            most = ordered[line.part].quantity
            if before + line.count > most:
                told = f", {before} came before" if before else ""
                raise BadInput(
                    f"{counted(line.count, 'piece')} of {visible(line.part)}: {most} were ordered{told}; record "
                    f"{most - before} here, and order the others"
                )

    def apply(self, facts: Session, entry: Entry) -> None:
        ordered = {x.part: x for x in rows_with(facts, OrderLineFact, by="place", ident=self.ident)}
        for line in self.lines:
            named = {
                "ident": self.ident,
                "part": line.part,
                "part_revision": ordered[line.part].part_revision,
            }
            said = {"day": self.day, "state": self.state, "by": entry.by}
            first = 1 + _received(facts, part=line.part)
            put(facts, ReceiptFact(seq=entry.seq, count=line.count, first=first, **named, **said))


def order_named(facts: Session, ident: str) -> OrderFact:
    """An order. Raises UnknownName."""
    found = row_with(facts, OrderFact, ident)
    if found is None:
        raise UnknownName("order", ident, [o.ident for o in orders(facts)])
    return found


def order_made(
    facts: Session,
    today: str,
    *,
    parts: Mapping[str, int | None],
    sent: str = "",
    due: str = "",
    **fields: str,
) -> RecordOrder:
    """
    The act of an order as it was written: of every part its newest locked revision, and as many as are recorded.

    It is sent today and due after the vendor's lead unless something else is said. Raises BadInput, UnknownName.
    """
    lines = []
    for number, quantity in parts.items():
        newest = newest_part(facts, number)
        locked = [r for r in rows_with(facts, PartFact, by="place", number=number) if r.locked]
        row = locked[-1] if locked else newest
        count = quantity or row.quantity
        if not count:
            raise BadInput(f"how many of {visible(number)}? expected such as {visible(number)} 2")
        lines.append({"part": number, "revision": row.revision, "quantity": count})
    on = sent or today
    if not due:
        due = next((cut_by(v, on) for v in vendors(facts) if v.name == fields["vendor"]), "")
    return make(RecordOrder, sent=on, due=due, lines=tuple(lines), **fields)


def receipt_made(
    _facts: Session, today: str, *, ident: str, parts: Mapping[str, int], day: str = "", state: str = ""
) -> RecordReceipt:
    """The act of a receipt as it was written; it came today unless another day is said. Raises BadInput."""
    lines = tuple({"part": part, "count": count} for part, count in parts.items())
    return make(RecordReceipt, ident=ident, day=day or today, lines=lines, state=state)


def _received(facts: Session, **of: str) -> int:
    return sum(row.count for row in rows_with(facts, ReceiptFact, by="seq", **of))
