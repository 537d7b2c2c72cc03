"""
Limits of a dimension by a class: the general tolerances of ISO 2768-1, and the fits of ISO 286.

`2768-m` (also `ISO 2768-mK`; what stands behind the first letter is about form and is left aside) gives ± by the size.
`H7` or `g6` gives limits for a hole or a shaft. Anything else is read as deviations or sizes. Holes past H other
than JS, and the classes k deeper than grade 7, are not in the table and are refused.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from ledger.domain.amounts import Amount, read_amount_limits
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.quantity import Bounds, Length, Limits, read_bounds, read_length, read_limits
from ledger.standards.table import table

_GENERAL = re.compile(r"(?:iso\s*)?2768(?:-1)?[\s-]*([a-z])[hkl]?", re.IGNORECASE)
_FIT = re.compile(r"(js|[a-z]{1,2})\s*(\d{1,2})", re.IGNORECASE)
_SIZED = re.compile(rf"(?P<size>\d+(?:\.\d+)?)(?: ?mm)? ?(?P<fit>{_FIT.pattern})", re.IGNORECASE)
_MICRO = Decimal("0.001")
_LOOSE_K = 7  # from grade 8 on the deviation of k is 0
_DEVIATES_UP = "defgh"


def limits_of(text: str, nominal: Length) -> Limits:
    """The limits that a person wrote, by class or by numbers. Raises BadInput, UnknownName with the known classes."""
    written = text.strip()
    if isinstance(nominal, Amount):
        return read_amount_limits(written, nominal)
    if general := _GENERAL.fullmatch(written):
        return _general(written, general[1].lower(), nominal)
    if sized := sized_class(written):
        size, written = sized
        if read_length(size).mm != nominal.mm:
            raise BadInput(
                f"{visible(text)!r} is for {size}, and the nominal is {nominal.written}: correct one of them"
            )
    if fit := _FIT.fullmatch(written):
        return _fit(written, fit[1], int(fit[2]), nominal)
    return _by_numbers(written, nominal)


def sized_class(text: str) -> tuple[str, str] | None:
    """Size in mm and class of ISO 286 of words like `12H7` and `12 mm H7`; None for any others."""
    found = _SIZED.fullmatch(text.strip())
    return (f"{found['size']} mm", found["fit"]) if found else None


def _general(written: str, name: str, nominal: Length) -> Limits:
    rows: dict[str, Any] = table("size_limits")["general"]
    if name not in ("f", "m", "c", "v"):
        raise UnknownName("general tolerance class", f"2768-{name}", ("2768-f", "2768-m", "2768-c", "2768-v"))
    at = _row(rows["up_to_mm"], nominal, "ISO 2768-1")
    values = rows[name]
    allowed = Decimal(str(values[at])) if at < len(values) else Decimal(0)
    if not allowed > 0:
        raise BadInput(f"ISO 2768-1 has no class {name} for {nominal.written}: state its limits")
    return Limits(written, -allowed, allowed)


def _fit(written: str, letter: str, grade: int, nominal: Length) -> Limits:
    rows: dict[str, Any] = table("size_limits")["fits"]
    at = _row(rows["up_to_mm"], nominal, "ISO 286")
    grades: dict[str, Sequence[int]] = rows["it"]
    if str(grade) not in grades:
        raise UnknownName("tolerance grade", f"IT{grade}", [f"IT{g}" for g in grades])
    width = Decimal(grades[str(grade)][at]) * _MICRO
    low = letter.lower()
    if low == "js":
        return Limits(written, -width / 2, width / 2)
    shafts: dict[str, Sequence[int]] = rows["shaft"]
    hole = letter.isupper()
    if low not in shafts or (hole and low not in _DEVIATES_UP):
        holes = [name.upper() for name in _DEVIATES_UP]
        raise UnknownName("tolerance class", visible(written), (*holes, "JS", *shafts, "js"))
    deviation = Decimal(shafts[low][at]) * _MICRO
    if low in _DEVIATES_UP:
        return (
            Limits(written, -deviation, width - deviation)
            if hole
            else Limits(written, deviation - width, deviation)
        )
    if low == "k" and grade > _LOOSE_K:
        deviation = Decimal(0)
    return Limits(written, deviation, deviation + width)


def _row(bounds: Sequence[int], nominal: Length, standard: str) -> int:
    """Which row a size is in: above the bound before, up to and with its own."""
    at = next((k for k, bound in enumerate(bounds) if nominal.mm <= bound), None)
    if at is None or not nominal.mm > 0:
        raise BadInput(f"{nominal.written} is no size that {standard} has limits for (up to {bounds[-1]} mm)")
    return at


def _by_numbers(text: str, nominal: Length) -> Limits:
    """
    Limits of a key dimension, as deviations (±0.1) or as sizes (9.9..10.1 mm). Raises BadInput.

    Without a unit of their own they are in the nominal's. A nominal outside its own limits is refused: one of the
    two was typed wrong.
    """
    unit = nominal.written.lstrip("0123456789 ./-") or None
    limits = (
        read_limits(text, unit=unit)
        if ".." not in text
        else _from_sizes(read_bounds(text, unit=unit, what="two sizes, of which neither is below 0"), nominal)
    )
    if not limits.allows(Decimal(0)):
        raise BadInput(f"the nominal {nominal.written} is outside its own limits {text}: correct one of them")
    return limits


def _from_sizes(bounds: Bounds, nominal: Length) -> Limits:
    least, most = bounds.least_mm, bounds.most_mm
    lower = None if least is None else least - nominal.mm
    return Limits(bounds.written, lower, None if most is None else most - nominal.mm)
