"""Orders and what came back of them, as facts."""

from __future__ import annotations

from sqlmodel import Session, select

from ledger.domain.order import Order, OrderLine, Receipt
from ledger.store.tables import OrderFact, OrderLineFact, ReceiptFact


def orders(facts: Session) -> tuple[Order, ...]:
    """Every order, the oldest first."""
    lines: dict[str, list[OrderLine]] = {}
    for line in sorted(facts.exec(select(OrderLineFact)).all(), key=lambda r: (r.ident, r.place)):
        lines.setdefault(line.ident, []).append(OrderLine(line.part, line.part_revision, line.quantity))
    came: dict[str, list[Receipt]] = {}
    for row in sorted(facts.exec(select(ReceiptFact)).all(), key=lambda r: (r.seq, r.part)):
        receipt = Receipt(row.part, row.part_revision, row.count, row.first, row.day, row.state, row.by)
        came.setdefault(row.ident, []).append(receipt)
    return tuple(
        Order(
            row.ident,
            row.vendor,
            row.sent,
            row.due,
            tuple(lines.get(row.ident, ())),
            row.reference,
            row.price,
            row.canceled,
            tuple(came.get(row.ident, ())),
        )
        for row in sorted(facts.exec(select(OrderFact)).all(), key=lambda r: (r.sent, r.ident))
    )
