"""
Lengths, limits, clearances and readings as people write them, kept exactly.

A *length* is its text ("3/16 in") and an exact decimal in mm (4.7625). The inch is 25.4 mm exactly, so every
binary fraction of an inch is a finite decimal; a fraction that is not (1/3 in) is refused. *Limits* are
deviations from a nominal, *bounds* a required clearance, a *measured* value has an expanded uncertainty U.
The grammar is our own and strict: pint reads `1 1/2 in` as 0.5 in and `6,5 mm` as 65 mm, so it only says what
kind of thing a strange unit is, and holds our factors to account in the tests.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import Any
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
_SPELLED = {
    **{name: name for name in MM_PER},
    **{"µm": "um", "μm": "um", "mil": "thou", '"': "in", "in.": "in", "inch": "in", "inches": "in"},
    **{"'": "ft", "ft.": "ft", "foot": "ft", "feet": "ft"},
}
MOST_CHARACTERS = 60
MOST_MM = 1_000_000  # the largest coordinate that the reader of drawings takes
_MOST_DIGITS = 28  # decimal arithmetic is exact up to its default precision

_SIGNS = str.maketrans(dict.fromkeys("−–—‐‑‒", "-") | {"″": '"', "”": '"', "′": "'", "’": "'"})
_NUM = r"(?:[0-9]+[ -][0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
_UNIT = rf"(?:{'|'.join(re.escape(u) for u in sorted(_SPELLED, key=len, reverse=True))})"
_SIZE = rf"({_NUM}) ?({_UNIT})?"
_EITHER = r"(?:±|\+-|\+/-)"
_LENGTH = re.compile(rf"([+-]?) ?{_SIZE}", re.IGNORECASE)
_FEET = re.compile(
    rf"([+-]?) ?([0-9]+) ?(?:ft\.?|feet|foot|')[ -]?({_NUM}) ?(?:in\.?|inch|inches|\")", re.IGNORECASE
)
_EQUAL = re.compile(rf"{_EITHER} ?{_SIZE}", re.IGNORECASE)
_UNEQUAL = re.compile(rf"([+-]?) ?{_SIZE}(?: ?/ ?| )([+-]?) ?{_SIZE}", re.IGNORECASE)
_LEAST = re.compile(rf"(?:>=|≥|min\.?|minimum|at least) ?{_SIZE}|{_SIZE} ?min\.?", re.IGNORECASE)
_MOST = re.compile(rf"(?:<=|≤|max\.?|maximum|at most) ?{_SIZE}|{_SIZE} ?max\.?", re.IGNORECASE)
_RANGE = re.compile(rf"{_SIZE} ?(?:\.\.(?!\.)|to) ?{_SIZE}", re.IGNORECASE)
_READING = re.compile(rf"{_SIZE} ?{_EITHER} ?{_SIZE}(?:(?<=[0-9\"'])|(?=[ ,;])|$)[ ,;]*(.*)", re.IGNORECASE)
_ANGLE = re.compile(r"([+-]?) ?([0-9]+(?:\.[0-9]+)?|\.[0-9]+) ?(°|deg\.?|degrees?)", re.IGNORECASE)
_STRANGE = re.compile(rf"[+-]? ?{_NUM} ?([a-z°]{{1,12}})(?:[\^²³/].*)?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Length:
    """A length as written, with its unit, and in mm, exactly."""

    written: str
    mm: Decimal

    def __str__(self) -> str:
        number = self.written.removesuffix("mm").strip()
        if self.written.endswith("mm") and re.fullmatch(r"-?[0-9]*\.?[0-9]+", number):
            return self.written
        return f"{self.written} = {plain(self.mm)} mm"

    def to_json(self) -> dict[str, str]:
        return {"written": self.written, "mm": plain(self.mm)}

    @staticmethod
    def from_json(data: dict[str, Any]) -> Length:
        """The length that `to_json` wrote; the text is not read again, so an old grammar stays readable."""
        return Length(str(data["written"]), _decimal(data["mm"]))


@dataclass(frozen=True, slots=True)
class Limits:
    """Deviations from a nominal, in mm; None where that side is free. Both may lie on one side of it."""

    written: str
    lower_mm: Decimal | None
    upper_mm: Decimal | None

    def __str__(self) -> str:
        return self.written

    def allows(self, deviation_mm: Decimal | float) -> bool:
        """Whether a deviation from the nominal lies within; never for one that is not finite."""
        return _within(deviation_mm, self.lower_mm, self.upper_mm)

    def to_json(self) -> dict[str, str | None]:
        lower, upper = _plain_or_none(self.lower_mm), _plain_or_none(self.upper_mm)
        return {"written": self.written, "lower_mm": lower, "upper_mm": upper}

    @staticmethod
    def from_json(data: dict[str, Any]) -> Limits:
        return Limits(
            str(data["written"]), _decimal_or_none(data["lower_mm"]), _decimal_or_none(data["upper_mm"])
        )


@dataclass(frozen=True, slots=True)
class Bounds:
    """A required clearance: at least, at most, or between, in mm."""

    written: str
    least_mm: Decimal | None
    most_mm: Decimal | None

    def __str__(self) -> str:
        return self.written

    def allows(self, value_mm: Decimal | float) -> bool:
        """Whether a clearance lies within; never for one that is not finite."""
        return _within(value_mm, self.least_mm, self.most_mm)

    def to_json(self) -> dict[str, str | None]:
        least, most = _plain_or_none(self.least_mm), _plain_or_none(self.most_mm)
        return {"written": self.written, "least_mm": least, "most_mm": most}

    @staticmethod
    def from_json(data: dict[str, Any]) -> Bounds:
        return Bounds(
            str(data["written"]), _decimal_or_none(data["least_mm"]), _decimal_or_none(data["most_mm"])
        )


@dataclass(frozen=True, slots=True)
class Measured:
    """A reading on the real thing: value, expanded uncertainty U (95 %), and what it was measured with."""

    value: Length
    uncertainty: Length
    instrument: str = ""

    def __str__(self) -> str:
        tail = f" ({self.instrument})" if self.instrument else ""
        return f"{self.value.written} ±{self.uncertainty.written}{tail}"

    def to_json(self) -> dict[str, Any]:
        value, uncertainty = self.value.to_json(), self.uncertainty.to_json()
        return {"value": value, "uncertainty": uncertainty, "instrument": self.instrument}

    @staticmethod
    def from_json(data: dict[str, Any]) -> Measured:
        value, uncertainty = Length.from_json(data["value"]), Length.from_json(data["uncertainty"])
        return Measured(value, uncertainty, str(data["instrument"]))


def read_length(text: str, *, unit: str | None = None, signed: bool = False) -> Length:
    """Read a length; `unit` stands in where none is written. Raises BadInput."""
    shown, clean = _clean(text, "a length", "12.7 mm, .250 in, 3/16 in or 1-1/2 in")
    if found := _FEET.fullmatch(clean):
        sign, feet, inches = found.groups()
        total = Fraction(feet) * MM_PER["ft"] + _number(inches, shown) * MM_PER["in"]
        return Length(shown, _exact(-total if sign == "-" else total, shown, signed=signed, sign=sign))
    found = _LENGTH.fullmatch(clean)
    if not found:
        raise BadInput(_why_not(shown, clean))
    sign, number, own = found.groups()
    value = _number(number, shown) * _factor(own or unit, shown)
    mm = _exact(-value if sign == "-" else value, shown, signed=signed, sign=sign)
    return Length(shown if own else f"{shown} {unit}", mm)


def read_limits(text: str, *, unit: str | None = None) -> Limits:
    """Read deviations from a nominal: ±0.1, +0.2/-0.1 (upper first), min, max. Raises BadInput."""
    shown, clean = _clean(text, "limits", "±0.1 mm, +0.2/-0.1 mm, min or max")
    if clean.lower() in ("min", "max"):
        zero = Decimal(0)
        return Limits(clean.lower(), *((zero, None) if clean.lower() == "min" else (None, zero)))
    if found := _EQUAL.fullmatch(clean):
        number, own = found.groups()
        half = _mm(number, own or unit, shown)
        return Limits(_with_unit(shown, own, unit), -half, half)
    found = _UNEQUAL.fullmatch(clean)
    if not found:
        raise BadInput(f"{shown!r} is not limits; write ±0.1 mm, +0.2/-0.1 mm (upper first), min or max")
    sign_up, up, unit_up, sign_low, low, unit_low = found.groups()
    upper = _signed(sign_up, _mm(up, unit_up or unit_low or unit, shown), shown)
    lower = _signed(sign_low, _mm(low, unit_low or unit_up or unit, shown), shown)
    if upper < lower:
        raise BadInput(f"{shown!r} is the wrong way round: write the upper limit first, as in +0.2/-0.1 mm")
    return Limits(_with_unit(shown, unit_up or unit_low, unit), lower, upper)


def read_bounds(text: str, *, unit: str | None = None, nominal: Length | None = None) -> Bounds:
    """Read a required clearance: >= 2 mm, min 2 mm, 2..5 mm, <= 5 mm. Raises BadInput, also for a nominal outside."""
    shown, clean = _clean(text, "a required clearance", ">= 2 mm, 2..5 mm or <= 5 mm")
    least = most = own = None
    if found := _RANGE.fullmatch(clean):
        low, unit_low, high, unit_high = found.groups()
        own = unit_low or unit_high
        least, most = (
            _mm(low, unit_low or unit_high or unit, shown),
            _mm(high, unit_high or unit_low or unit, shown),
        )
    elif found := _LEAST.fullmatch(clean):
        own = found[2] or found[4]
        least = _mm(found[1] or found[3], own or unit, shown)
    elif found := _MOST.fullmatch(clean):
        own = found[2] or found[4]
        most = _mm(found[1] or found[3], own or unit, shown)
    else:
        raise BadInput(f"{shown!r} is not a required clearance; write >= 2 mm, 2..5 mm or <= 5 mm")
    if least is not None and most is not None and least > most:
        raise BadInput(
            f"{shown!r} asks for more than it allows: write the smaller value first, as in 2..5 mm"
        )
    bounds = Bounds(_with_unit(shown, own, unit), least, most)
    if nominal is not None and not bounds.allows(nominal.mm):
        raise BadInput(f"the nominal {nominal} lies outside {bounds}: correct the one or the other")
    return bounds


def read_measured(text: str, *, unit: str | None = None) -> Measured:
    """Read "1.8 ±0.1 mm feeler": value, expanded uncertainty, and the instrument if named. Raises BadInput."""
    shown, clean = _clean(text, "a measured value", "1.8 ±0.1 mm feeler")
    found = _READING.fullmatch(clean)
    if not found:
        raise BadInput(
            f"{shown!r} is not a measured value; write value, ± how sure, instrument: 1.8 ±0.1 mm feeler"
        )
    value, unit_value, spread, unit_spread, instrument = found.groups()
    unit_value, unit_spread = unit_value or unit_spread or unit, unit_spread or unit_value or unit
    uncertainty = Length(f"{spread} {unit_spread}", _mm(spread, unit_spread, shown))
    if uncertainty.mm <= 0:
        raise BadInput(f"{shown!r} claims to be exact: write how sure the reading is, as in 1.8 ±0.1 mm")
    return Measured(
        Length(f"{value} {unit_value}", _mm(value, unit_value, shown)), uncertainty, instrument.strip()
    )


def read_angle(text: str, *, signed: bool = False) -> Decimal:
    """Read an angle in degrees, within a full turn. Raises BadInput."""
    shown, clean = _clean(text, "an angle", "90 deg or 37.5°")
    found = _ANGLE.fullmatch(clean)
    if not found:
        raise BadInput(f"{shown!r} is not an angle in degrees; write 90 deg or 37.5°")
    value = Decimal(found[2])
    if value > 360:  # noqa: PLR2004 - a full turn
        raise BadInput(f"{shown!r} is more than a full turn; write an angle up to 360 deg")
    if found[1] and not signed:
        raise BadInput(f"{shown!r}: an angle has no sign here; write it without")
    return -value if found[1] == "-" else value


def plain(value: Decimal) -> str:
    """A decimal without exponent, without trailing zeros, without a negative zero. Raises ValueError if not finite."""
    if not value.is_finite():
        raise ValueError(f"{value} is not a finite number")
    text = format(value, "f")
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


def show_mm(value: float | Decimal, places: int = 3) -> str:
    """A value for the screen, "1.200 mm"; what is not finite is said to be no number."""
    if not math.isfinite(value):
        return "not a number"
    text = f"{value:.{places}f}"
    return f"{text.removeprefix('-') if float(text) == 0 else text} mm"


def _clean(text: str, what: str, example: str) -> tuple[str, str]:
    """The text to keep and the text to read; refuses what no grammar here could want."""
    if not isinstance(text, str) or not text.strip():
        raise BadInput(f"nothing was given where {what} is wanted; write it like {example}")
    if len(text) > MOST_CHARACTERS:
        raise BadInput(
            f"{visible(text, most=20)!r} is too long for {what}; at most {MOST_CHARACTERS} characters"
        )
    if any(category(c)[0] == "C" or category(c) in ("Zl", "Zp") for c in text):
        raise BadInput(f"{visible(text)!r} holds a control character where {what} is wanted; type it again")
    shown = " ".join(text.split())
    if any(category(c)[0] == "N" and not c.isascii() for c in shown):
        raise BadInput(
            f"{shown!r} holds a number sign of another script; write plain figures, as in {example}"
        )
    if found := re.search(r"[0-9],[0-9]", shown):
        raise BadInput(
            f"{shown}: write {shown.replace(',', '.')}; a comma ({found[0]}) is not read, 1000 has none"
        )
    return shown, shown.translate(_SIGNS)


def _number(text: str, shown: str) -> Fraction:
    whole, _, part = text.replace("-", " ").rpartition(" ")
    top, _, bottom = part.partition("/")
    if bottom and int(bottom) == 0:
        raise BadInput(f"{shown!r} divides by nothing; write the fraction again")
    if whole and int(top) >= int(bottom):
        raise BadInput(f"{shown!r}: the fraction beside a whole number must be less than one, as in 1-1/2 in")
    return Fraction(int(whole or 0)) + (Fraction(int(top), int(bottom)) if bottom else Fraction(top))


def _factor(unit: str | None, shown: str) -> Fraction:
    if unit is None:
        raise BadInput(f"{shown!r} has no unit; write mm or in behind it")
    name = _SPELLED.get(unit) or (_SPELLED.get(unit.lower()) if unit != "M" else None)
    if name is None:
        raise BadInput(f"{shown!r}: {visible(unit)!r} is not a unit of length here; use {', '.join(MM_PER)}")
    return MM_PER[name]


def _mm(number: str, unit: str | None, shown: str) -> Decimal:
    return _exact(_number(number, shown) * _factor(unit, shown), shown)


def _exact(value: Fraction, shown: str, *, signed: bool = False, sign: str = "") -> Decimal:
    """The same value as a finite decimal; only a denominator of twos and fives has one."""
    if sign and not signed:
        raise BadInput(f"{shown!r}: a length has no sign here; write it without")
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
    if len(digits) > _MOST_DIGITS:
        raise BadInput(f"{shown!r} has more figures than anyone can measure; write fewer")
    return Decimal((int(value < 0), tuple(map(int, digits)), -places))


def _signed(sign: str, value: Decimal, shown: str) -> Decimal:
    if not sign and value != 0:
        raise BadInput(f"{shown!r}: every limit but 0 needs its sign, as in +0.2/-0.1 mm")
    return -value if sign == "-" and value != 0 else value


def _with_unit(shown: str, own: str | None, unit: str | None) -> str:
    return shown if own else f"{shown} {unit}"


def _within(value: Decimal | float, low: Decimal | None, high: Decimal | None) -> bool:
    return math.isfinite(value) and (low is None or value >= low) and (high is None or value <= high)


def _decimal(text: Any) -> Decimal:
    if not isinstance(text, str) or not re.fullmatch(r"-?[0-9]+(\.[0-9]+)?", text):
        raise BadInput(
            f"{visible(str(text))!r} is not a plain decimal; the record was not written by this program"
        )
    return Decimal(text)


def _decimal_or_none(text: Any) -> Decimal | None:
    return None if text is None else _decimal(text)


def _plain_or_none(value: Decimal | None) -> str | None:
    return None if value is None else plain(value)


def _why_not(shown: str, clean: str) -> str:
    """Why a text is no length: it may be another kind of thing."""
    usual = f"{shown!r} is not a length; write it like 12.7 mm, .250 in, 3/16 in or 1-1/2 in"
    found = _STRANGE.fullmatch(clean)
    if not found or found[1].lower() in _SPELLED:
        return usual
    kind = _kind(found[1])
    return f"{shown!r} is {kind}, not a length; write mm or in" if kind else usual


@cache
def _pint() -> Any:
    """The registry of units; a quarter of a second, so only where a text was refused."""
    import pint

    return pint.UnitRegistry()


def _kind(unit: str) -> str | None:
    """What a unit that is not ours measures, in words."""
    registry = _pint()
    try:
        dimensions = registry.parse_units(unit.replace("°", "degree")).dimensionality
    except Exception:  # noqa: BLE001 - a word that pint cannot read has no kind
        return None
    for name, words in (
        ("kilogram", "a mass"), ("second", "a time"), ("newton", "a force"), ("kelvin", "a temperature"),
        ("pascal", "a pressure"), ("meter**2", "an area"), ("meter**3", "a volume"), ("joule", "a torque or an energy"),
    ):  # fmt: skip
        if dimensions == registry.parse_units(name).dimensionality:
            return words
    return "in a unit not used here" if dimensions == registry.parse_units("meter").dimensionality else None
