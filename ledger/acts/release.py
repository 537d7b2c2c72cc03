"""Acts about what people answer for: the job, its policy, signature, lock."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Annotated, ClassVar, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from sqlmodel import Session

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
from ledger.domain.errors import BadInput, NoEntry, UnknownName, visible
from ledger.domain.plain_name import require_plain
from ledger.domain.record import KEEPER, PERMITTERS, ROLES
from ledger.domain.required_odds import USUAL, read_odds
from ledger.store.entries import body_of
from ledger.store.rows import row_with, rows_with, the_row
from ledger.store.signers import keys_in_force
from ledger.store.tables import (
    DimensionFact,
    Fact,
    JobFact,
    LockFact,
    NonceFact,
    PacketFact,
    PartFact,
    PersonFact,
    ProfileFact,
    SignatureFact,
)

RoleText = Annotated[str, AfterValidator(one_of("role", ROLES))]
Key = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


def people_now(facts: Session) -> list[PersonFact]:
    """Everyone enrolled who is not retired."""
    return rows_with(facts, PersonFact, retired=0)


def keepers(people: Iterable[PersonFact]) -> list[PersonFact]:
    """Those who keep the job: who may enroll and retire people, change keys and set the policy."""
    return [p for p in people if KEEPER in json.loads(p.roles)]


def only_keeper(facts: Session) -> str:
    """The one person who may sign what a keeper signs. Raises BadInput where there are several."""
    names = [p.name for p in keepers(people_now(facts))]
    if len(names) != 1:
        raise BadInput(f"this is signed by a keeper of the job: name one, {', '.join(map(visible, names))}")
    return names[0]


def require_keeper(facts: Session, person: PersonFact) -> None:
    """Raise BadInput for a person who does not keep the job."""
    if KEEPER not in json.loads(person.roles):
        named = ", ".join(visible(p.name) for p in keepers(people_now(facts)))
        raise BadInput(
            f"{visible(person.name)} is no keeper of this job; this is signed by a keeper: {named}"
        )


def _at_revision(facts: Session, number: str, revision: str) -> None:
    if open_part(facts, number).revision != revision:
        raise BadInput(f"{visible(number)} is at another revision now; look again")


class OpenJob(Act):
    """The first entry: the job has a name, an identity and a policy."""

    kind: Literal["open_job"] = "open_job"
    firm: Name
    ident: Name
    roles: tuple[RoleText, ...] = ("drawn", "checked")

    def rules(self, facts: Session) -> None:
        if rows_with(facts, JobFact):
            raise NoEntry("this job is open already")

    def apply(self, facts: Session, entry: Entry) -> None:
        put(facts, JobFact(ident=self.ident, firm=self.firm, roles=json.dumps(list(self.roles))))


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

    def rules(self, facts: Session) -> None:
        self._signer(facts)

    def _signer(self, facts: Session) -> PersonFact:
        """Who signs, with a key of theirs and a signature that is not used yet. Raises UnknownName, BadInput."""
        person = person_named(facts, self.person)
        if self.key not in keys_in_force(facts, self.person):
            raise BadInput(f"that is no key {visible(self.person)} signs with now")
        self._fresh(facts)
        return person

    def _fresh(self, facts: Session) -> None:
        if row_with(facts, NonceFact, self.nonce):
            raise BadInput("this signature is recorded already; sign again")

    def _keep_nonce(self, facts: Session, entry: Entry) -> None:
        put(facts, NonceFact(nonce=self.nonce, seq=entry.seq))


class SetPolicy(Signed):
    """Which roles must sign, which warnings stop, which odds holes need, and whose roles may permit; by a keeper."""

    kind: Literal["set_policy"] = "set_policy"
    version: Literal[2] = 2
    roles: tuple[RoleText, ...] = Field(min_length=1)
    raised: tuple[Name, ...] = ()
    odds: Annotated[str, AfterValidator(read_odds)] = USUAL
    permits: tuple[RoleText, ...] = PERMITTERS

    def rules(self, facts: Session) -> None:
        require_keeper(facts, self._signer(facts))
        if not self.roles:
            raise BadInput("a policy names at least one role that must sign")

    def apply(self, facts: Session, entry: Entry) -> None:
        self._keep_nonce(facts, entry)
        job = the_row(facts, JobFact)
        fields = {
            "roles": json.dumps(list(self.roles)),
            "raised": json.dumps(sorted(self.raised)),
            "odds": self.odds,
            "permits": json.dumps(list(self.permits)),
        }
        put(facts, JobFact(**{**job.model_dump(), **fields}))


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

    def rules(self, facts: Session) -> None:
        person = self._signer(facts)
        roles = json.loads(person.roles)
        if self.role not in roles:
            raise BadInput(f"{visible(self.person)} may sign as {', '.join(roles)}, not as {self.role}")
        if self.self_check and len(people_now(facts)) > 1:
            raise BadInput("a self-check is for one person alone, and more are enrolled")
        for subject in self.subjects:
            _at_revision(facts, subject.number, subject.revision)

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

    def rules(self, facts: Session, contents: Mapping[str, str]) -> None:
        """Its drawing is the one that was taken, and is in the packet as it is. Raises BadInput."""
        taken = row_with(facts, ProfileFact, self.number, self.revision)
        if self.dxf != (taken.dxf if taken else ""):
            raise BadInput(f"the drawing of {visible(self.number)} is not the one that was taken")
        if self.dxf and contents.get(require_plain(self.dxf_name)) != self.dxf:
            raise BadInput(f"the packet does not hold the drawing of {visible(self.number)} as it was taken")
        for one in self.fixed:
            if row_with(facts, DimensionFact, self.number, self.revision, one.name) is None:
                raise UnknownName(f"dimension of {self.number}", one.name, ())

    def freeze(self, facts: Session) -> None:
        """Lock the revision, with its calculated dimensions as they are."""
        row = the_row(facts, PartFact, self.number, self.revision)
        put(facts, PartFact(**{**row.model_dump(), "locked": True}))
        for one in self.fixed:
            old = the_row(facts, DimensionFact, self.number, self.revision, one.name)
            put(facts, DimensionFact(**{**old.model_dump(), **fact_fields(DimensionFact, one)}))


class Lock(Signed):
    """The act that freezes revisions and says what leaves."""

    kind: Literal["lock"] = "lock"
    parts: tuple[LockedPart, ...] = Field(min_length=1)
    contents: dict[str, Digest]

    def rules(self, facts: Session) -> None:
        self._signer(facts)
        if len({p.number for p in self.parts}) != len(self.parts):
            raise BadInput("a lock names a part twice")
        for name in self.contents:
            require_plain(name, inside=True)
        for part in self.parts:
            _at_revision(facts, part.number, part.revision)
            part.rules(facts, self.contents)

    def apply(self, facts: Session, entry: Entry) -> None:
        self._keep_nonce(facts, entry)
        for part, row in zip(self.parts, self.says(entry), strict=True):
            part.freeze(facts)
            put(facts, row)

    def says(self, entry: Entry) -> tuple[LockFact, ...]:
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

    def rules(self, facts: Session) -> None:
        require_plain(self.file_name)
        if row_with(facts, PacketFact, self.lock_seq):
            raise BadInput(f"the packet of entry {self.lock_seq} is kept already")

    def rules_at(self, facts: Session, entry: Entry) -> None:
        """Directly behind its lock, which counts, by the same person, with what that lock names."""
        lock = body_of(facts, self.lock_seq) if self.lock_seq == entry.seq - 1 else None
        counts = lock is not None and rows_with(facts, LockFact, seq=self.lock_seq)
        if lock is None or not counts or lock.by != entry.by:
            raise BadInput("a packet is kept directly behind the lock that made it, by who locked")
        if lock.act["contents"] != self.contents:
            raise BadInput(f"the packet of entry {self.lock_seq} does not hold what was locked")

    def apply(self, facts: Session, entry: Entry) -> None:
        contents = json.dumps(self.contents, sort_keys=True)
        put(
            facts,
            PacketFact(
                lock_seq=self.lock_seq, sha256=self.sha256, file_name=self.file_name, contents=contents
            ),
        )
