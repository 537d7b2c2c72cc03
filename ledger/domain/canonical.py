"""
One spelling for one value: canonical bytes, and digests over them.

Canonical JSON is RFC 8785. On top of it, our own rules: every string in Unicode normal form C, decimals as
plain strings, tuples as lists, and no floats at all, since two machines may round one differently. NUL and
lone surrogates are refused, because databases differ on them. A *digest* is SHA-256 over the canonical bytes
with a *domain* in front, so that a digest of one kind of thing never passes for another kind's.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any
from unicodedata import normalize

import rfc8785

from ledger.domain.errors import BadInput, visible
from ledger.domain.quantity import plain

MOST_INTEGER = 2**53 - 1  # RFC 8785 section 3.2.2.3: what every reader of JSON holds exactly
_PREFIX = b"fitup/"


def canonical(value: Any) -> bytes:
    """
    RFC 8785 bytes of strings, integers, decimals, booleans, None, mappings, lists and tuples.

    Raises TypeError naming the path for a float or any other kind, ValueError for an integer past 2^53 or a
    decimal that is not finite, BadInput for text with NUL or a lone surrogate, or for two keys that are one.
    """
    return rfc8785.dumps(_checked(value, "value"))


def digest(domain: str, value: Any) -> str:
    """SHA-256, in hex, over the domain, a NUL and the canonical bytes. The domain is lower-case words."""
    if not re.fullmatch(r"[a-z0-9][a-z0-9 ./-]*", domain):
        raise ValueError(f"{domain!r} is not a digest domain: lower-case letters, figures, space, . / -")
    return sha256(_PREFIX + domain.encode("ascii") + b"\0" + canonical(value))


def sha256(data: bytes) -> str:
    """SHA-256 (FIPS 180-4) in lower-case hex."""
    return hashlib.sha256(data).hexdigest()


def _checked(value: Any, path: str) -> Any:
    """The same value in the kinds that RFC 8785 knows."""
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, str):
        return _text(value, path)
    if isinstance(value, int):
        if abs(value) > MOST_INTEGER:
            raise ValueError(f"{path} is the integer {value}, past 2^53; write it as text")
        return int(value)
    if isinstance(value, Decimal):
        if not value.is_finite():
            raise ValueError(f"{path} is {value}, not a finite number")
        return plain(value)
    if isinstance(value, Mapping):
        return _mapping(value, path)
    if isinstance(value, list | tuple):
        return [_checked(item, f"{path}[{index}]") for index, item in enumerate(value)]
    raise TypeError(
        f"{path} is a {type(value).__name__}; a record holds text, integers and decimals, no floats"
    )


def _mapping(value: Mapping[Any, Any], path: str) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for key, item in value.items():
        if not isinstance(key, str):
            raise TypeError(f"{path} has the key {key!r}; keys are text")
        name = _text(key, path)
        if name in out:
            raise BadInput(f"{path} has the key {visible(name)!r} twice once its accents are composed")
        out[name] = _checked(item, f"{path}.{visible(name)}")
    return out


def _text(text: str, path: str) -> str:
    if "\0" in text or any("\ud800" <= c <= "\udfff" for c in text):
        raise BadInput(f"{path} holds a NUL or half a character ({visible(text)!r}); type it again")
    return normalize("NFC", text)
