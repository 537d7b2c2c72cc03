"""
Keys that come and go: a second one for another workstation, a new one for a lost one, one retired for good.

The act is signed: by the person with a key in force, or by a keeper of the job, who answers for it. So nobody becomes
another person by writing to the job's file. Nobody replaces the only key of the only keeper once it is lost: a keeper
adds a second key, or makes another person a keeper, before that. A key that was in wrong hands takes those with it
that were added with it meanwhile.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field
from sqlmodel import Session, select

from ledger.acts.base import Entry, Name, Text, person_named, put
from ledger.acts.release import Signed, keepers, people_now, require_keeper
from ledger.domain.errors import BadInput, visible
from ledger.store.rows import row_with, rows_with, the_row
from ledger.store.signers import keys_in_force
from ledger.store.tables import KeyFact, PersonFact

KeyOrNone = Annotated[str, Field(pattern="^([0-9a-f]{64})?$")]


class ChangeKey(Signed):
    """A key retired from an entry on (0: from this one), a key added, or one for the other."""

    kind: Literal["change_key"] = "change_key"
    name: Name
    retires: KeyOrNone = ""
    adds: KeyOrNone = ""
    until: Annotated[int, Field(ge=0)] = 0
    reason: Text

    def rules(self, facts: Session) -> None:
        changed, signer = person_named(facts, self.name), self._signer(facts)
        if changed.retired:
            raise BadInput(f"{visible(self.name)} is retired and has no keys any more")
        if self.person != self.name:
            require_keeper(facts, signer)
        if not self.reason:
            raise BadInput("a change of keys needs a reason")
        if not (self.retires or self.adds):
            raise BadInput("neither a key to retire nor one to add: say which")
        if self.adds and row_with(facts, KeyFact, self.adds) is not None:
            raise BadInput("that key was somebody's already: make a new one")
        if self.retires:
            self._check_retired(facts)

    def _check_retired(self, facts: Session) -> None:
        if self.retires not in keys_in_force(facts, self.name):
            raise BadInput(f"{self.retires[:16]} is no key that {visible(self.name)} signs with now")
        last = int(self.seal.partition(":")[0])
        since = the_row(facts, KeyFact, self.retires).since
        if self.until and not since < self.until <= last:
            raise BadInput(
                f"a key known from entry {since} on cannot be retired from entry {self.until}: "
                f"name one from {since + 1} to {last}, or none for now"
            )
        kept = {p.name for p in keepers(people_now(facts))}
        in_force = rows_with(facts, KeyFact, until=0)
        left = {k.key for k in in_force if k.person in kept} - self._gone(facts, last + 1).keys()
        if not (left or (self.adds and self.name in kept)):
            raise BadInput("that is the last key of a keeper of this job: replace it instead")

    def _gone(self, facts: Session, seq: int) -> dict[str, int]:
        """The key that is retired and until when it counts; and those that were added with it when it did not."""
        gone: dict[str, int] = {}
        todo = [(self.retires, self.until or seq)]
        while todo:
            key, until = todo.pop()
            gone[key] = until
            added = facts.exec(select(KeyFact).where(KeyFact.added_with == key, KeyFact.since >= until))
            todo += [(k.key, k.since) for k in added]
        return gone

    def apply(self, facts: Session, entry: Entry) -> None:
        self._keep_nonce(facts, entry)
        changed = {self.name}
        for key, until in self._gone(facts, entry.seq).items() if self.retires else ():
            old = the_row(facts, KeyFact, key)
            gone = {"until": until, "retired": entry.seq, "reason": self.reason}
            put(facts, KeyFact(**{**old.model_dump(), **gone}))
            changed.add(old.person)
        if self.adds:
            put(facts, KeyFact(key=self.adds, person=self.name, since=entry.seq, added_with=self.key))
        for name in sorted(changed):
            newest = next(iter(keys_in_force(facts, name)), "")
            person = the_row(facts, PersonFact, name)
            put(facts, PersonFact(**{**person.model_dump(), "key": newest}))
