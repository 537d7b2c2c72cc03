"""
What a key dimension can be besides a length: an angle in degrees, an area in mm2 or in2, kept exactly as well.

An *amount* is a `Length` of another kind: its number is in its own unit, deg or mm2, wherever a length's is in mm, so
that limits, held values and digests treat all of them alike. The square inch is 645.16 mm2 exactly, since 25.4 is
(NIST SP 811 appendix B). Numbers are read by the grammar of lengths.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from ledger.domain import number_text
from ledger.domain.errors import BadInput, visible
from ledger.domain.number_text import MM_PER, NUMBER, plain
from ledger.domain.quantity import Length, Limits, read_angle, read_bounds, read_length, read_limits

MM, DEGREES, MM2 = "mm", "deg", "mm2"
KINDS = {MM: "a length", DEGREES: "an angle", MM2: "an area"}
_AREA_UNITS = {f"{name}2": factor**2 for name, factor in MM_PER.items() if name not in ("um", "thou")}
_AREA_UNIT = rf"(?:{'|'.join(sorted(_AREA_UNITS, key=len, reverse=True))})"
_AREA = re.compile(rf"({NUMBER}) ?({_AREA_UNIT})", re.IGNORECASE)
_RAISED = re.compile(r"(?<![^\W\d])(mm|cm|m|in|ft)(?:²|\^2)", re.IGNORECASE)
_ANGLE_UNIT = r"(?:°|degrees?\b|deg\b\.?)"
_ANGLE = re.compile(rf"[+-]? ?[0-9.]+ ?{_ANGLE_UNIT}", re.IGNORECASE)
_WORDS = re.compile(r"min|minimum|max|maximum|at least|at most|to", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Amount(Length):
    """An angle or an area; its `mm` counts in `unit`."""

    unit: str = DEGREES

    def __str__(self) -> str:
        if self.unit == DEGREES or self.written.lower().endswith(MM2):
            return self.written
        return f"{self.written} = {plain(self.mm)} {self.unit}"


def unit_of(length: Length) -> str:
    """The unit that its number is in: mm, deg or mm2."""
    return length.unit if isinstance(length, Amount) else MM


def amount_to_json(amount: Length) -> dict[str, str]:
    """An amount as written and exactly, by its unit: {"written": "1/2 in", "mm": "12.7"}."""
    return {"written": amount.written, unit_of(amount): plain(amount.mm)}


def amount_from_json(data: Mapping[str, str]) -> Length:
    """The amount that `amount_to_json` wrote; its text is not read again. Raises ValueError for anything else."""
    unit = next((u for u in KINDS if data.keys() == {"written", u}), "")
    if not unit or not isinstance(data["written"], str):
        raise ValueError("no amount: expected its text and its value in mm, deg or mm2")
    value = number_text.decimal(data[unit])
    return Length(data["written"], value) if unit == MM else Amount(data["written"], value, unit)


def read_as(text: str) -> str:
    """The text with the raised two of a unit as a plain one: mm² is mm2."""
    return _RAISED.sub(r"\g<1>2", text) if isinstance(text, str) else text


def read_amount(text: str, *, unit: str | None = None) -> Length:
    """A length, an angle ("37.5 deg") or an area ("2.5 in2"). Raises BadInput."""
    plain_text = read_as(text)
    shown = " ".join(plain_text.split()) if isinstance(plain_text, str) else ""
    if _ANGLE.fullmatch(shown):
        return Amount(shown, read_angle(shown), DEGREES)
    if found := _AREA.fullmatch(shown):
        return Amount(shown, area_mm2(found[1], found[2], shown), MM2)
    return read_length(plain_text, unit=unit)


def area_mm2(number: str, unit: str, shown: str) -> Decimal:
    """A number of square units in mm2, exactly; at most a square metre a thousand times over."""
    value = number_text.number(number, shown) * _AREA_UNITS[unit.lower()]
    if value > number_text.MOST_MM * 1000:
        raise BadInput(f"{shown!r} is over 1000 m2; check the figures and the unit")
    return number_text.exact(value / 1000, shown) * 1000


def amount(value: Fraction, unit: str, shown: str) -> Length:
    """A calculated value in mm, deg or mm2: exact where it is a finite decimal, else to six places."""
    rounded = Decimal(plain(Decimal(round(value * 10**6)).scaleb(-6)))
    words = f"{plain(rounded)} {unit}"
    if abs(value) > number_text.MOST_MM * (1000 if unit == MM2 else 1):
        raise BadInput(f"{shown} comes to {words}, more than anything here is; check its figures")
    return Length(words, rounded) if unit == MM else Amount(words, rounded, unit)


def read_amount_limits(text: str, nominal: Amount) -> Limits:
    """Limits of an angle or an area, in its unit: ±0.5, +1/-0.5 deg, 89..91 deg, min, max. Raises BadInput."""
    shown = " ".join(read_as(text).split())
    expected = f"limits in the unit of {nominal.written!r}, such as ±0.5 or +1/-0.5"
    bare, factor = _bare(shown, nominal)
    if re.search(r"[^\W\d_]", _WORDS.sub("", bare)):
        raise BadInput(f"read {visible(shown)!r}; expected {expected}")
    if ".." in bare or re.search(r"\bto\b", bare):
        bounds = read_bounds(bare, unit=MM)
        sides = (bounds.least_mm, bounds.most_mm)
        lower, upper = (None if s is None else s * factor - nominal.mm for s in sides)
    else:
        found = read_limits(bare, unit=MM)
        lower, upper = (None if s is None else s * factor for s in (found.lower_mm, found.upper_mm))
    limits = Limits(shown, lower, upper)
    if not limits.allows(Decimal(0)):
        raise BadInput(
            f"the nominal {nominal.written} is outside its own limits {shown}: correct one of them"
        )
    return limits


def _bare(shown: str, nominal: Amount) -> tuple[str, Decimal]:
    """The limits without their unit, and what one of it is in the nominal's."""
    if nominal.unit == DEGREES:
        return re.sub(_ANGLE_UNIT, "", shown, flags=re.IGNORECASE).strip(), Decimal(1)
    named = re.findall(_AREA_UNIT, shown, flags=re.IGNORECASE)
    own = _AREA.fullmatch(nominal.written)
    units = {u.lower() for u in named} or {own[2].lower() if own else MM2}
    if len(units) > 1:
        raise BadInput(f"read {visible(shown)!r}; expected limits in one unit")
    factor = _AREA_UNITS[units.pop()]
    return (
        re.sub(_AREA_UNIT, "", shown, flags=re.IGNORECASE).strip(),
        Decimal(factor.numerator) / Decimal(factor.denominator),
    )
