"""
What somebody signed, as facts repeat it, counts only while a signed entry says just that.

The fact tables are there for speed and anyone at the file can write to them. So the entry behind a sign-off, a permit
or a lock is read again, with its signature, whenever something is judged by it.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field

from sqlmodel import Session

from ledger.acts.base import Entry
from ledger.acts.release import Signed
from ledger.store.sealed import read_body
from ledger.store.signers import sound
from ledger.store.tables import Fact, JournalRow, LockFact, PermitFact, SignOffFact

Vouchable = SignOffFact | PermitFact | LockFact


@dataclass
class Vouching:
    """The signed entries of a shop, each read once; the journal must not change meanwhile."""

    facts: Session
    _said: dict[tuple[int, str], frozenset[str]] = field(default_factory=dict, repr=False)

    def of(self, row: Vouchable) -> bool:
        """Whether the entry that the row names carries that person's signature and says what the row says."""
        key = (row.seq, row.person)
        if key not in self._said:
            self._said[key] = self._says(*key)
        return _as_text(row) in self._said[key]

    def _says(self, seq: int, person: str) -> frozenset[str]:
        from ledger.acts import read_act

        if not sound(self.facts, seq, person):
            return frozenset()
        row = self.facts.get_one(JournalRow, seq)
        body = read_body(row.body)
        act = read_act(body.act)
        said = act.says(Entry(seq, row.hash, body.by, body.at)) if isinstance(act, Signed) else ()
        return frozenset(map(_as_text, said))


def _as_text(row: Fact) -> str:
    return f"{row.__tablename__} {json.dumps(row.model_dump(warnings=False), sort_keys=True)}"
