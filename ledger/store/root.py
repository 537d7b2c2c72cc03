"""
The root of a job: the public key of the first person, from whom everybody else's may be followed.

Its short form stands on every paper and packet, so that it can be compared by eye with one known from elsewhere.
"""

from __future__ import annotations

from sqlmodel import Session

from ledger.store.signers import entries_of_kind

_FIGURES, _GROUP = 20, 4


def root_of(facts: Session) -> str:
    """The root as the journal names it, in hex; empty while nobody is enrolled."""
    first = next(entries_of_kind(facts, "enroll_person"), None)
    return str(first.act.get("key", "")) if first else ""


def short(root: str) -> str:
    """The first twenty figures, in fours: enough that nobody makes a key to match, few enough to read aloud."""
    return " ".join(root[k : k + _GROUP] for k in range(0, min(len(root), _FIGURES), _GROUP))
