"""The act that keeps a file with what it is evidence of, and what an address names."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Annotated, Literal

from pydantic import AfterValidator, Field
from sqlmodel import Session

from ledger.acts.base import Act, Entry, Name, OptionalName, make, newest_part, one_of, put
from ledger.acts.orders import order_named
from ledger.acts.parts import Digest
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.evidence import BELONGS, MOST_BYTES
from ledger.domain.plain_name import require_plain
from ledger.store.rows import row_with, rows_with
from ledger.store.tables import (
    ClearanceFact,
    ConnectionFact,
    EvidenceFact,
    OrderFact,
    PartFact,
    QuestionFact,
    ReadingFact,
)


class KeepEvidence(Act):
    """A file kept with a part, a question, the reading of a clearance, or an order."""

    concerns = ("evidence", "address")
    kind: Literal["keep_evidence"] = "keep_evidence"
    address: Name
    to: Annotated[str, AfterValidator(one_of("thing that evidence belongs to", BELONGS))]
    owner: Name
    name: OptionalName = ""
    file_name: Annotated[str, AfterValidator(require_plain)]
    sha256: Digest
    size: int = Field(ge=1, le=MOST_BYTES)

    def rules(self, facts: Session) -> None:
        require_plain(self.file_name)
        if address_of(facts, self.address) != (self.to, self.owner, self.name):
            raise BadInput(f"{visible(self.address)} is no {visible(self.to)} of {visible(self.owner)}")

    def apply(self, facts: Session, entry: Entry) -> None:
        fields = self.model_dump(exclude={"kind", "version"})
        put(facts, EvidenceFact(**fields, by=entry.by, day=entry.at[:10]))


def address_of(facts: Session, address: str) -> tuple[str, str, str]:
    """
    What `BASE`, `BASE/Q1`, `TURN-BASE/edge` or `O1` names: part, question, reading or order; its owner and its name.

    Raises UnknownName; BadInput for a clearance that nobody has measured.
    """
    if rows_with(facts, PartFact, number=address):
        return "part", newest_part(facts, address).number, ""
    if row_with(facts, OrderFact, address):
        return "order", order_named(facts, address).ident, ""
    slashes = [i for i, c in enumerate(address) if c == "/"]
    for owner, name in ((address[:i], address[i + 1 :]) for i in slashes):
        if row_with(facts, QuestionFact, owner, name):
            return "question", owner, name
        if row_with(facts, ClearanceFact, owner, name):
            if not rows_with(facts, ReadingFact, connection=owner, name=name):
                raise BadInput(f"{visible(name)} of {visible(owner)} is not measured yet: fitup measure")
            return "reading", owner, name
    known = [row.number for row in rows_with(facts, PartFact)] + [
        o.ident for o in rows_with(facts, OrderFact)
    ]
    known += [f"{q.number}/{q.ident}" for q in rows_with(facts, QuestionFact)]
    if row_with(facts, ConnectionFact, address):
        raise BadInput(
            f"read the connection {visible(address)}; evidence belongs to one of its clearances: "
            f"{visible(address)}/NAME"
        )
    raise UnknownName("part, PART/QUESTION, CONNECTION/CLEARANCE or order", address, known)


def keep_evidence(
    facts: Session,
    do: Callable[[Act], int],
    keep: Callable[[Session, bytes], str],
    address: str,
    files: Mapping[str, bytes],
) -> None:
    """Keep files, by name, with what an address names: all or none. Raises BadInput, UnknownName."""
    to, owner, name = address_of(facts, address)
    for file, data in files.items():
        if not data:
            raise BadInput(
                f"{visible(file)} is empty; expected a photograph, a PDF or another file with something in it"
            )
        if len(data) > MOST_BYTES:
            raise BadInput(
                f"{visible(file)} has {len(data) / 1e6:.1f} MB; expected {MOST_BYTES / 1e6:.0f} MB at most: "
                "make the picture smaller"
            )
        said = {"address": address, "to": to, "owner": owner, "name": name, "file_name": file}
        do(make(KeepEvidence, **said, sha256=keep(facts, data), size=len(data)))
