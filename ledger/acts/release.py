"""Acts about people and what they answer for: the job, enrollment, policy, signature, lock."""

from __future__ import annotations

import json
from typing import Annotated, ClassVar, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from sqlmodel import Session, select

from ledger.acts.base import (
    Act,
    Entry,
    Name,
    Text,
    one_of,
    open_part,
    person_named,
    put,
)
from ledger.acts.parts import Digest
from ledger.acts.quantities import AmountField, OptionalAmount, fact_fields
from ledger.domain.errors import BadInput, Tampered, visible
from ledger.domain.record import ROLES
from ledger.domain.required_odds import USUAL, read_odds
from ledger.store.signers import keys_in_force
from ledger.store.tables import (
    DimensionFact,
    Fact,
    JobFact,
    KeyFact,
    LockFact,
    NonceFact,
    PacketFact,
    PartFact,
    PersonFact,
    SignatureFact,
)

RoleText = Annotated[str, AfterValidator(one_of("role", ROLES))]
Key = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


class OpenJob(Act):
    """The first entry: the job has a name, an identity and a policy."""

    kind: Literal["open_job"] = "open_job"
    firm: Name
    ident: Name
    roles: tuple[RoleText, ...] = ("drawn", "checked")

    def check(self, facts: Session) -> None:
        if facts.exec(select(JobFact)).first():
            raise BadInput("this job is open already")

    def apply(self, facts: Session, entry: Entry) -> None:
        put(facts, JobFact(ident=self.ident, firm=self.firm, roles=json.dumps(list(self.roles))))


class SetPolicy(Act):
    """Which roles must sign, which warnings stop, and which odds holes need."""

    kind: Literal["set_policy"] = "set_policy"
    roles: tuple[RoleText, ...] = Field(min_length=1)
    raised: tuple[Name, ...] = ()
    odds: Annotated[str, AfterValidator(read_odds)] = USUAL

    def apply(self, facts: Session, entry: Entry) -> None:
        job = facts.exec(select(JobFact)).one()
        lists = {"roles": json.dumps(list(self.roles)), "raised": json.dumps(sorted(self.raised))}
        fields = {**lists, "odds": self.odds}
        put(facts, JobFact(**{**job.model_dump(), **fields}))


class EnrollPerson(Act):
    """A person who may sign, with the public half of a key."""

    kind: Literal["enroll_person"] = "enroll_person"
    name: Name
    key: Key
    roles: tuple[RoleText, ...] = Field(min_length=1)

    def check(self, facts: Session) -> None:
        if facts.get(PersonFact, self.name):
            raise BadInput(f"{visible(self.name)} is enrolled already")
        if facts.get(KeyFact, self.key):
            raise BadInput("that key is already enrolled for someone else: make a new one")

    def apply(self, facts: Session, entry: Entry) -> None:
        if facts.get(PersonFact, self.name) or facts.get(KeyFact, self.key):
            raise Tampered(f"entry {entry.seq} enrolls somebody or a key a second time")
        put(facts, PersonFact(name=self.name, key=self.key, roles=json.dumps(list(self.roles))))
        put(facts, KeyFact(key=self.key, person=self.name, since=entry.seq))


class Signed(Act):
    """What every signed act names: who, with which key, a nonce and the seal that was seen."""

    signed: ClassVar[bool] = True
    person: Name
    key: Key
    nonce: Annotated[str, Field(pattern="^[0-9a-f]{32}$")]
    seal: Annotated[str, Field(pattern="^[0-9]+:[0-9a-f]{64}$")]

    def says(self, entry: Entry) -> tuple[Fact, ...]:
        """The rows that repeat what was signed: they count only so long as the entry says the same."""
        return ()

    def _check_signer(self, facts: Session) -> PersonFact:
        person = person_named(facts, self.person)
        if self.key not in keys_in_force(facts, self.person):
            raise BadInput(f"that is no key {visible(self.person)} signs with now")
        if facts.get(NonceFact, self.nonce):
            raise BadInput("this signature is recorded already; sign again")
        return person

    def _keep_nonce(self, facts: Session, entry: Entry) -> None:
        if facts.get(NonceFact, self.nonce):
            raise Tampered(f"entry {entry.seq} uses a signature a second time")
        put(facts, NonceFact(nonce=self.nonce, seq=entry.seq))


