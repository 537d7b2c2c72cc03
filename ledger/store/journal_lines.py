"""
A journal as lines of an exported job: one row a line, as canonical JSON.

A row whose bytes are no text has "hex" in place of "body": it is no entry, but the rows behind it follow from it. One
that has no hash, because what lies in it is of another kind, has "hex" alone and is not brought in again. Rows that
entries, numbered from 1, do not reach are set aside.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from typing import IO, Any

from ledger.domain.canonical import canonical
from ledger.domain.errors import FitupError, Tampered
from ledger.domain.sealed import START, Sealed, row_hash, row_hash_or_none
from ledger.store.chain import Raw

LINES = "journal.jsonl"
_BODY, _HEX = "body", "hex"
_FIELDS = {"seq", "previous", "hash", "signature"}
_MOST_LINE = 1 << 24  # bytes of one entry of the journal


class Fault(Tampered):
    """A line from which on the journal does not hold; `entry` is the number that it would have."""

    def __init__(self, line: int, entry: int, why: str) -> None:
        super().__init__(f"{LINES} line {line}: {why}")
        self.entry = entry


def line_of(row: Raw, odd: list[str]) -> bytes:
    """A row as a line, without its end; what cannot be brought in again is told to `odd`."""
    try:
        sealed = Sealed(row.seq, str(row.previous), bytes(row.body), str(row.hash), str(row.signature))
        said = {name: getattr(sealed, name) for name in sorted(_FIELDS)}
        return canonical({**said, **_body_of(sealed)})
    except (TypeError, ValueError, FitupError):
        odd.append(f"entry {row.seq} does not read as one")
        raw = row.body if isinstance(row.body, bytes) else str(row.body).encode("utf-8", "replace")
        return canonical({"seq": row.seq, _HEX: raw.hex()})


def _body_of(row: Sealed) -> dict[str, str]:
    """Raises ValueError for bytes that are no text in a row that has another hash than it says."""
    text = _text_of(row.body)
    if text is not None:
        return {_BODY: text}
    if row_hash_or_none(row) != row.hash:
        raise ValueError("no row of a journal")
    return {_HEX: row.body.hex()}


def _text_of(body: bytes) -> str | None:
    """As text that a line can hold and gives back as it was; None where it is none."""
    try:
        text = body.decode()
        same = json.loads(canonical(text)) == text
    except (ValueError, FitupError):
        return None
    return text if same else None


def rows_in(file: IO[bytes], aside: Callable[[str], None]) -> Iterator[Sealed]:
    """
    Every line as a row behind the one before; `aside` is told what is no row of this journal.

    Raises Fault naming the line that is not what was written there.
    """
    previous, expected = START, 1
    for number, line in enumerate(lines_in(file), start=1):
        row = _row(line, number, expected)
        if row.seq < 1:
            aside(f"row {row.seq} is no entry of this job and was left out: entries are numbered from 1")
            continue
        if row.seq != expected or row.previous != previous:
            raise Fault(number, expected, f"it does not follow line {number - 1}")
        if row.hash != row_hash(row.previous, row.body, row.signature):
            raise Fault(number, expected, "it is not what was written, its hash is another")
        previous, expected = row.hash, expected + 1
        yield row


def lines_in(file: IO[bytes]) -> Iterator[bytes]:
    """The lines of the journal one after the other, without their ends. Raises Tampered where the last one is cut."""
    while line := file.readline(_MOST_LINE + 1):
        if len(line) > _MOST_LINE:
            raise Tampered(f"{LINES} has a line that is longer than any entry")
        if not line.endswith(b"\n"):
            raise Tampered(f"{LINES} does not end with a whole line: it was cut")
        yield line[:-1]


def _row(line: bytes, number: int, expected: int) -> Sealed:
    try:
        data: Any = json.loads(line)
        if canonical(data) != line or type(data["seq"]) is not int:
            raise ValueError("not canonical")  # noqa: TRY301 - one refusal for all of them
        if data["seq"] < 1:
            return Sealed(data["seq"], "", b"", "", "")
        row = Sealed(data["seq"], data["previous"], _bytes_of(data), data["hash"], data["signature"])
        row_hash(row.previous, row.body, row.signature)
    except (ValueError, TypeError, AttributeError, KeyError, RecursionError, FitupError) as fault:
        raise Fault(number, expected, "it does not read as a row of a journal") from fault
    return row


def _bytes_of(data: dict[str, Any]) -> bytes:
    if data.keys() == _FIELDS | {_BODY}:
        return bytes(data[_BODY].encode())
    if data.keys() != _FIELDS | {_HEX}:
        raise ValueError("other fields than a row has")
    body = bytes.fromhex(data[_HEX])
    if body.hex() != data[_HEX] or _text_of(body) is not None:
        raise ValueError("text in hex")  # it would be two spellings of one row
    return body
