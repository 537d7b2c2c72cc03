"""
Keys at a workstation; what they sign is in `ledger.domain.sealed`.

Private keys lie in PEM files, encrypted with a passphrase.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.domain.errors import BadInput, Uncertain

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

LONGEST_PASSPHRASE = 1023  # bytes: what OpenSSL reads of one


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
