"""
Whether a job holds together, and getting it out whole: verify, old seals, backup, export, exact bytes.

*Examining* is verifying without believing anything first: no facts are rebuilt, nothing is written, and a job that
no longer opens can still be told what is wrong with it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from sqlmodel import Session

from ledger.acts.replay import follow
from ledger.acts.vouching import Vouching
from ledger.domain.canonical import sha256
from ledger.domain.errors import Tampered
from ledger.domain.finding import Finding
from ledger.domain.seal import read_seal, short_seal
from ledger.domain.sealed import read_body
from ledger.judge.lock_proof import LockProofs
from ledger.store import chain, transfer
from ledger.store.agreement import disagreements
from ledger.store.filling import Filled, fill, refusal, write_rest
from ledger.store.journal import Store
from ledger.store.journal_lines import Fault
from ledger.store.place import connect, undisturbed
from ledger.store.replay import seal_of
from ledger.store.signers import seen_seal, sound
from ledger.store.verify import problems


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
    signed_up_to: int = (
        0  # the last entry that a signature was put under: those behind it are anyone's to rewrite
    )

    @property
    def to_note(self) -> str:
        """The seal as it is copied by hand; empty where there is no entry."""
        seq, _, mark = self.seal.partition(":")
        return short_seal(int(seq), mark) if self.entries else ""

    @property
    def whole(self) -> bool:
        """Whether nothing is wrong; a note is no wrong."""
        return not any(f.severity == "stop" for f in self.problems)

    @property
    def unsigned(self) -> str:
        """What no signature covers, and how a rewriting of it is found all the same; empty where all is covered."""
        first, last = self.signed_up_to + 1, self.entries
        if first > last:
            return ""
        which = f"entry {last} is" if first == last else f"entries {first} to {last} are"
        return (
            f"{which} under no signature yet: whoever can write to the job can rewrite that unseen. "
            f"Note the seal {self.to_note}; fitup verify --since finds a rewriting before it"
        )


def all_problems(facts: Session) -> Iterator[Finding]:
    """Everything in a job that does not hold together, and every lock that does not prove itself."""
    found = tuple(problems(facts, follow))
    yield from found
    if not any(f.severity == "stop" for f in found):
        yield from LockProofs(facts, Vouching(facts)).problems()


def examine(place: str, *, since: str = "") -> Examined:
    """
    Verify a job without opening it for use, and without changing a byte of it.

    `since` is an old seal that its journal must extend.

    Raises BadInput, Unreadable; Tampered where the file is so broken that nothing can be read.
    """
    old = read_seal(since) if since else None
    return undisturbed(place, lambda engine: _examined(Store(engine, follow, ""), old))


def _examined(store: Store, old: tuple[int, str] | None) -> Examined:
    with store.reading() as facts:
        found = list(all_problems(facts))
        readable = chain.can_be_read(facts)
        gone = chain.missing_seal(facts, *old) if old and readable else None
        seq, seal = seal_of(facts) if readable else (0, "")
        back = tuple(_set_back(facts)) if seq else ()
        problems_found = (*found, *([gone] if gone else []))
        return Examined(seq, f"{seq}:{seal}", problems_found, back, _signed_up_to(facts) if seq else 0)


def seal(place: str) -> tuple[int, str]:
    """The journal seal of a job, of which nothing else is looked at or changed. Raises Tampered without an entry."""

    def last(store: Store) -> tuple[int, str]:
        with store.reading() as facts:
            if not chain.can_be_read(facts):
                raise Tampered(
                    "the journal has no last entry that reads as one; fitup verify says what is wrong"
                )
            return seal_of(facts)

    return undisturbed(place, lambda engine: last(Store(engine, follow, "")))


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


def _signed_up_to(facts: Session) -> int:
    """The last entry that somebody saw who signed behind it, with a signature that counts."""
    vouching, covered = Vouching(facts), 0
    for row in chain.raw_rows(facts):
        if row.signature:
            with suppress(ValueError):
                act = read_body(row.body).act
                seen, _ = seen_seal(act)
                counts = row.seq in vouching.people.told or sound(
                    facts, row.seq, str(act.get("person")), vouching.counts
                )
                covered = max(covered, seen) if counts else covered
    return covered


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
    proofs = LockProofs(facts, Vouching(facts))
    found = [k for k in proofs.locks if k.dxf == digest and proofs.of(k)]
    lock = max(found, key=lambda k: k.seq, default=None)
    if lock is None:
        return Standing(digest)
    newest = max((k for k in proofs.locks if k.number == lock.number), key=lambda k: k.seq)
    return Standing(digest, lock.number, lock.revision, newest.dxf == digest and proofs.of(newest))


def holds(facts: Session, seal: str) -> bool:
    """Whether the journal has the row that a packet or sheet names as its seal (seq:hash)."""
    return chain.missing_seal(facts, *read_seal(seal)) is None


def require_whole(facts: Session) -> None:
    """Raise Tampered where anything in the job does not hold together: nothing is released from what it says."""
    for found in all_problems(facts):
        if found.severity == "stop":
            raise Tampered(f"{found.message}: nothing was locked; fitup verify says all that is wrong")


def require_agreement(facts: Session, undone: str) -> None:
    """
    Raise Tampered where the fact tables do not say what the journal says; `facts` were replayed, `undone` is what was
    not done.
    """
    for found in disagreements(facts):
        raise Tampered(f"{found.message}: {undone}; fitup verify says all that is wrong")


def bring_in(source: Path, store: Store, rest: Path | None = None) -> Filled:
    """
    Rebuild an exported job in a new, empty database. To be called before anything else is there.

    With `rest` only the entries before the first that does not hold come in, and the others are written to that file.
    Raises Tampered naming the line or file that is not as it was written, BadInput.
    """
    with transfer.opened(source) as exported:
        before: int | None = None
        while True:
            try:
                filled = _filled(exported, store, before)
                break
            except DoesNotHold as fault:
                if rest is None or fault.entry is None or (before and fault.entry >= before):
                    raise fault.told from fault
                if fault.entry <= 1:
                    raise Tampered(f"{fault.told}: no entry stands before it") from fault
                before = fault.entry
        if rest is None or before is None:
            return filled
        return replace(filled, left_out=(*filled.left_out, *write_rest(exported, before, rest)))


class DoesNotHold(Exception):
    """What keeps an exported job from coming in whole; `entry` is the first that it is about, where it is about one."""

    def __init__(self, told: Tampered, entry: int | None) -> None:
        super().__init__(str(told))
        self.told, self.entry = told, entry


def _filled(exported: transfer.Exported, store: Store, before: int | None) -> Filled:
    """The entries before one, or all of them, in the tables. Raises DoesNotHold, and nothing is in them then."""
    with store.filling() as facts:
        try:
            filled = fill(facts, exported, before=before)
        except Fault as fault:
            raise DoesNotHold(_with_a_way_on(fault), fault.entry) from fault
        store.rebuild_in(facts)
        stops = [f for f in all_problems(facts) if f.severity == "stop"]
        if stops:
            told, first = refusal(exported, stops[0]), _first_entry(stops)
            raise DoesNotHold(_with_a_way_on(told) if first else told, first)
    return filled


def _with_a_way_on(told: Tampered) -> Tampered:
    return Tampered(f"{told}. To bring in the entries before it: fitup import … --rest FILE")


def _first_entry(stops: Iterable[Finding]) -> int | None:
    """The first entry that any of these findings is about; None where they are about other things as well."""
    found = [re.match(r"entr(?:y|ies) ([0-9]+)", f.where) for f in stops]
    return min((int(m[1]) for m in found if m), default=None)
