"""
What somebody signed, as facts repeat it, counts only while a signed entry says just that.

The fact tables are there for speed and anyone at the file can write to them. So the entry behind a signature, a permit
or a lock is read again, with its signature, whenever something is judged by it; and whose key is whose is read from the
entries that say so.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field

from sqlmodel import Session, select

from ledger.acts.base import Entry
from ledger.acts.release import Signed
from ledger.domain.errors import FitupError, NoEntry
from ledger.domain.sealed import read_body
from ledger.store.scratch import in_memory, scratch
from ledger.store.signers import counts_for, entries_about_keys, entries_of_kind, sound
from ledger.store.tables import Fact, JournalRow, KeyFact, LockFact, Permanent, PermitFact, SignatureFact

Vouchable = SignatureFact | PermitFact | LockFact


@dataclass
class Vouching:
    """The signed entries of a job, each read once; the journal must not change meanwhile."""

    facts: Session
    _keys: dict[str, KeyFact] | None = field(default=None, repr=False)
    _said: dict[tuple[int, str], frozenset[str]] = field(default_factory=dict, repr=False)
    _withdrawn: dict[int, str] | None = field(default=None, repr=False)

    def of(self, row: Vouchable) -> bool:
        """Whether the entry that the row names carries that person's signature and says what the row says."""
        key = (row.seq, row.person)
        if key not in self._said:
            self._said[key] = self._says(*key)
        return _as_text(row) in self._said[key]

    def withdrawn(self, permit: int) -> str:
        """
        By whom the permit of this entry was withdrawn, and why; empty where it was not.

        Read from the journal, and so of every entry that says it: less is accepted then, which needs no proof.
        """
        if self._withdrawn is None:
            entries = entries_of_kind(self.facts, "withdraw_permit")
            self._withdrawn = {b.act["permit"]: f"{b.by}: {b.act['reason']}" for b in entries}
        return self._withdrawn.get(permit, "")

    def _says(self, seq: int, person: str) -> frozenset[str]:
        from ledger.acts import read_act

        if not sound(self.facts, seq, person, self.counts):
            return frozenset()
        row = self.facts.get_one(JournalRow, seq)
        body = read_body(row.body)
        act = read_act(body.act)
        said = act.says(Entry(seq, row.hash, body.by, body.at)) if isinstance(act, Signed) else ()
        return frozenset(map(_as_text, said))

    def counts(self, key: str, person: str, seq: int) -> bool:
        """Whether this key was that person's when entry `seq` was written, as the entries about keys add up."""
        if self._keys is None:
            self._keys = _keys_of_the_journal(self.facts)
        known = self._keys.get(key)
        return known is not None and counts_for(known, person, seq)


def _keys_of_the_journal(facts: Session) -> dict[str, KeyFact]:
    """Every key, as the entries about people and keys add up, up to the first that was not allowed."""
    from ledger.acts.replay import follow

    job = facts.connection(bind_arguments={"mapper": JournalRow})
    with scratch() as memory, Session(binds={Permanent: job, Fact: memory}, info=in_memory(memory)) as ring:
        for row in entries_about_keys(facts):
            try:
                follow(ring, row)
            except NoEntry:
                continue
            except (FitupError, ValueError):
                break
        return {k.key: k for k in ring.exec(select(KeyFact))}


def _as_text(row: Fact) -> str:
    return f"{row.__tablename__} {json.dumps(row.model_dump(warnings=False), sort_keys=True)}"
