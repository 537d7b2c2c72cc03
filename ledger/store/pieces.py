"""Pieces that came back and what was measured of them, as facts."""

from __future__ import annotations

from sqlmodel import Session, select

from ledger.domain.piece import Feature, Piece
from ledger.domain.shape import Hole
from ledger.store.exact import length
from ledger.store.facts import part as record_of
from ledger.store.rows import row_with
from ledger.store.tables import FeatureFact, PartFact, ReceiptFact


def pieces(facts: Session) -> tuple[Piece, ...]:
    """Every piece that came back, by part and number."""
    read: dict[tuple[str, int], list[Feature]] = {}
    for row in sorted(facts.exec(select(FeatureFact)).all(), key=lambda r: (r.part, r.piece, r.name)):
        x, y = length(row, "x"), length(row, "y")
        sure = length(row, "uncertainty")
        if sure is not None:
            at = (x, y) if x is not None and y is not None else None
            feature = Feature(
                row.name, length(row, "value"), at, sure, row.instrument, row.coated, row.by, row.day
            )
            read.setdefault((row.part, row.piece), []).append(feature)
    found = [
        Piece(r.part, n, r.part_revision, r.ident, r.state, tuple(read.get((r.part, n), ())))
        for r in facts.exec(select(ReceiptFact)).all()
        for n in range(r.first, r.first + r.count)
    ]
    return tuple(sorted(found, key=lambda p: (p.part, p.number)))


def drawn_hole(facts: Session, number: str, revision: str, label: str) -> Hole | None:
    """A hole of a revision as it is drawn."""
    row = row_with(facts, PartFact, number, revision)
    return record_of(facts, row).hole(label) if row else None
