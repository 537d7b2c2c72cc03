"""Hardware on hand, as facts."""

from __future__ import annotations

from sqlmodel import Session, select

from ledger.store.tables import OnHandFact


def on_hand(facts: Session) -> dict[tuple[str, str, str], tuple[int, str]]:
    """How many there are, and the length as written, by item, size and length in mm (empty for one that has none)."""
    rows = facts.exec(select(OnHandFact))
    return {(row.item, row.size, row.length_mm): (row.count, row.length) for row in rows}
