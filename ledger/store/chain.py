"""
The chain of the journal by itself, at the speed of hashing: does every row follow from the one before?

Rows are read as raw values: what someone wrote over them may be of any kind. A journal *extends* a seal
(`ledger/domain/seal.py`) when that very row is still there and the chain holds.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from itertools import chain
from typing import Any, NamedTuple, cast

from sqlalchemy import text
from sqlmodel import Session

from ledger.domain.finding import Finding
from ledger.domain.seal import fits
from ledger.domain.sealed import ROW, START, read_body
from ledger.store.guards import named, wrong_tables

_AT_ONCE = 500  # more at once take longer: each is made anew, far from the processor


class Raw(NamedTuple):
    """A row as it lies in the database; nothing says that the values are of the right kind."""

    seq: int
    previous: Any
    body: Any
    hash: Any
    signature: Any


def raw_rows(facts: Session) -> Iterator[Raw]:
    """Every row of the journal in order, unread."""
    return chain.from_iterable(raw_rows_at_once(facts, -(2**63)))


def raw_rows_at_once(facts: Session, start: int) -> Iterator[list[Raw]]:
    """The same from one number on, many at once."""
    query = text(
        f"SELECT seq, previous, body, hash, signature FROM {_journal(facts)} "  # noqa: S608 - our own name
        "WHERE seq >= :from ORDER BY seq LIMIT :most"
    )
    while True:
        rows = facts.connection().execute(query, {"from": start, "most": _AT_ONCE}).all()
        yield cast("list[Raw]", rows)  # a row of the driver has the same names
        if len(rows) < _AT_ONCE or rows[-1][0] == 2**63 - 1:
            return
        start = rows[-1][0] + 1


def broken_links(rows: Iterable[Raw]) -> Iterator[Finding]:
    """Every entry that is missing, or is not what was written behind what was."""
    previous, expected = START, 1
    digest, fromhex, eight = hashlib.sha256, bytes.fromhex, _lengths()
    head, unsigned = ROW + eight[32], eight[0]
    for row in rows:
        seq, back, body, mark, signature = row
        if seq != expected:
            gone = f"entry {expected}" if seq == expected + 1 else f"entries {expected} to {seq - 1}"
            yield Finding("entry_missing", f"{gone}: missing from the journal", where=f"entry {expected}")
        expected, spelled = seq + 1, True
        try:
            end = unsigned
            if signature != "":
                signed = fromhex(signature)
                end = eight[len(signed)] + signed
                spelled = signed.hex() == signature
            sealed = digest(head + fromhex(back) + len(body).to_bytes(8, "big") + body + end).hexdigest()
        except (TypeError, ValueError, IndexError):
            sealed = ""
        if sealed != mark or not spelled:
            yield Finding("entry_changed", f"entry {seq} is not what was written", where=f"entry {seq}")
        elif back != previous:
            yield Finding(
                "entry_changed", f"entry {seq} does not follow the entry before it", where=f"entry {seq}"
            )
        previous = mark


def _journal(facts: Session) -> str:
    return named(facts.connection(), "journal")


def _lengths() -> list[bytes]:
    return [n.to_bytes(8, "big") for n in range(65)]


def can_be_read(facts: Session) -> bool:
    """Whether there is a last row, of the right kinds."""
    if wrong_tables(facts.connection(), ("journal",)):
        return False
    last = text(f"SELECT hash FROM {_journal(facts)} ORDER BY seq DESC LIMIT 1")  # noqa: S608 - our own name
    row = facts.connection().execute(last).first()
    return row is not None and isinstance(row[0], str)


def time_of(row: Raw) -> str:
    """When a row was written, by the clock of its workstation; empty where it does not say."""
    try:
        return read_body(row.body).at
    except ValueError:
        return ""


def missing_seal(facts: Session, seq: int, start: str) -> Finding | None:
    """What is wrong where the journal does not hold the row of an old seal; None where it does."""
    of_entry = text(f"SELECT hash FROM {_journal(facts)} WHERE seq = :seq")  # noqa: S608 - our own name
    row = facts.connection().execute(of_entry, {"seq": seq}).first()
    where = f"entry {seq}"
    if row is not None and fits(str(row[0]), start):
        return None
    newest = text(f"SELECT MAX(seq) FROM {_journal(facts)}")  # noqa: S608 - our own name
    last = facts.connection().execute(newest).scalar() or 0
    if row is None and seq > last:
        message = f"the journal ends at entry {last}: its tail was cut, or this is an older copy"
    elif row is None:
        message = f"entry {seq} is missing"
    else:
        message = (
            f"entry {seq} is another one than the seal names: this is another line of entries since then"
        )
    return Finding("seal_not_here", message, where=where, measured=str(row[0]) if row else "", limit=start)
