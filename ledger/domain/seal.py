"""
The journal seal: number and hash of an entry, in full as papers print it, and short enough to be copied by hand.

The short form is the number, sixteen letters and figures of which none looks like another, and a check letter:
`57-K7QM-3WXA-9TRB-HC2D-V`. It holds 79 bits of the entry's hash, slowed down: whoever may still write entries could
look for two with the same letters, and that is then 2^39 times a tenth of a second of work.

The check letter is a weighted sum modulo a prime, as the last figure of an ISBN of ten figures is (ISO 2108, of 1992,
there modulo 11): it finds every single wrong letter, and every two that changed places.
"""

from __future__ import annotations

import hashlib
import re

from ledger.domain.errors import BadInput, visible

ALPHABET = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"  # no 0 and O, no 1, I and L: 31, which is prime
FEWEST_FIGURES = 12  # of a hash, to name an entry
_LETTERS, _GROUP = 16, 4
_ROUNDS = 100_000
_LONG = re.compile(rf"\s*([0-9]{{1,15}}):([0-9a-fA-F]{{{FEWEST_FIGURES},64}})\s*")
_SHORT = re.compile(r"\s*([0-9]{1,14})[-\s]+((?:[0-9A-Za-z][-\s]*){17})\s*")


def short_seal(seq: int, mark: str) -> str:
    """The seal of entry `seq`, whose hash (hex) is `mark`, as it is copied by hand."""
    letters = _letters(mark)
    return f"{seq}-{letters}-{_check(str(seq), letters)}"


def read_seal(written: str) -> tuple[int, str]:
    """
    The number of a seal and what `fits` looks for: the first figures of its hash, or its letters.

    Raises BadInput for what is no seal, or was copied with a letter wrong.
    """
    if found := _LONG.fullmatch(written):
        return int(found[1]), found[2].lower()
    found = _SHORT.fullmatch(written)
    typed = re.sub(r"[-\s]", "", found[2]).upper() if found else ""
    if not found or not set(typed) <= set(ALPHABET):
        raise BadInput(
            f"read {visible(written)!r} as a seal; expected SEQ:HASH as a packet or sheet shows it, at least "
            f"{FEWEST_FIGURES} figures of the hash, or what fitup seal prints, which has no 0, O, 1, I or L"
        )
    letters = _grouped(typed[:_LETTERS])
    if _check(str(int(found[1])), letters) != typed[_LETTERS]:
        raise BadInput(
            f"read {visible(written)!r} as a seal; its check letter does not go with the rest: copy it again"
        )
    return int(found[1]), letters


def fits(mark: str, start: str) -> bool:
    """Whether an entry's hash (hex) is the one that `read_seal` read."""
    return _letters(mark) == start if "-" in start else mark.startswith(start)


def _letters(mark: str) -> str:
    try:
        figures = bytes.fromhex(mark)
    except ValueError:
        return ""  # no hash: it fits nothing
    number = int.from_bytes(hashlib.pbkdf2_hmac("sha256", figures, b"fitup seal", _ROUNDS))
    out = ""
    for _ in range(_LETTERS):
        number, at = divmod(number, len(ALPHABET))
        out += ALPHABET[at]
    return _grouped(out)


def _grouped(letters: str) -> str:
    return "-".join(letters[k : k + _GROUP] for k in range(0, _LETTERS, _GROUP))


def _check(number: str, letters: str) -> str:
    """Letters weigh 1 to 16, the figures of the number from the right 17 and more: all other than 0, none twice."""
    values = [ALPHABET.index(c) for c in letters if c != "-"] + [int(c) for c in reversed(number)]
    return ALPHABET[-sum(weight * value for weight, value in enumerate(values, start=1)) % len(ALPHABET)]
