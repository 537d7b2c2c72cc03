"""
Acts about people: enrolled with a key of their own, given other roles, retired.

The first person founds the job: they enroll themselves, as its *keeper*, and their key is the job's root. Whatever
else is done about people is signed by somebody who is a keeper then.
"""

from __future__ import annotations

import json
from typing import Annotated, Literal

from pydantic import AfterValidator, Field
from sqlmodel import Session

from ledger.acts.base import Entry, Name, Text, one_of, person_named, put
from ledger.acts.release import Key, Signed, keepers, people_now, require_keeper
from ledger.domain.errors import BadInput, visible
from ledger.domain.record import KEEPER, PERSON_ROLES
from ledger.store.rows import row_with, rows_with, the_row
from ledger.store.signers import keys_in_force
from ledger.store.tables import JobFact, KeyFact, PersonFact

PersonRole = Annotated[str, AfterValidator(one_of("role", PERSON_ROLES))]


class EnrollPerson(Signed):
    """A person who may sign, with the public half of a key of theirs; the first one signs with just that."""

    kind: Literal["enroll_person"] = "enroll_person"
    version: Literal[2] = 2
    name: Name
    adds: Key
    roles: tuple[PersonRole, ...] = Field(min_length=1)

    def rules(self, facts: Session) -> None:
        if rows_with(facts, PersonFact):
            require_keeper(facts, self._signer(facts))
        else:
            self._founds(facts)
        if not self.roles:
            raise BadInput("a person is enrolled in at least one role")
        if row_with(facts, PersonFact, self.name):
            raise BadInput(f"{visible(self.name)} is enrolled already")
        if row_with(facts, KeyFact, self.adds):
            raise BadInput("that key is already enrolled for someone else: make a new one")

    def _founds(self, facts: Session) -> None:
        self._fresh(facts)
        if (self.person, self.key) != (self.name, self.adds):
            raise BadInput("the first person of a job enrolls themselves, with the key that they sign with")
        if KEEPER not in self.roles:
            raise BadInput("the first person of a job is its keeper")

    def apply(self, facts: Session, entry: Entry) -> None:
        self._keep_nonce(facts, entry)
        founds = self.person == self.name
        put(facts, PersonFact(name=self.name, key=self.adds, roles=json.dumps(list(self.roles))))
        added_with = "" if founds else self.key
        put(facts, KeyFact(key=self.adds, person=self.name, since=entry.seq, added_with=added_with))
        job = the_row(facts, JobFact)
        if founds:
            put(facts, JobFact(**{**job.model_dump(), "root": self.adds}))


class ChangeRoles(Signed):
    """The roles of a person from now on; with none they are retired, and their keys with them."""

    kind: Literal["change_roles"] = "change_roles"
    name: Name
    roles: tuple[PersonRole, ...]
    reason: Text

    def rules(self, facts: Session) -> None:
        require_keeper(facts, self._signer(facts))
        if person_named(facts, self.name).retired:
            raise BadInput(f"{visible(self.name)} is retired and stays so; enroll them under another name")
        if not self.reason:
            raise BadInput("a change of roles needs a reason")
        others = (p for p in keepers(people_now(facts)) if p.name != self.name)
        if KEEPER not in self.roles and not any(keys_in_force(facts, p.name) for p in others):
            raise BadInput("that is the last keeper of the job: make somebody else a keeper first")

    def apply(self, facts: Session, entry: Entry) -> None:
        self._keep_nonce(facts, entry)
        person = person_named(facts, self.name)
        fields = {**person.model_dump(), "roles": json.dumps(list(self.roles))}
        if not self.roles:
            fields |= {"key": "", "retired": entry.seq}
            for key in keys_in_force(facts, self.name):
                old = the_row(facts, KeyFact, key).model_dump()
                gone = {"until": entry.seq, "retired": entry.seq, "reason": self.reason}
                put(facts, KeyFact(**{**old, **gone}))
        put(facts, PersonFact(**fields))
