"""
Whether a shop holds together, and getting it out whole: verify, old heads, backup, export, exact bytes.

*Examining* is verifying without believing anything first: no facts are rebuilt, nothing is written, and a shop that
no longer opens can still be told what is wrong with it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from sqlmodel import Session

from ledger.acts import read_act
from ledger.acts.base import Entry
from ledger.acts.vouching import Vouching
from ledger.domain.canonical import sha256
from ledger.domain.errors import Tampered
from ledger.domain.finding import Finding
from ledger.guarding import Folder, guard
from ledger.store import chain, transfer
from ledger.store import facts as read
from ledger.store.journal import Store
from ledger.store.place import connect
from ledger.store.replay import head_of
from ledger.store.sealed import Sealed, read_body
from ledger.store.tables import LockFact
from ledger.store.verify import problems

if TYPE_CHECKING:
    from ledger.packet.inspect import PacketReport


@dataclass(frozen=True, slots=True)
class Standing:
    """Whether exact bytes are a locked revision, and whether it is still the newest locked one."""

    sha256: str
    number: str = ""
    revision: str = ""
    current: bool = False


@dataclass(frozen=True, slots=True)
class Examined:
    """A shop, verified: how many entries, its head (seq:hash), where a clock was set back, and what is wrong."""

    entries: int
    head: str
    problems: tuple[Finding, ...]
    clock_set_back: tuple[tuple[int, str, str], ...] = ()  # entry, its time, the later time before it

    @property
    def whole(self) -> bool:
        """Whether nothing is wrong; a note is no wrong."""
        return not any(f.severity == "stop" for f in self.problems)


def follow(facts: Session, row: Sealed) -> None:
    """Apply the act of a journal row to the facts, as replay does."""
    body = read_body(row.body)
    read_act(body.act).apply(facts, Entry(row.seq, row.hash, body.by, body.at))


def examine(place: str, *, since: str = "") -> Examined:
    """
    Verify a shop without opening it for use; `since` is an old head that its journal must extend.

    Raises BadInput, Unreadable; Tampered where the file is so broken that nothing can be read.
    """
    old = chain.read_head(since) if since else None
    store = Store(connect(place), follow, "")
    try:
        with store.reading() as facts:
            found = list(problems(facts, follow))
            readable = chain.can_be_read(facts)
            gone = chain.missing_head(facts, *old) if old and readable else None
            seq, head = head_of(facts) if readable else (0, "")
            back = tuple(_set_back(facts)) if seq else ()
            return Examined(seq, f"{seq}:{head}", (*found, *([gone] if gone else [])), back)
    finally:
        store.close()


def _set_back(facts: Session) -> Iterator[tuple[int, str, str]]:
    """Entries that were written, by the clock, before the one they stand behind."""
    before = ""
    for row in chain.raw_rows(facts):
        at = chain.time_of(row)
        if before and at and at < before:
            yield row.seq, at, before
        before = at or before


class Kept:
    """What can be asked of an open shop about its keeping."""

    store: Store
    ident: str

    def stands(self, data: bytes) -> Standing:
        """Whether these exact bytes are a locked revision, and a current one."""
        digest = sha256(data)
        with self.store.reading() as facts:
            vouching = Vouching(facts)
            found = filter(vouching.of, read.rows(facts, LockFact, dxf=digest))
            lock = max(found, key=lambda k: k.seq, default=None)
            if lock is None:
                return Standing(digest)
            of_part = filter(vouching.of, read.rows(facts, LockFact, number=lock.number))
            newest = max(of_part, key=lambda k: k.seq)
            return Standing(digest, lock.number, lock.revision, newest.dxf == digest)

    def look_into(self, data: bytes) -> PacketReport:
        """A packet by itself and, where it is of this shop, whether the journal holds its entry. Raises Unreadable."""
        from ledger.packet.inspect import inspect

        report = inspect(data)
        if report.shop != self.ident or not report.head or self.holds(report.head):
            return report
        words = "the shop's journal does not hold this packet's entry"
        return replace(
            report, problems=(*report.problems, Finding("not_in_the_shop", words, where=report.head))
        )

    def guard(self, folder: Path) -> Folder:
        """Every DXF in a folder: is it, byte for byte, a locked and current revision? Raises Unreadable."""
        with self.store.reading() as facts:
            return guard(facts, folder)

    def head(self) -> tuple[int, str]:
        """The journal's last entry: its number and its hash."""
        with self.store.reading(beside=False) as facts:
            return head_of(facts)

    def holds(self, head: str) -> bool:
        """Whether this shop's journal has the row that a packet or sheet names as its head (seq:hash)."""
        with self.store.reading(beside=False) as facts:
            return chain.missing_head(facts, *chain.read_head(head)) is None

    def verify(self) -> tuple[Finding, ...]:
        """Everything in the shop that does not hold together."""
        with self.store.reading(beside=False) as facts:
            return tuple(problems(facts, follow))

    def export(self, out: Path) -> str:
        """
        The journal as JSON lines and every kept blob, as a new folder or (a name that ends .zip) one file; the head.

        Raises BadInput and leaves nothing.
        """
        with self.store.reading(beside=False) as facts:
            return transfer.export(facts, out)

    def backup(self, out: Path) -> str:
        """A copy of the shop's file, taken while others work in it; its head. Raises BadInput and leaves nothing."""
        return transfer.backup(self.store.engine, out)


def require_whole(facts: Session) -> None:
    """Raise Tampered where anything in the shop does not hold together: nothing is released from what it says."""
    for found in problems(facts, follow):
        if found.severity == "stop":
            raise Tampered(f"{found.message}: nothing was locked; fitup verify says all that is wrong")


def bring_in(source: Path, store: Store) -> tuple[int, str]:
    """
    Rebuild an exported shop in a new, empty database: entries and head. To be called before anything else is there.

    Raises Tampered naming the line or file that is not as it was written.
    """
    with transfer.opened(source) as exported, store.filling() as facts:
        count, head = transfer.fill(facts, exported)
        store.rebuild_in(facts)
        for found in problems(facts, follow):
            if found.severity == "stop":
                raise transfer.refusal(exported, found)
    return count, head
