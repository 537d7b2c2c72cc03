"""
Sealed rows: the bytes of the journal, their chain and their signatures.

A row's *body* is canonical JSON (RFC 8785). Its *hash* is SHA-256 over the previous hash, the body and the
signature, each led by its length, under a domain prefix: nothing of one can be taken for another.
A *signature* is Ed25519 (RFC 8032) over the job and the act, not the position: another workstation's entry between
does not void it.
"""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any
from unicodedata import is_normalized

from ledger.domain.canonical import MOST_INTEGER, canonical
from ledger.domain.errors import BadInput, NoEntry

START = "0" * 64
ROW = b"fitup/row\0"
_SIGNATURE = b"fitup/signature\0"
_MOMENT = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})T(?:[01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9]Z")


@dataclass(frozen=True, slots=True)
class Sealed:
    """One row of the journal as stored. `signature` is hex, empty where the act needs none."""

    seq: int
    previous: str
    body: bytes
    hash: str
    signature: str


@dataclass(frozen=True, slots=True)
class Body:
    """What a row says: of which job, as which entry, when, by whom, written by which program, and the act."""

    job: str
    seq: int
    at: str
    by: str
    program: str
    act: dict[str, Any]


def read_body(data: str | bytes) -> Body:
    """The body of a row as it was written. Raises ValueError for what no program of this kind wrote."""
    try:
        return _body_of(json.loads(data))
    except RecursionError as fault:
        raise ValueError("this is no entry of a job") from fault


def read_row(row: Sealed) -> Body:
    """
    The body of a row as programs write it: canonical JSON, numbered as the row is.

    Raises NoEntry for anything else: two readers of the same bytes could otherwise read two things.
    """
    try:
        found = _STRICT.decode(row.body.decode())
        body = _body_of(found)
        as_written = _as_quickly_written(found, row.body) or canonical(found) == row.body
    except (BadInput, ValueError, TypeError, AttributeError, RecursionError) as fault:
        raise NoEntry("it does not read as an entry") from fault
    if not as_written:
        raise NoEntry("it is not written as entries are")
    if body.seq != row.seq:
        raise NoEntry(f"it says that it is entry {body.seq}")
    return body


def _no_float(text: str) -> None:
    raise ValueError(f"{text} is no number of an entry")


def _whole(text: str) -> int:
    value = int(text)
    if abs(value) > MOST_INTEGER:
        raise ValueError(f"{text} is larger than any number of an entry")
    return value


_STRICT = json.JSONDecoder(parse_float=_no_float, parse_constant=_no_float, parse_int=_whole)
_WRITTEN = json.JSONEncoder(ensure_ascii=False, sort_keys=True, separators=(",", ":"), check_circular=False)


def _as_quickly_written(found: Any, body: bytes) -> bool:
    """Whether the standard library writes the same bytes, where these hold nothing that it writes otherwise."""
    if b"\\u0000" in body:
        return False
    if not body.isascii() and not (is_normalized("NFC", text := body.decode()) and max(text) <= "\uffff"):
        return False
    return _WRITTEN.encode(found).encode() == body


def is_moment(text: str) -> bool:
    """Whether this is a moment as entries name it, 2026-03-02T09:00:00Z, on a day that there is."""
    found = _MOMENT.fullmatch(text)
    return found is not None and _is_day(found[1])


@lru_cache(maxsize=1024)
def _is_day(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def _body_of(found: Any) -> Body:
    try:
        body = Body(**found)
        kind = body.act["kind"]
    except (TypeError, KeyError) as fault:
        raise ValueError("this is no entry of a job") from fault
    words = (body.job, body.at, body.by, body.program, kind)
    if type(body.seq) is not int or not all(isinstance(w, str) for w in words) or not is_moment(body.at):
        raise ValueError("this is no entry of a job")
    return body


def row_hash(previous: str, body: bytes, signature: str) -> str:
    """SHA-256, hex, of what a row says and what came before it. Raises ValueError for what is no small hex."""
    back, end = bytes.fromhex(previous), bytes.fromhex(signature)
    if back.hex() != previous or end.hex() != signature:
        raise ValueError("hex in another spelling")  # two rows would have one hash
    pieces = (ROW, _length(back), back, _length(body), body, _length(end), end)
    return hashlib.sha256(b"".join(pieces)).hexdigest()


def _length(piece: bytes) -> bytes:
    return len(piece).to_bytes(8, "big")


def row_hash_or_none(row: Sealed) -> str | None:
    """The hash that a row must have; None where what is in it has none."""
    try:
        return row_hash(row.previous, row.body, row.signature)
    except (ValueError, TypeError, AttributeError):
        return None


def signed_statement(job: str, act: dict[str, Any]) -> bytes:
    """The bytes a signature is over: the job and the act with its subject, role, meaning, nonce and seal."""
    return _SIGNATURE + canonical({"job": job, "act": act})


def check_signature(public_hex: str, statement: bytes, signature_hex: str) -> bool:
    """Whether the signature holds. Malformed keys or signatures do not."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(public_hex))
        key.verify(bytes.fromhex(signature_hex), statement)
    except (ValueError, InvalidSignature):
        return False
    return True
