"""
Whether a job holds together, and getting it out whole: verify, old seals, backup, export, exact bytes.

*Examining* is verifying without believing anything first: no facts are rebuilt, nothing is written, and a job that
no longer opens can still be told what is wrong with it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from sqlmodel import Session

from ledger.acts.replay import follow
from ledger.acts.vouching import Vouching
from ledger.domain.canonical import sha256
from ledger.domain.errors import Tampered
from ledger.domain.finding import Finding
from ledger.store import chain, transfer
from ledger.store import facts as read
from ledger.store.journal import Store
from ledger.store.place import connect, undisturbed
from ledger.store.replay import seal_of
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
    """A job, verified: how many entries, its seal (seq:hash), where a clock was set back, and what is wrong."""

    entries: int
    seal: str
    problems: tuple[Finding, ...]
    clock_set_back: tuple[tuple[int, str, str], ...] = ()  # entry, its time, the later time before it

    @property
    def whole(self) -> bool:
        """Whether nothing is wrong; a note is no wrong."""
        return not any(f.severity == "stop" for f in self.problems)


def examine(place: str, *, since: str = "") -> Examined:
    """
    Verify a job without opening it for use, and without changing a byte of it.

    `since` is an old seal that its journal must extend.

    Raises BadInput, Unreadable; Tampered where the file is so broken that nothing can be read.
    """
    old = chain.read_seal(since) if since else None
    return undisturbed(place, lambda engine: _examined(Store(engine, follow, ""), old))


def _examined(store: Store, old: tuple[int, str] | None) -> Examined:
    with store.reading() as facts:
        found = list(problems(facts, follow))
        readable = chain.can_be_read(facts)
        gone = chain.missing_seal(facts, *old) if old and readable else None
        seq, seal = seal_of(facts) if readable else (0, "")
        back = tuple(_set_back(facts)) if seq else ()
        return Examined(seq, f"{seq}:{seal}", (*found, *([gone] if gone else [])), back)


def take_out(place: str, out: Path) -> str:
    """
    Export a job without following it, so that one that cannot be followed can be exported too; the seal.

    Raises BadInput; Tampered where something was left out, which is named.
    """
    store = Store(connect(place), follow, "")
    try:
        with store.reading() as facts:
            return transfer.export(facts, out)
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


def standing(facts: Session, data: bytes) -> Standing:
    """Whether these exact bytes are a locked revision, and a current one."""
    digest = sha256(data)
    vouching = Vouching(facts)
    found = filter(vouching.of, read.rows(facts, LockFact, dxf=digest))
    lock = max(found, key=lambda k: k.seq, default=None)
    if lock is None:
        return Standing(digest)
    of_part = filter(vouching.of, read.rows(facts, LockFact, number=lock.number))
    newest = max(of_part, key=lambda k: k.seq)
    return Standing(digest, lock.number, lock.revision, newest.dxf == digest)


def holds(facts: Session, seal: str) -> bool:
    """Whether the journal has the row that a packet or sheet names as its seal (seq:hash)."""
    return chain.missing_seal(facts, *chain.read_seal(seal)) is None


def look_into(facts: Session, ident: str, data: bytes) -> PacketReport:
    """A packet by itself and, where it is of this job, whether the journal holds its entry. Raises Unreadable."""
    from ledger.packet.inspect import inspect

    report = inspect(data)
    if report.job != ident or not report.seal or holds(facts, report.seal):
        return report
    words = "the job's journal does not hold this packet's entry"
    return replace(report, problems=(*report.problems, Finding("not_in_the_job", words, where=report.seal)))


def require_whole(facts: Session) -> None:
    """Raise Tampered where anything in the job does not hold together: nothing is released from what it says."""
    for found in problems(facts, follow):
        if found.severity == "stop":
            raise Tampered(f"{found.message}: nothing was locked; fitup verify says all that is wrong")


def bring_in(source: Path, store: Store) -> tuple[int, str]:
    """
    Rebuild an exported job in a new, empty database: entries and seal. To be called before anything else is there.

    Raises Tampered naming the line or file that is not as it was written.
    """
    with transfer.opened(source) as exported, store.filling() as facts:
        count, seal = transfer.fill(facts, exported)
        store.rebuild_in(facts)
        for found in problems(facts, follow):
            if found.severity == "stop":
                raise transfer.refusal(exported, found)
    return count, seal
