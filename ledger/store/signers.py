"""
Whose key is whose, and which signatures count.

A key *counts* from the entry behind the one that made it known, and before the entry it was retired from: what was
signed with it earlier stays good. A key that may have been in wrong hands is retired from an earlier entry on, and
what was signed with it from there no longer counts. A person may hold several keys, one for each workstation; they are
still one person. A signature was put under the journal as it was: whatever is changed in there afterwards, it holds
no more.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

from sqlmodel import Session, select

from ledger.domain.key_line import KeyLine
from ledger.domain.sealed import Body, Sealed, check_signature, read_body, signed_statement
from ledger.store.entries import read_naming
from ledger.store.replay import seal_of
from ledger.store.rows import row_with, rows_with
from ledger.store.tables import JournalRow, KeyFact, PersonFact

Counting = Callable[[str, str, int], bool]  # a key, whose it is to be, and an entry
_SEAL = re.compile(r"([0-9]{1,15}):([0-9a-f]{64})")


def keys_of(facts: Session, person: str) -> list[KeyFact]:
    """Every key that a person was ever known by, oldest first."""
    return rows_with(facts, KeyFact, by="since", person=person)


def keys_in_force(facts: Session, person: str) -> tuple[str, ...]:
    """The keys that a person signs with now, newest first."""
    return tuple(k.key for k in reversed(keys_of(facts, person)) if not k.until)


def counts(facts: Session, key: str, person: str, seq: int) -> bool:
    """Whether this key was that person's when entry `seq` was written."""
    known = row_with(facts, KeyFact, key)
    return known is not None and counts_for(known, person, seq)


def counts_for(known: KeyFact, person: str, seq: int) -> bool:
    """The same of a key that is at hand."""
    return known.person == person and known.since < seq and (not known.until or seq < known.until)


def entries_of_kinds(facts: Session, kinds: tuple[str, ...]) -> Iterator[tuple[Sealed, Body]]:
    """
    The rows of this job that read as entries of these kinds, in order; the database looks for them in the bodies.

    Among them are such as following the journal sets aside: see `ledger.acts.replay.counted`.
    """
    for row, body in read_naming(facts, *(f'"kind":"{kind}"'.encode() for kind in kinds)):
        if body.act["kind"] in kinds:
            yield row, body


def sound(facts: Session, seq: int, person: str, counting: Counting) -> bool:
    """Whether an entry carries that person's signature, with a key that counts for it, over what stands before it."""
    row = facts.get(JournalRow, seq)
    if row is None:
        return False
    try:
        body = read_body(row.body)
    except ValueError:
        return False
    act = body.act
    if act.get("person") != person or not counting(str(act.get("key")), person, seq):
        return False
    if not _is_here(facts, *seen_seal(act), seq):
        return False
    return check_signature(act["key"], signed_statement(body.job, act), row.signature)


def seen_seal(act: dict[str, Any]) -> tuple[int, str]:
    """The journal's last entry and its hash as whoever signed saw them: what the signature was put under."""
    found = _SEAL.fullmatch(str(act.get("seal")))
    return (int(found[1]), found[2]) if found else (0, "")


def _is_here(facts: Session, seq: int, seal: str, signed: int) -> bool:
    found = facts.exec(select(JournalRow.hash).where(JournalRow.seq == seq)).first()
    return found == seal and seq < signed


def key_lines(facts: Session, person: str) -> tuple[KeyLine, ...]:
    """Every key of a person with the signed entries that count no more because it was retired from before them."""
    return tuple(
        KeyLine(k.key, person, k.since, k.until, k.reason, _disowned(facts, k) if k.until else (), k.retired)
        for k in keys_of(facts, person)
    )


def retired_last(facts: Session) -> tuple[KeyLine, ...]:
    """The keys, of whomever, that the last entry has retired."""
    last = seal_of(facts)[0]
    return tuple(
        k
        for p in rows_with(facts, PersonFact, by="name")
        for k in key_lines(facts, p.name)
        if k.retired == last
    )


def _disowned(facts: Session, key: KeyFact) -> tuple[int, ...]:
    rows = facts.exec(
        select(JournalRow)
        .where(JournalRow.seq >= key.until, JournalRow.signature != "")
        .order_by(JournalRow.seq)  # type: ignore[arg-type]  # a column at run time
    )
    return tuple(r.seq for r in rows if _signed_with(r, key) and r.seq != key.retired)


def _signed_with(row: JournalRow, key: KeyFact) -> bool:
    return bool(read_body(row.body).act.get("key") == key.key)