class SubjectField(BaseModel):
    """One revision by its subject."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    number: Name
    revision: Name
    subject: Digest
    acknowledged: tuple[Text, ...] = ()


class SignRevision(Signed):
    """A person, in a role, for exactly these subjects; warnings shown are acknowledged one by one."""

    kind: Literal["sign_revision"] = "sign_revision"
    role: RoleText
    meaning: Text
    subjects: tuple[SubjectField, ...] = Field(min_length=1)
    self_check: bool = False
    re_entered: tuple[Text, ...] = ()

    def check(self, facts: Session) -> None:
        person = self._check_signer(facts)
        roles = json.loads(person.roles)
        if self.role not in roles:
            raise BadInput(f"{visible(self.person)} may sign as {', '.join(roles)}, not as {self.role}")
        for subject in self.subjects:
            open_part(facts, subject.number)

    def apply(self, facts: Session, entry: Entry) -> None:
        self._keep_nonce(facts, entry)
        for row in self.says(entry):
            put(facts, row)

    def says(self, entry: Entry) -> tuple[Fact, ...]:
        """A row for every subject."""
        return tuple(
            SignatureFact(
                seq=entry.seq,
                person=self.person,
                role=self.role,
                self_check=self.self_check,
                number=s.number,
                revision=s.revision,
                subject=s.subject,
                acknowledged=json.dumps(list(s.acknowledged)),
            )
            for s in self.subjects
        )


class Fixed(BaseModel):
    """What a calculated dimension came to when its part was locked, with its U where it has one."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    name: Name
    nominal: AmountField
    uncertainty: OptionalAmount = None


class LockedPart(BaseModel):
    """
    One revision that the lock freezes. `record` is the digest of its job record, which stays at home; `fixed` are
    the values of its calculated dimensions, which no longer follow others from now on.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")
    number: Name
    revision: Name
    subject: Digest
    verdict: Digest
    dxf: str = ""
    dxf_name: Text = ""
    record: Annotated[str, Field(pattern="^([0-9a-f]{64})?$")] = ""
    fixed: tuple[Fixed, ...] = ()

    def freeze(self, facts: Session) -> None:
        """Lock the revision, with its calculated dimensions as they are."""
        row = facts.get_one(PartFact, (self.number, self.revision))
        put(facts, PartFact(**{**row.model_dump(), "locked": True}))
        for one in self.fixed:
            old = facts.get_one(DimensionFact, (self.number, self.revision, one.name))
            put(facts, DimensionFact(**{**old.model_dump(), **fact_fields(DimensionFact, one)}))


class Lock(Signed):
    """The act that freezes revisions and says what leaves."""

    kind: Literal["lock"] = "lock"
    parts: tuple[LockedPart, ...] = Field(min_length=1)
    contents: dict[str, Digest]

    def check(self, facts: Session) -> None:
        self._check_signer(facts)
        for part in self.parts:
            if open_part(facts, part.number).revision != part.revision:
                raise BadInput(f"{visible(part.number)} is at another revision now; look again")

    def apply(self, facts: Session, entry: Entry) -> None:
        self._keep_nonce(facts, entry)
        for part, row in zip(self.parts, self.says(entry), strict=True):
            part.freeze(facts)
            put(facts, row)

    def says(self, entry: Entry) -> tuple[Fact, ...]:
        """A row for every revision that is locked."""
        return tuple(
            LockFact(seq=entry.seq, person=self.person, **p.model_dump(exclude={"fixed"})) for p in self.parts
        )


class KeepPacket(Act):
    """The packet that a lock made, by its digest, so that the kept bytes can be handed out again."""

    kind: Literal["keep_packet"] = "keep_packet"
    lock_seq: int
    sha256: Digest
    file_name: Text
    contents: dict[str, Digest]

    def apply(self, facts: Session, entry: Entry) -> None:
        contents = json.dumps(self.contents, sort_keys=True)
        put(
            facts,
            PacketFact(
                lock_seq=self.lock_seq, sha256=self.sha256, file_name=self.file_name, contents=contents
            ),
        )
