"""
Lengths, limits, clearances and readings as people write them, kept exactly.

A *length* is its text ("3/16 in") and an exact decimal in mm (4.7625). *Limits* are deviations from a
nominal, *bounds* a required clearance; a *measured* value carries an expanded uncertainty U (95 %).
The grammar is our own and strict (`ledger.domain.number_text`): pint reads `1 1/2 in` as 0.5 in and `6,5 mm` as
65 mm, so it only says what kind of thing a strange unit is, and holds our factors to account in the tests.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import Any

from ledger.domain import number_text
from ledger.domain.errors import BadInput
from ledger.domain.number_text import MM_PER, NUMBER, SIZE, UNIT_NAMES, plain

__all__ = [
    "Bounds", "Length", "Limits", "Measured", "plain", "read_angle", "read_bounds", "read_length",
    "read_limits", "read_measured", "show_mm",
]  # fmt: skip

_EITHER = r"(?:±|\+-|\+/-)"
_LENGTH = re.compile(rf"([+-]?) ?{SIZE}", re.IGNORECASE)
_FEET = re.compile(
    rf"([+-]?) ?([0-9]+) ?(?:ft\.?|feet|foot|')[ -]?({NUMBER}) ?(?:in\.?|inch|inches|\")", re.IGNORECASE
)
_EQUAL = re.compile(rf"{_EITHER} ?{SIZE}", re.IGNORECASE)
_UNEQUAL = re.compile(rf"([+-]?) ?{SIZE}(?: ?/ ?| )([+-]?) ?{SIZE}", re.IGNORECASE)
_LEAST = re.compile(rf"(?:>=|≥|min\.?|minimum|at least) ?{SIZE}|{SIZE} ?min\.?", re.IGNORECASE)
_MOST = re.compile(rf"(?:<=|≤|max\.?|maximum|at most) ?{SIZE}|{SIZE} ?max\.?", re.IGNORECASE)
_RANGE = re.compile(rf"{SIZE} ?(?:\.\.(?!\.)|to) ?{SIZE}", re.IGNORECASE)
_READING = re.compile(rf"{SIZE} ?{_EITHER} ?{SIZE}(?:(?<=[\"'])|(?=[ ,;])|$)[ ,;]*(.*)", re.IGNORECASE)
_ANGLE = re.compile(r"([+-]?) ?([0-9]+(?:\.[0-9]+)?|\.[0-9]+) ?(?:°|deg\.?|degrees?)", re.IGNORECASE)
_STRANGE = re.compile(rf"[+-]? ?{NUMBER} ?([a-z°]{{1,12}})", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Length:
    """A length as written, with its unit, and in mm, exactly."""

    written: str
    mm: Decimal

    def __str__(self) -> str:
        figures = self.written.removesuffix("mm").strip()
        if self.written.endswith("mm") and re.fullmatch(r"[+-]?[0-9]*\.?[0-9]+", figures):
            return self.written
        return f"{self.written} = {plain(self.mm)} mm"

    def to_json(self) -> dict[str, str]:
        return {"written": self.written, "mm": plain(self.mm)}

    @staticmethod
    def from_json(data: dict[str, Any]) -> Length:
        """The length that `to_json` wrote; the text is not read again, so an old grammar stays readable."""
        return Length(str(data["written"]), number_text.decimal(data["mm"]))


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
        lower, upper = number_text.plain_or_none(self.lower_mm), number_text.plain_or_none(self.upper_mm)
        return {"written": self.written, "lower_mm": lower, "upper_mm": upper}

    @staticmethod
    def from_json(data: dict[str, Any]) -> Limits:
        sides = (number_text.decimal_or_none(data[side]) for side in ("lower_mm", "upper_mm"))
        return Limits(str(data["written"]), *sides)


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
        least, most = number_text.plain_or_none(self.least_mm), number_text.plain_or_none(self.most_mm)
        return {"written": self.written, "least_mm": least, "most_mm": most}

    @staticmethod
    def from_json(data: dict[str, Any]) -> Bounds:
        sides = (number_text.decimal_or_none(data[side]) for side in ("least_mm", "most_mm"))
        return Bounds(str(data["written"]), *sides)


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
    shown, text = number_text.clean(text, "a length", "12.7 mm, .250 in, 3/16 in or 1-1/2 in")
    if found := _FEET.fullmatch(text):
        sign, feet, inches = found.groups()
        own, value = "ft", int(feet) * MM_PER["ft"] + number_text.number(inches, shown) * MM_PER["in"]
    elif found := _LENGTH.fullmatch(text):
        sign, figures, own = found.groups()
        value = number_text.number(figures, shown) * MM_PER[number_text.unit_name(own or unit, shown)]
    else:
        raise BadInput(_why_no_length(shown, text))
    _no_sign(sign, shown, allowed=signed)
    return Length(number_text.with_unit(shown, own, unit), number_text.exact(_signed(sign, value), shown))


def read_limits(text: str, *, unit: str | None = None) -> Limits:
    """Read deviations from a nominal: ±0.1, +0.2/-0.1 (upper first), min, max. Raises BadInput."""
    shown, text = number_text.clean(text, "limits", "±0.1 mm, +0.2/-0.1 mm, min or max")
    if text.lower() == "min":
        return Limits("min", Decimal(0), None)
    if text.lower() == "max":
        return Limits("max", None, Decimal(0))
    if found := _EQUAL.fullmatch(text):
        half = number_text.size_mm(found[1], found[2] or unit, shown)
        return Limits(number_text.with_unit(shown, found[2], unit), -half, half)
    found = _UNEQUAL.fullmatch(text)
    if not found:
        raise BadInput(f"{shown!r} is not limits; write ±0.1 mm, +0.2/-0.1 mm (upper first), min or max")
    sign_up, up, unit_up, sign_low, low, unit_low = found.groups()
    upper = _deviation(sign_up, number_text.size_mm(up, unit_up or unit_low or unit, shown), shown)
    lower = _deviation(sign_low, number_text.size_mm(low, unit_low or unit_up or unit, shown), shown)
    if upper < lower:
        raise BadInput(f"{shown!r} is the wrong way round: write the upper limit first, as in +0.2/-0.1 mm")
    return Limits(number_text.with_unit(shown, unit_up or unit_low, unit), lower, upper)


def read_bounds(
    text: str, *, unit: str | None = None, nominal: Length | None = None, what: str = "a required clearance"
) -> Bounds:
    """Read a required clearance: >= 2 mm, 2..5 mm, <= 5 mm. Raises BadInput, or for a nominal outside."""
    shown, text = number_text.clean(text, what, ">= 2 mm, 2..5 mm or <= 5 mm")
    least = most = own = None
    if found := _RANGE.fullmatch(text):
        low, unit_low, high, unit_high = found.groups()
        own = unit_low or unit_high
        least = number_text.size_mm(low, unit_low or unit_high or unit, shown)
        most = number_text.size_mm(high, unit_high or unit_low or unit, shown)
    elif found := _LEAST.fullmatch(text):
        own = found[2] or found[4]
        least = number_text.size_mm(found[1] or found[3], own or unit, shown)
    elif found := _MOST.fullmatch(text):
        own = found[2] or found[4]
        most = number_text.size_mm(found[1] or found[3], own or unit, shown)
    else:
        raise BadInput(f"{shown!r} is not {what}; write >= 2 mm, 2..5 mm or <= 5 mm")
    if least is not None and most is not None and least > most:
        raise BadInput(
            f"{shown!r} asks for more than it allows: write the smaller value first, as in 2..5 mm"
        )
    bounds = Bounds(number_text.with_unit(shown, own, unit), least, most)
    if nominal is not None and not bounds.allows(nominal.mm):
        raise BadInput(f"the nominal {nominal} is outside {bounds}: correct the one or the other")
    return bounds


def read_measured(text: str, *, unit: str | None = None) -> Measured:
    """Read "1.8 ±0.1 mm feeler": value, expanded uncertainty, instrument if named. Raises BadInput."""
    shown, text = number_text.clean(text, "a measured value", "1.8 ±0.1 mm feeler")
    found = _READING.fullmatch(text)
    if not found:
        raise BadInput(
            f"{shown!r} is not a measured value; write value, how sure, instrument: 1.8 ±0.1 mm feeler"
        )
    value, unit_value, spread, unit_spread, instrument = found.groups()
    first = re.match(r"[^\W\d]*", instrument)
    if not unit_spread and first and first[0].lower() in UNIT_NAMES:
        raise BadInput(f"{shown!r}: put a space behind the unit, as in 1.8 ±0.1 mm feeler")
    read = [
        Length(f"{figures} {name}", number_text.size_mm(figures, name, shown))
        for figures, name in (
            (value, number_text.unit_name(unit_value or unit_spread or unit, shown)),
            (spread, number_text.unit_name(unit_spread or unit_value or unit, shown)),
        )
    ]
    if read[1].mm <= 0:
        raise BadInput(f"{shown!r} claims to be exact: write how sure the reading is, as in 1.8 ±0.1 mm")
    return Measured(read[0], read[1], instrument.strip())


def read_angle(text: str, *, signed: bool = False) -> Decimal:
    """Read an angle in degrees, at most a full turn. Raises BadInput."""
    shown, text = number_text.clean(text, "an angle", "90 deg or 37.5°")
    found = _ANGLE.fullmatch(text)
    if not found:
        raise BadInput(f"{shown!r} is not an angle in degrees; write 90 deg or 37.5°")
    _no_sign(found[1], shown, allowed=signed)
    value = Fraction(found[2])
    if value > 360:  # noqa: PLR2004 - a full turn
        raise BadInput(f"{shown!r} is more than a full turn; write an angle up to 360 deg")
    return number_text.exact(_signed(found[1], value), shown)


def show_mm(value: float | Decimal, places: int = 3) -> str:
    """A value for the screen, "1.200 mm"; what is not finite is said to be no number."""
    if not math.isfinite(value):
        return "not a number"
    text = f"{value:.{places}f}"
    return f"{text.removeprefix('-') if float(text) == 0 else text} mm"


def _no_sign(sign: str, shown: str, *, allowed: bool) -> None:
    if sign and not allowed:
        raise BadInput(f"{shown!r} has a sign where none is expected; write it without")


def _signed(sign: str, value: Fraction) -> Fraction:
    return -value if sign == "-" else value


def _deviation(sign: str, value: Decimal, shown: str) -> Decimal:
    if not sign and value != 0:
        raise BadInput(f"{shown!r}: every limit but 0 needs its sign, as in +0.2/-0.1 mm")
    return -value if sign == "-" else value


def _within(value: Decimal | float, low: Decimal | None, high: Decimal | None) -> bool:
    return math.isfinite(value) and (low is None or value >= low) and (high is None or value <= high)


def _why_no_length(shown: str, text: str) -> str:
    """Why a text is no length: it may be another kind of thing."""
    found = _STRANGE.fullmatch(text)
    kind = _kind(found[1]) if found and found[1].lower() not in UNIT_NAMES else None
    if kind:
        return f"{shown!r} is {kind}, not a length; write mm or in"
    return f"{shown!r} is not a length; write it like 12.7 mm, .250 in, 3/16 in or 1-1/2 in"


@cache
def _pint() -> Any:
    """The registry of units: a quarter of a second, so only where a text was refused."""
    import pint

    return pint.UnitRegistry()


def _kind(unit: str) -> str | None:
    """What a unit that is not ours measures, in words; None for a word that is no unit."""
    try:
        measured = _pint().Quantity(1, unit.replace("°", "degree"))
    except Exception:  # noqa: BLE001 - whatever pint makes of it, a word it cannot read has no kind
        return None
    kinds = {
        "[length]": "in a unit not used here",
        "[mass]": "a mass",
        "[time]": "a time",
        "[force]": "a force",
        "[pressure]": "a pressure",
        "[temperature]": "a temperature",
        "[area]": "an area",
        "[volume]": "a volume",
    }
    if measured.is_compatible_with("radian"):
        return "an angle or a bare number"
    return next((words for kind, words in kinds.items() if measured.check(kind)), None)
