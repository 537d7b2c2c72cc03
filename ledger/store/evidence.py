"""What is kept as evidence, in the order it was kept."""

from __future__ import annotations

from sqlmodel import Session

from ledger.domain.evidence import Evidence
from ledger.store.facts import kept_file
from ledger.store.rows import rows_with
from ledger.store.tables import EvidenceFact


def evidence(facts: Session) -> tuple[Evidence, ...]:
    """Every file that is kept with something, by what it belongs to."""
    found = (
        Evidence(row.to, row.owner, row.name, row.file_name, row.sha256, row.size, row.by, row.day)
        for row in rows_with(facts, EvidenceFact)
    )
    return tuple(sorted(found, key=lambda one: (one.address, one.day, one.file, one.sha256)))


def evidence_files(facts: Session) -> tuple[tuple[Evidence, bytes], ...]:
    """The same with its bytes. Raises Tampered."""
    return tuple((one, kept_file(facts, one.sha256)) for one in evidence(facts))
