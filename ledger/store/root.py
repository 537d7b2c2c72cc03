"""
The root of a job: the public key of the first person, from whom everybody else's may be followed.

Its short form (`short_key`) is on every paper and packet, to compare by eye with one known from elsewhere.
"""

from __future__ import annotations

from sqlmodel import Session

from ledger.store.signers import entries_of_kind


def root_of(facts: Session) -> str:
    """The root as the journal names it, in hex; empty while nobody is enrolled."""
    first = next(entries_of_kind(facts, "enroll_person"), None)
    return str(first.act.get("key", "")) if first else ""
