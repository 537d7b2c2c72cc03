"""
Limits of a dimension by a class: the general tolerances of ISO 2768-1, and the fits of ISO 286.

`2768-m` (also `ISO 2768-mK`; what stands behind the first letter is about form and is left aside) gives ± by the size.
`H7` or `g6` gives limits for a hole or a shaft: d to u without j and t, in grades 5 to 18, the tight ones (K to U) up
to grade 11. An angle takes `2768-m side 40 mm`, with the length of its shorter side. Anything else is read as
deviations or sizes.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from ledger.domain.amounts import DEGREES, Amount, read_amount_limits
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.quantity import Bounds, Length, Limits, read_bounds, read_length, read_limits
from ledger.standards.table import band, table

_ANGLE = re.compile(
    r"(?:iso\s*)?2768(?:-1)?[\s-]*([a-z])[hkl]?\s+(?:shorter |short )?side\s+(.+)", re.IGNORECASE
)
_GENERAL = re.compile(r"(?:iso\s*)?2768(?:-1)?[\s-]*([a-z])[hkl]?", re.IGNORECASE)
_FIT = re.compile(r"(js|[a-z]{1,2})\s*(\d{1,2})", re.IGNORECASE)
_SIZED = re.compile(rf"(?P<size>\d+(?:\.\d+)?)(?: ?mm)? ?(?P<fit>{_FIT.pattern})", re.IGNORECASE)
_MICRO = Decimal("0.001")
_LOOSE_K = 7  # from grade 8 on the deviation of k is 0
_DEVIATES_UP = "defgh"
_CLASSES = ("f", "m", "c", "v")
_COARSEST_TIGHT = 11  # K to U are for fits; coarser grades of them are not made
_WITH_DELTA = {"k": 8, "m": 8, "n": 8, "p": 7, "r": 7, "s": 7, "u": 7}  # grades with IT(n) - IT(n-1)
_NO_DELTA_UP_TO_MM = 3
_M6_OFF, _M6_OVER_MM, _M6_UP_TO_MM = 2, 250, 315  # ISO 286-1: M6 over 250 up to 315 mm is -9, and not -11
_MINUTES = 60
_IT4 = (3, 4, 4, 5, 6, 7, 8, 10, 12, 14, 16, 18, 20)  # ISO 286-1 table 1, for the finest holes


def limits_of(text: str, nominal: Length) -> Limits:
    """The limits that a person wrote, by class or by numbers. Raises BadInput, UnknownName with the known classes."""
    written = text.strip()
    if isinstance(nominal, Amount):
        if nominal.unit == DEGREES and (angle := _ANGLE.fullmatch(written)):
            return _angle(written, angle[1].lower(), read_length(angle[2], unit="mm"))
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
    _known_class(name)
    if nominal.mm < Decimal(str(rows["least_mm"])):
        raise BadInput(
            f"ISO 2768-1 begins at {rows['least_mm']} mm, and the nominal is {nominal.written}: "
            "enter its limits by number"
        )
    at = _row(rows["up_to_mm"], nominal, "ISO 2768-1")
    values = rows[name]
    allowed = Decimal(str(values[at])) if at < len(values) else Decimal(0)
    if not allowed > 0:
        raise BadInput(f"ISO 2768-1 has no class {name} for {nominal.written}: enter its limits by number")
    return Limits(written, -allowed, allowed)


def _angle(written: str, name: str, side: Length) -> Limits:
    """The limits of an angle in degrees, by its shorter side."""
    rows: dict[str, Any] = table("size_limits")["angles"]
    _known_class(name)
    minutes = rows[name][_row(rows["up_to_mm"], side, "ISO 2768-1")]
    allowed = (Decimal(minutes) / _MINUTES).quantize(Decimal("0.000001"))
    return Limits(written, -allowed, allowed)


def _known_class(name: str) -> None:
    if name not in _CLASSES:
        raise UnknownName("general tolerance class", f"2768-{name}", [f"2768-{c}" for c in _CLASSES])


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
    tight = low in _WITH_DELTA
    if not (tight or low in _DEVIATES_UP) or len(low) > 1 or (tight and grade > _COARSEST_TIGHT):
        letters = [*_DEVIATES_UP, "js", *_WITH_DELTA]
        raise UnknownName("tolerance class", visible(written), [*map(str.upper, letters), *letters])
    deviation = _shaft_um(low, nominal) * _MICRO
    if letter.isupper():
        upper = width - deviation if not tight else _hole_um(low, grade, nominal) * _MICRO
        return Limits(written, upper - width, upper)
    if not tight:
        return Limits(written, deviation - width, deviation)
    if low == "k" and grade > _LOOSE_K:
        deviation = Decimal(0)
    return Limits(written, deviation, deviation + width)


def _shaft_um(low: str, nominal: Length) -> Decimal:
    """The fundamental deviation of a shaft: es for d to h, ei for k to u."""
    rows: dict[str, Any] = table("size_limits")["fits"]
    fine = rows["fine"]
    if low in fine and low != "up_to_mm":
        return Decimal(fine[low][_row(fine["up_to_mm"], nominal, "ISO 286")])
    return Decimal(rows["shaft"][low][_row(rows["up_to_mm"], nominal, "ISO 286")])


def _hole_um(low: str, grade: int, nominal: Length) -> Decimal:
    """The upper deviation of a hole K to U, by the rule of ISO 286-1:2010, 4.3.2.5."""
    rows: dict[str, Any] = table("size_limits")["fits"]
    at, upper = _row(rows["up_to_mm"], nominal, "ISO 286"), -_shaft_um(low, nominal)
    small = nominal.mm <= _NO_DELTA_UP_TO_MM
    if low in "kn" and grade > _WITH_DELTA[low]:
        return upper if low == "n" and small else Decimal(0)
    if small or grade > _WITH_DELTA[low]:
        return upper
    upper += Decimal(rows["it"][str(grade)][at] - rows["it"].get(str(grade - 1), _IT4)[at])
    if (low, grade) == ("m", 6) and _M6_OVER_MM < nominal.mm <= _M6_UP_TO_MM:
        upper += _M6_OFF
    return upper


def _row(bounds: Sequence[int], nominal: Length, standard: str) -> int:
    """Which row a size is in: above the bound before, up to and with its own."""
    at = band(bounds, nominal.mm)
    if at is None:
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
