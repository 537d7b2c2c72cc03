"""
Sealed rows: the bytes of the journal, their chain and their signatures.

A row's *body* is canonical JSON (RFC 8785). Its *hash* is SHA-256 over the previous hash, the body and the
signature, each led by its length, under a domain prefix: nothing of one can be taken for another.
A *signature* is Ed25519 (RFC 8032) over the job and the act, not the position: another workstation's entry between
does not void it. Private keys lie in PEM files, encrypted with a passphrase.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any
from unicodedata import is_normalized

from ledger.domain.canonical import canonical
from ledger.domain.errors import BadInput, NoEntry, Uncertain

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

START = "0" * 64
LONGEST_PASSPHRASE = 1023  # bytes: what OpenSSL reads of one
ROW = b"fitup/row\0"
_SIGNATURE = b"fitup/signature\0"
_MOMENT = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}Z")


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


_STRICT = json.JSONDecoder(parse_float=_no_float, parse_constant=_no_float)
_LONG = re.compile(rb"[0-9]{16}")


def _as_quickly_written(found: Any, body: bytes) -> bool:
    """Whether the standard library writes the same bytes, where these hold nothing that it writes otherwise."""
    if b"\\u0000" in body or _LONG.search(body):
        return False
    if not body.isascii() and not (is_normalized("NFC", text := body.decode()) and max(text) <= "\uffff"):
        return False
    return json.dumps(found, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode() == body


def _body_of(found: Any) -> Body:
    try:
        body = Body(**found)
        kind = body.act["kind"]
    except (TypeError, KeyError) as fault:
        raise ValueError("this is no entry of a job") from fault
    words = (body.job, body.at, body.by, body.program, kind)
    if (
        type(body.seq) is not int
        or not all(isinstance(w, str) for w in words)
        or not _MOMENT.fullmatch(body.at)
    ):
        raise ValueError("this is no entry of a job")
    return body


def row_hash(previous: str, body: bytes, signature: str) -> str:
    """SHA-256, hex, of what a row says and what came before it."""
    seal = hashlib.sha256(ROW)
    for piece in (bytes.fromhex(previous), body, bytes.fromhex(signature)):
        seal.update(len(piece).to_bytes(8, "big"))
        seal.update(piece)
    return seal.hexdigest()


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


def keys_folder() -> Path:
    """Where this person's keys lie: FITUP_KEYS, else the user's configuration folder."""
    stated = os.environ.get("FITUP_KEYS")
    if stated:
        return Path(stated)
    from platformdirs import user_config_path

    return user_config_path("fitup", appauthor=False, roaming=True) / "keys"


def make_key(passphrase: str) -> str:
    """
    Make a key pair, keep the private half encrypted in the keys folder; return the public half in hex.

    Raises BadInput for a passphrase that is empty or too long, or a folder that cannot be written.
    """
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import (
        BestAvailableEncryption,
        Encoding,
        PrivateFormat,
    )

    if not passphrase:
        raise BadInput("an empty passphrase: a key needs one, so that nobody else can sign with it")
    key = Ed25519PrivateKey.generate()
    public = public_of(key)
    locked = BestAvailableEncryption(_secret(passphrase))
    pem = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, locked)
    folder = keys_folder()
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        new = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
        handle = os.open(folder / f"{public}.pem", new, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(pem)
    except OSError as fault:
        raise BadInput(
            f"cannot keep a key in {folder}: {fault.strerror}; name another folder in FITUP_KEYS"
        ) from fault
    return public


@contextmanager
def new_key(passphrase: str) -> Iterator[str]:
    """A key made for what is done within; should that fail, it is gone again. Raises BadInput."""
    public = make_key(passphrase)
    try:
        yield public
    except Uncertain:
        raise
    except BaseException:
        with suppress(OSError):
            (keys_folder() / f"{public}.pem").unlink()
        raise


def is_here(public_hex: str) -> bool:
    """Whether the private half of a key lies at this workstation."""
    return (keys_folder() / f"{public_hex}.pem").is_file()


def open_key(public_hex: str, person: str, passphrase: str) -> Ed25519PrivateKey:
    """The private key of an enrolled person. Raises BadInput: no key at this workstation, or a wrong passphrase."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    path = keys_folder() / f"{public_hex}.pem"
    try:
        pem = path.read_bytes()
    except OSError as fault:
        message = (
            f"the key of {person} is not at this workstation ({path.parent}); "
            "sign where it was made, or set FITUP_KEYS"
        )
        raise BadInput(message) from fault
    secret = _secret(passphrase)
    try:
        key = load_pem_private_key(pem, secret)
    except (ValueError, TypeError) as fault:
        raise BadInput(f"wrong passphrase for the key of {person}; nothing was signed") from fault
    if not isinstance(key, Ed25519PrivateKey):
        raise BadInput(f"{path} is not a signing key; enroll {person} again")
    if public_of(key) != public_hex:
        raise BadInput(
            f"{path} holds another key than its name says: expected the key of {person}; nothing was signed. "
            "Bring the right file back, or retire this key and enroll a new one"
        )
    return key


def public_of(key: Ed25519PrivateKey) -> str:
    """The public half of a private key, in hex: its name in the keys folder and in the journal."""
    from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

    return key.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw).hex()


def _secret(passphrase: str) -> bytes:
    """A passphrase as the encryption takes it. Raises BadInput for one it cannot take."""
    try:
        secret = passphrase.encode()
    except UnicodeEncodeError as fault:
        raise BadInput("the passphrase is not text in UTF-8: type it again") from fault
    if len(secret) > LONGEST_PASSPHRASE:
        raise BadInput(
            f"the passphrase has {len(secret)} bytes, at most {LONGEST_PASSPHRASE} are possible: choose a shorter one"
        )
    return secret
