"""
What somebody signed, as facts repeat it, counts only while a signed entry says just that.

The fact tables are there for speed and anyone at the file can write to them. So the entry behind a signature, a permit
or a lock is read again, with its signature, whenever something is judged by it; and whose key is whose is read from the
entries that say so.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

from sqlmodel import Session

from ledger.acts.base import Entry
from ledger.acts.release import Signed
from ledger.domain.errors import FitupError
from ledger.domain.sealed import read_body
from ledger.store.rows import rows_with
from ledger.store.scratch import in_memory, scratch
from ledger.store.signers import counts_for, sound
from ledger.store.tables import (
    Fact,
    JournalRow,
    KeyFact,
    LockFact,
    Permanent,
    PermitFact,
    PersonFact,
    SignatureFact,
)

ABOUT_PEOPLE: Final = ("open_job", "enroll_person", "change_key", "change_roles", "set_policy")
Vouchable = SignatureFact | PermitFact | LockFact


@dataclass
class Vouching:
    """The signed entries of a job, each read once; the journal must not change meanwhile."""

    facts: Session
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
            from ledger.acts.replay import counted

            entries = counted(self.facts, ("withdraw_permit",))
            self._withdrawn = {b.act["permit"]: f"{b.by}: {b.act['reason']}" for _, b, _ in entries}
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
        known = self.people.keys.get(key)
        return known is not None and counts_for(known, person, seq)

    @cached_property
    def people(self) -> People:
        """Who was what in this job, as the entries about people, keys and policy add up."""
        return _people_of_the_journal(self.facts)


@dataclass
class People:
    """
    What the entries about people, keys and policy add up to: `told` are those of them that were allowed, by number,
    `stopped` says which was not and why; nothing of these from there on counts.
    """

    keys: dict[str, KeyFact] = field(default_factory=dict)
    told: set[int] = field(default_factory=set)
    stopped: str = ""
    _roles: dict[str, list[tuple[int, tuple[str, ...]]]] = field(default_factory=dict)

    def roles(self, person: str, seq: int) -> tuple[str, ...]:
        """The roles that a person had when entry `seq` was written."""
        return next((roles for since, roles in reversed(self._roles.get(person, [])) if since < seq), ())

    def take(self, ring: Session, seq: int) -> None:
        """What stands after entry `seq`."""
        self.told.add(seq)
        for person in rows_with(ring, PersonFact):
            had, roles = self._roles.setdefault(person.name, []), tuple(json.loads(person.roles))
            if not had or had[-1][1] != roles:
                had.append((seq, roles))


def _people_of_the_journal(facts: Session) -> People:
    """The same up to the first of these entries that was not allowed."""
    from ledger.acts.replay import counted, follow

    found = People()
    job = facts.connection(bind_arguments={"mapper": JournalRow})
    with scratch() as memory, Session(binds={Permanent: job, Fact: memory}, info=in_memory(memory)) as ring:
        for row, body, _act in counted(facts, ABOUT_PEOPLE):
            try:
                follow(ring, row)
            except (FitupError, ValueError) as no:
                what = body.act["kind"].replace("_", " ")
                found.stopped = f"entry {row.seq} ({what}) was not allowed: {no}"
                break
            found.take(ring, row.seq)
        found.keys = {k.key: k for k in rows_with(ring, KeyFact)}
    return found


def _as_text(row: Fact) -> str:
    return f"{row.__tablename__} {json.dumps(row.model_dump(warnings=False), sort_keys=True)}"
