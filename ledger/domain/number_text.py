"""
What someone wrote, into an exact number of millimetres, and back: the ground of `ledger.domain.quantity`.

A *number* is 12.7, .250, 3/16, 1-1/2 or 1 1/2; a *size* is a number and perhaps a unit. Arithmetic is on
fractions, and only a fraction that is a finite decimal in mm comes out: 25.4 makes every binary fraction of
an inch one, 1/3 in is none. Anything that could be read in two ways is refused with what to write instead.
"""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from unicodedata import category

from ledger.domain.errors import BadInput, visible

MM_PER: dict[str, Fraction] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "um": Fraction(1, 1000),
    "in": Fraction(254, 10),  # exact: NIST SP 811 appendix B
    "ft": Fraction(3048, 10),
    "thou": Fraction(254, 10_000),
}
_OTHER_NAMES = {
    **dict.fromkeys(("µm", "μm"), "um"),
    **dict.fromkeys(("mil", "mils"), "thou"),
    **dict.fromkeys(('"', "in.", "inch", "inches"), "in"),
    **dict.fromkeys(("'", "ft.", "foot", "feet"), "ft"),
}
UNIT_NAMES: dict[str, str] = {name: name for name in MM_PER} | _OTHER_NAMES
MOST_CHARACTERS = 60
MOST_MM = 1_000_000  # the largest coordinate that the reader of drawings takes
MOST_DIGITS = 28  # decimal arithmetic is exact up to its default precision

NUMBER = r"(?:[0-9]+[ -][0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
UNIT = rf"(?:{'|'.join(re.escape(u) for u in sorted(UNIT_NAMES, key=len, reverse=True))})"
SIZE = rf"({NUMBER}) ?({UNIT})?"

_SIGNS = str.maketrans(dict.fromkeys("−–—‐‑‒", "-") | {"″": '"', "”": '"', "′": "'", "’": "'"})


def clean(text: str, what: str, example: str) -> tuple[str, str]:
    """The text to keep and the text to read. Raises BadInput for what no grammar here could want."""
    if not isinstance(text, str) or not text.strip():
        raise BadInput(f"nothing was given where {what} is required; write it like {example}")
    if len(text) > MOST_CHARACTERS:
        raise BadInput(
            f"{visible(text, most=20)!r} is too long for {what}; at most {MOST_CHARACTERS} characters"
        )
    if any(category(c)[0] == "C" or category(c) in ("Zl", "Zp") for c in text):
        raise BadInput(f"{visible(text)!r} holds a control character where {what} is required; type it again")
    shown = " ".join(text.split())
    if any(category(c)[0] == "N" and not c.isascii() for c in shown):
        raise BadInput(f"{shown!r} holds a figure that is no plain digit, as ½ is; write it like {example}")
    if found := re.search(r"[0-9],[0-9]+", shown):
        raise BadInput(f"{shown}: {_without_comma(shown, found[0])}")
    return shown, shown.translate(_SIGNS)


def number(text: str, shown: str) -> Fraction:
    """The value of a number; a fraction beside a whole number must be less than one."""
    whole, _, part = text.replace("-", " ").rpartition(" ")
    top, _, bottom = part.partition("/")
    if bottom and int(bottom) == 0:
        raise BadInput(f"{shown!r} divides by nothing; write the fraction again")
    if whole and int(top) >= int(bottom):
        raise BadInput(f"{shown!r}: the fraction beside a whole number must be less than one, as in 1-1/2 in")
    return Fraction(int(whole or 0)) + (Fraction(int(top), int(bottom)) if bottom else Fraction(top))


def unit_name(unit: str | None, shown: str) -> str:
    """Our name of a unit; `MM` is taken for mm, but a lone `M` might be anything."""
    if unit is None:
        raise BadInput(f"{shown!r} has no unit; write mm or in behind it")
    name = UNIT_NAMES.get(unit) or (UNIT_NAMES.get(unit.lower()) if unit != "M" else None)
    if name is None:
        raise BadInput(
            f"{shown!r}: {visible(unit)!r} is no unit of length here; use one of {', '.join(MM_PER)}"
        )
    return name


def size_mm(text: str, unit: str | None, shown: str) -> Decimal:
    """A number in a unit, in mm."""
    return exact(number(text, shown) * MM_PER[unit_name(unit, shown)], shown)


def with_unit(shown: str, own: str | None, unit: str | None) -> str:
    """The text with the unit it was read in, where the writer left it to the default."""
    return shown if own else f"{shown} {unit_name(unit, shown)}"


def exact(value: Fraction, shown: str) -> Decimal:
    """The same value as a finite decimal; only a denominator of twos and fives has one."""
    if abs(value) > MOST_MM:
        raise BadInput(f"{shown!r} is over {MOST_MM // 1000} m; check the figures and the unit")
    rest, places = value.denominator, 0
    for prime in (2, 5):
        count = 0
        while rest % prime == 0:
            rest, count = rest // prime, count + 1
        places = max(places, count)
    if rest != 1:
        raise BadInput(f"{shown!r} is not a finite decimal in mm; write the decimal that is meant")
    digits = str(abs(value.numerator) * 10**places // value.denominator)
    if len(digits) > MOST_DIGITS:
        raise BadInput(f"{shown!r} has more figures than anyone can measure; write fewer")
    return Decimal((int(value < 0), tuple(map(int, digits)), -places))


def plain(value: Decimal) -> str:
    """A decimal without exponent, trailing zeros or negative zero. Raises ValueError if it is not finite."""
    if not value.is_finite():
        raise ValueError(f"{value} is not a finite number")
    text = format(value, "f")
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


def decimal(text: object) -> Decimal:
    """A decimal as `plain` wrote it. Raises BadInput for anything else."""
    if not isinstance(text, str) or not re.fullmatch(r"-?[0-9]+(\.[0-9]+)?", text):
        raise BadInput(
            f"{visible(str(text))!r} is not a plain decimal; the record was not written by this program"
        )
    return Decimal(text)


def decimal_or_none(text: object) -> Decimal | None:
    return None if text is None else decimal(text)


def plain_or_none(value: Decimal | None) -> str | None:
    return None if value is None else plain(value)


def _without_comma(shown: str, found: str) -> str:
    if shown.count(",") > 1 or "." in shown:
        return "write the figures without commas"
    thousands = len(found) == len("1,000")
    return f"write {shown.replace(',', '.')}" + (f" or {shown.replace(',', '')}" if thousands else "")
