"""
Acts about permits: one finding accepted in writing before anything is made (a deviation permit, ISO 9000), withdrawn.

A finding of a part is accepted at one revision. A finding of a connection is told at every part of it, so its permit
names the connection and all of its parts, each with its revision, and holds for these together and for nothing else.
"""

from __future__ import annotations

import json
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from sqlmodel import Session, select

from ledger.acts.base import Day, Entry, Name, OptionalName, Text, newest_part, open_part, put
from ledger.acts.connections import connection_named
from ledger.acts.quantities import OptionalAmount, fact_fields
from ledger.acts.release import Signed
from ledger.domain.errors import BadInput, visible
from ledger.store.rows import row_with, rows_with, the_row
from ledger.store.tables import Fact, JobFact, PartFact, PermitFact, PlyFact


class PermittedPart(BaseModel):
    """One revision that a permit is for."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    number: Name
    revision: Name


def _each_once(parts: tuple[PermittedPart, ...]) -> tuple[PermittedPart, ...]:
    if len({p.number for p in parts}) != len(parts):
        raise BadInput("a permit names a part twice; expected each part once, with one revision")
    return tuple(sorted(parts, key=lambda p: p.number))


class Permit(Signed):
    """A reasoned, bounded acceptance of one finding; with a `connection` of all its parts together."""

    kind: Literal["permit"] = "permit"
    version: Literal[2] = 2
    parts: Annotated[tuple[PermittedPart, ...], AfterValidator(_each_once)] = Field(min_length=1)
    connection: OptionalName = ""
    code: Name
    place: Text
    reason: Text
    until: Day = ""
    up_to: OptionalAmount = None
    above: bool = False

    def rules(self, facts: Session) -> None:
        self._may(facts)
        if not self.reason:
            raise BadInput("a permit needs a reason")
        if self.connection:
            self._check_connection(facts)
        elif len(self.parts) > 1:
            raise BadInput("a permit for several parts names their connection")
        elif open_part(facts, self.parts[0].number).revision != self.parts[0].revision:
            raise BadInput(f"{visible(self.parts[0].number)} is at another revision now; look again")

    def _may(self, facts: Session) -> None:
        """Permits are given in the roles that the policy names. Raises BadInput."""
        roles = set(json.loads(self._signer(facts).roles))
        may: list[str] = json.loads(the_row(facts, JobFact).permits)
        if not roles & set(may):
            raise BadInput(
                f"{visible(self.person)} may not permit anything; the policy lets these roles: {', '.join(may)}"
            )

    def _check_connection(self, facts: Session) -> None:
        """All parts of the connection and no other, each at a revision that there is, one of them open."""
        connection_named(facts, self.connection)
        plies = facts.exec(select(PlyFact.part).where(PlyFact.connection == self.connection)).all()
        if {p.number for p in self.parts} != set(plies):
            named = ", ".join(visible(number) for number in sorted(set(plies)))
            raise BadInput(
                f"a permit of {visible(self.connection)} names all its parts and no other: {named}"
            )
        newest = [newest_part(facts, p.number) for p in self.parts]
        for part, row in zip(self.parts, newest, strict=True):
            found = row_with(facts, PartFact, part.number, part.revision)
            if found is None or not (found.locked or found.revision == row.revision):
                raise BadInput(f"{visible(part.number)} is at another revision now; look again")
        rows = zip(self.parts, newest, strict=True)
        if not any(part.revision == row.revision and not row.locked for part, row in rows):
            raise BadInput(
                f"every part of {visible(self.connection)} is locked at these revisions, and no permit reaches them"
            )

    def apply(self, facts: Session, entry: Entry) -> None:
        self._keep_nonce(facts, entry)
        for row in self.says(entry):
            put(facts, row)

    def says(self, entry: Entry) -> tuple[Fact, ...]:
        """A row for every part: the finding, how far it is accepted, and all the parts that it is accepted for."""
        parts = json.dumps([[p.number, p.revision] for p in self.parts])
        fields = {**fact_fields(PermitFact, self), "seq": entry.seq, "parts": parts}
        return tuple(PermitFact(number=p.number, revision=p.revision, **fields) for p in self.parts)


class WithdrawPermit(Signed):
    """
    A permit that no longer holds, by the entry that gave it: at once for every part that it names.

    Whoever may sign may withdraw any permit, since less is then accepted; a revision that is locked stays locked.
    """

    kind: Literal["withdraw_permit"] = "withdraw_permit"
    permit: int
    reason: Text

    def check(self, facts: Session) -> None:
        from ledger.acts.replay import counted

        self.rules(facts)
        for _row, body, _act in counted(facts, ("withdraw_permit",)):
            if body.act["permit"] == self.permit:
                raise BadInput(
                    f"the permit of entry {self.permit} was withdrawn by {visible(body.by)} already"
                )

    def rules(self, facts: Session) -> None:
        self._signer(facts)
        if not self.reason:
            raise BadInput("withdrawing a permit needs a reason")
        if not rows_with(facts, PermitFact, seq=self.permit):
            raise BadInput(f"entry {self.permit} gives no permit; see the permits of a part: fitup show PART")

    def apply(self, facts: Session, entry: Entry) -> None:
        self._keep_nonce(facts, entry)
