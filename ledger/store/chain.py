"""
The chain of the journal by itself, at the speed of hashing: does every row follow from the one before?

Rows are read as raw values: what someone wrote over them may be of any kind. A *seal* is `seq:hash`, as it is
printed on packets and sheets; a journal *extends* it when that very row is still there and the chain holds.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple, cast

from sqlalchemy import text
from sqlmodel import Session

from ledger.domain.errors import BadInput, visible
from ledger.domain.finding import Finding
from ledger.store.guards import wrong_tables
from ledger.store.sealed import ROW, START, read_body

_AT_ONCE = 5000
_FEWEST_FIGURES = 12  # of a hash, to name a row


class Raw(NamedTuple):
    """A row as it lies in the database; nothing says that the values are of the right kind."""

    seq: int
    previous: Any
    body: Any
    hash: Any
    signature: Any


def raw_rows(facts: Session) -> Iterator[Raw]:
    """Every row of the journal in order, unread."""
    query = text(
        "SELECT seq, previous, body, hash, signature FROM journal WHERE seq >= :from ORDER BY seq LIMIT :most"
    )
    start = -(2**63)
    while True:
        rows = facts.connection().execute(query, {"from": start, "most": _AT_ONCE}).all()
        yield from cast("list[Raw]", rows)  # a row of the driver has the same names
        if len(rows) < _AT_ONCE or rows[-1][0] == 2**63 - 1:
            return
        start = rows[-1][0] + 1


def broken_links(rows: Iterable[Raw]) -> Iterator[Finding]:
    """Every entry that is missing, or is not what was written behind what was."""
    previous, expected = START, 1
    digest, fromhex, eight = hashlib.sha256, bytes.fromhex, _lengths()
    for row in rows:
        seq, back, body, mark, signature = row
        if seq != expected:
            gone = f"entry {expected}" if seq == expected + 1 else f"entries {expected} to {seq - 1}"
            yield Finding("entry_missing", f"{gone}: missing from the journal", where=f"entry {expected}")
        expected = seq + 1
        try:
            end = fromhex(signature)
            sealed = digest(
                ROW + eight[32] + fromhex(back) + len(body).to_bytes(8, "big") + body + eight[len(end)] + end
            ).hexdigest()
        except (TypeError, ValueError, IndexError):
            sealed = ""
        if sealed != mark:
            yield Finding("entry_changed", f"entry {seq} is not what was written", where=f"entry {seq}")
        elif back != previous:
            yield Finding(
                "entry_changed", f"entry {seq} does not follow the entry before it", where=f"entry {seq}"
            )
        previous = mark


def _lengths() -> list[bytes]:
    return [n.to_bytes(8, "big") for n in range(65)]


def can_be_read(facts: Session) -> bool:
    """Whether there is a last row, of the right kinds."""
    if wrong_tables(facts.connection(), ("journal",)):
        return False
    row = facts.connection().execute(text("SELECT hash FROM journal ORDER BY seq DESC LIMIT 1")).first()
    return row is not None and isinstance(row[0], str)


def time_of(row: Raw) -> str:
    """When a row was written, by the clock of its workstation; empty where it does not say."""
    try:
        return read_body(row.body).at
    except ValueError:
        return ""


def read_seal(written: str) -> tuple[int, str]:
    """A seal as it is printed: `seq:hash`, of the hash at least twelve figures. Raises BadInput."""
    found = re.fullmatch(r"\s*([0-9]{1,15}):([0-9a-fA-F]{12,64})\s*", written)
    if not found:
        raise BadInput(
            f"read {visible(written)!r} as a seal; expected SEQ:HASH as a packet or sheet shows it, "
            f"at least {_FEWEST_FIGURES} figures of the hash"
        )
    return int(found[1]), found[2].lower()


def missing_seal(facts: Session, seq: int, start: str) -> Finding | None:
    """What is wrong where the journal does not hold the row of an old seal; None where it does."""
    row = facts.connection().execute(text("SELECT hash FROM journal WHERE seq = :seq"), {"seq": seq}).first()
    where = f"entry {seq}"
    if row is not None and str(row[0]).startswith(start):
        return None
    last = facts.connection().execute(text("SELECT MAX(seq) FROM journal")).scalar() or 0
    if row is None and seq > last:
        message = f"the journal ends at entry {last}: its tail was cut, or this is an older copy"
    elif row is None:
        message = f"entry {seq} is missing"
    else:
        message = (
            f"entry {seq} is another one than the seal names: this is another line of entries since then"
        )
    return Finding("seal_not_here", message, where=where, measured=str(row[0]) if row else "", limit=start)
