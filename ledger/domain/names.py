"""Names and prose as they are kept: what is refused, and the one form in which equal names are equal."""

from __future__ import annotations

from typing import Final
from unicodedata import category, normalize

from ledger.domain.errors import BadInput, visible

LONGEST_NAME: Final = 64
LONGEST_TEXT: Final = 2000


def name_text(value: str) -> str:
    """An identifier: 1 to 64 characters, blanks single and inside, nothing invisible. Raises BadInput."""
    value = normalize("NFC", value).strip()
    if not value:
        raise BadInput("an empty name: give it at least one character")
    if len(value) > LONGEST_NAME:
        raise BadInput(
            f"a name of {len(value)} characters: at most {LONGEST_NAME} are kept; shorten {visible(value, most=24)!r}"
        )
    if any(category(c)[0] == "C" or category(c) in ("Zl", "Zp") for c in value):
        raise BadInput(f"the name {visible(value)!r} holds invisible or control characters: leave them out")
    return same_name(value)


def same_name(value: str) -> str:
    """A name as it is kept and looked up: composed (NFC), no blanks around it, single ones inside."""
    return " ".join(normalize("NFC", value).split())


def prose(value: str) -> str:
    """Text of at most 2,000 characters without NUL or lone surrogates. Raises BadInput."""
    value = normalize("NFC", value).strip()
    if len(value) > LONGEST_TEXT:
        raise BadInput(f"a text of {len(value)} characters: at most {LONGEST_TEXT} are kept; shorten it")
    if any(c == "\0" or category(c) == "Cs" for c in value):
        raise BadInput(f"the text {visible(value)!r} holds NUL or broken characters: leave them out")
    return value
