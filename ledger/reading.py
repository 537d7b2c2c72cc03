"""
What can be read from an open shop: verdicts, parts, mates, papers, the journal. Nothing here changes it.

`ledger.shop` builds on this class and adds everything that writes.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session

from ledger import papers, release
from ledger.acts import read_act
from ledger.acts.base import Entry, newest_part
from ledger.acts.mates import mate_named
from ledger.cases import Bench
from ledger.domain.canonical import sha256
from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.finding import Finding
from ledger.domain.gate import Verdict
from ledger.domain.record import Mate, Part
from ledger.store import facts as read
from ledger.store.journal import Store, sealed_rows
from ledger.store.sealed import Sealed
from ledger.store.tables import LockFact, MateFact, PacketFact, PartFact, PersonFact
from ledger.store.verify import problems
from ledger.views import MateView, mate_view


@dataclass(frozen=True, slots=True)
class Written:
    """One entry of the journal, for reading."""

    seq: int
    at: str
    by: str
    kind: str
    hash: str
    signed: bool
    act: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Standing:
    """Whether exact bytes are a locked revision, and whether it is still the newest locked one."""

    sha256: str
    number: str = ""
    revision: str = ""
    current: bool = False


def follow(facts: Session, row: Sealed) -> None:
    """Apply the act of a journal row to the facts, as replay does."""
    body = json.loads(row.body)
    entry = Entry(row.seq, row.hash, body["by"], body["at"])
    read_act(body["act"]).apply(facts, entry)


class ReadShop:
    """The reading half of a shop."""

    store: Store

    def verdicts(self, numbers: Sequence[str]) -> tuple[Verdict, ...]:
        """Judge these parts as a set. A locked revision's verdict is read from its lock. Raises UnknownName."""
        with self.store.reading() as facts:
            bench = self._bench(facts, numbers)
            return tuple(self._verdict(facts, bench, number) for number in bench.together)

    def re_entry_wanted(self, numbers: Sequence[str]) -> tuple[str, ...]:
        """The key dimensions one person alone may type again when checking; empty where no re-entry is asked."""
        with self.store.reading() as facts:
            if read.policy(facts).people > 1:
                return ()
            return release.re_entry_wanted(read.part(facts, newest_part(facts, n)) for n in numbers)

    def packet(self, number: str, revision: str = "") -> tuple[str, bytes, dict[str, bytes]]:
        """The kept packet of a locked revision: name, bytes, and its DXF files by name. Raises UnknownName."""
        with self.store.reading() as facts:
            locks = read.rows(facts, LockFact, number=number)
            found = [k for k in locks if k.revision == revision or not revision]
            if not found:
                raise UnknownName(
                    "locked revision",
                    f"{number} {revision}".strip(),
                    [f"{k.number} {k.revision}" for k in read.rows(facts, LockFact)],
                )
            newest = max(found, key=lambda k: k.seq)
            kept = facts.get_one(PacketFact, newest.seq)
            together = [k for k in read.rows(facts, LockFact, seq=newest.seq) if k.dxf]
            return (
                kept.file_name,
                read.blob(facts, kept.sha256),
                {k.dxf_name: read.blob(facts, k.dxf) for k in together},
            )

    def picture(self, name: str) -> bytes:
        """A part, or the two plies of a mate as they go together, as SVG. Raises UnknownName, BadInput."""
        with self.store.reading() as facts:
            return papers.picture(facts, self._bench(facts, ()), name)

    def sheet(self, number: str, paper: str = "A4") -> bytes:
        """A preview of the vendor's sheet as PDF, marked so. Raises UnknownName, BadInput."""
        from ledger.packet.sheet import vendor_sheet

        with self.store.reading() as facts:
            bench = self._bench(facts, (number,))
            verdict = self._verdict(facts, bench, number)
            part = bench.part(newest_part(facts, number))
            return vendor_sheet(part, papers.issue(facts, verdict, bench.policy), paper=paper)

    def record(self, number: str, revision: str = "", paper: str = "A4") -> bytes:
        """The shop record of a locked revision as PDF; it never leaves with a packet. Raises UnknownName."""
        from ledger.packet.record_sheet import shop_record

        with self.store.reading() as facts:
            return shop_record(papers.record(facts, self._bench(facts, ()), number, revision), paper=paper)

    def stands(self, data: bytes) -> Standing:
        """Whether these exact bytes are a locked revision, and a current one."""
        digest = sha256(data)
        with self.store.reading() as facts:
            found = read.rows(facts, LockFact, dxf=digest)
            if not found:
                return Standing(digest)
            lock = max(found, key=lambda k: k.seq)
            newest = max(read.rows(facts, LockFact, number=lock.number), key=lambda k: k.seq)
            return Standing(digest, lock.number, lock.revision, newest.dxf == digest)

    def holds(self, head: str) -> bool:
        """Whether this shop's journal has the row that a packet or sheet names as its head (seq:hash)."""
        with self.store.reading() as facts:
            return any(f"{row.seq}:{row.hash}" == head for row in sealed_rows(facts))

    def verify(self) -> tuple[Finding, ...]:
        """Everything in the shop that does not hold together."""
        with self.store.reading() as facts:
            return tuple(problems(facts, follow))

    def part(self, number: str) -> Part:
        """The newest revision of a part. Raises UnknownName."""
        with self.store.reading() as facts:
            return read.part(facts, newest_part(facts, number))

    def parts(self) -> tuple[Part, ...]:
        """The newest revision of every part, by number."""
        with self.store.reading() as facts:
            newest = {r.number: r for r in sorted(read.rows(facts, PartFact), key=lambda r: r.place)}
            return tuple(read.part(facts, newest[n]) for n in sorted(newest))

    def mates(self) -> tuple[Mate, ...]:
        """Every mate, by name."""
        with self.store.reading() as facts:
            return tuple(read.mate(facts, row) for row in read.rows(facts, MateFact))

    def mate_view(self, name: str) -> MateView:
        """A mate with its fit, its placed outlines and what its checks find, afresh. Raises UnknownName."""
        with self.store.reading() as facts:
            found = read.mate(facts, mate_named(facts, name))
            return mate_view(self._bench(facts, ()), found)

    def people(self) -> tuple[tuple[str, tuple[str, ...], str], ...]:
        """Everyone enrolled: name, roles, public key."""
        with self.store.reading() as facts:
            return tuple((p.name, tuple(json.loads(p.roles)), p.key) for p in read.rows(facts, PersonFact))

    def journal(self) -> Iterator[Written]:
        """Every entry, oldest first."""
        with self.store.reading() as facts:
            for row in sealed_rows(facts):
                body = json.loads(row.body)
                act = body["act"]
                yield Written(
                    row.seq, body["at"], body["by"], act["kind"], row.hash, bool(row.signature), act
                )

    def _verdict(self, facts: Session, bench: Bench, number: str) -> Verdict:
        row = newest_part(facts, number)
        if not row.locked:
            return bench.verdict(number)
        lock = facts.get_one(LockFact, (number, row.revision))
        return Verdict.from_json(json.loads(read.blob(facts, lock.verdict)))

    def _bench(self, facts: Session, numbers: Sequence[str]) -> Bench:
        for number in numbers:
            newest_part(facts, number)
        return Bench(facts, tuple(dict.fromkeys(numbers)), self._today())

    def _today(self) -> str:
        return self.store.clock().date().isoformat()

    @staticmethod
    def _ident(facts: Session) -> str:
        first = next(sealed_rows(facts), None)
        if first is None:
            raise BadInput("this shop has no entries: it was not started by fitup")
        ident: str = json.loads(first.body)["shop"]
        return ident
