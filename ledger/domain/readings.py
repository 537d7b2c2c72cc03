"""
One line with one reading or several: "1.8 ±0.1 mm feeler", "1.8 1.9 1.8 mm feeler", "inside 82 outside 98 mm caliper".

A *reading* is a length as written. Hole spacing may be read over inside and outside edges: the centre distance of
equal holes is their mean. What the uncertainty is, where the line does not state it, is left to who knows
instruments (`ledger.standards.instruments`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from ledger.domain import number_text, uncertainty
from ledger.domain.errors import BadInput
from ledger.domain.number_text import NUMBER, SIZE, UNIT_NAMES
from ledger.domain.quantity import Length, plain, read_length, read_measured

MOST_READINGS = 12
_WARM = re.compile(
    r"(?P<reading>.*\S)\s+at\s+(?P<at>[-−]?[0-9.]+\s?(?:°|deg)?\s?[CF])", re.IGNORECASE | re.DOTALL
)
_CORRECTED = re.compile(r"(?:.*; )?(?P<value>[^;]+?) from (?P<celsius>-?[0-9.]+) to 20 °C", re.DOTALL)
_SPREAD = re.compile(r"±|\+-|\+/-")
_ONE = re.compile(rf"{SIZE}(?:(?<=[\"'])|(?=[ ,;])|$)[ ,;]*", re.IGNORECASE)
_EDGES = re.compile(rf"inside ?{SIZE}[ ,;]*outside ?{SIZE}(?:(?<=[\"'])|(?=[ ,;])|$)[ ,;]*", re.IGNORECASE)
_NUMBER = re.compile(rf"{NUMBER}(?=[ ,;])[ ,;]*")


@dataclass(frozen=True, slots=True)
class Readings:
    """
    What a line says: readings as written, U where it is stated, the instrument where it is named.

    `edges` is whether the two values are inside and outside edges of equal holes.
    """

    values: tuple[Length, ...]
    uncertainty: Length | None
    instrument: str
    edges: bool = False

    @property
    def centres(self) -> tuple[Length, ...]:
        """The readings of the length itself: of edges, the one between centres."""
        if not self.edges:
            return self.values
        inside, outside = self.values
        uncertainty.hole_spacing(float(inside.mm), float(outside.mm))
        middle = (inside.mm + outside.mm) / 2
        return (Length(f"{plain(middle)} mm", middle),)


def apart_from_warmth(text: str) -> tuple[str, str]:
    """A line and how warm the work was, where it says so behind: `1.8 ±0.1 mm feeler at 30C`."""
    found = _WARM.fullmatch(text.strip())
    return (found["reading"], found["at"]) if found else (text, "")


def as_read(how: str) -> str:
    """What was read before it was corrected to 20 °C, by how a value came about; nothing where it was not."""
    found = _CORRECTED.match(how)
    return f"read {found['value']} at {found['celsius']} °C" if found else ""


def read_readings(text: str, *, unit: str | None = None) -> Readings:
    """The line as readings. Raises BadInput where it cannot be read or claims to be exact."""
    shown, plain_text = number_text.clean(text, "a measured value", "1.8 ±0.1 mm feeler or 1.8 1.9 mm feeler")
    if found := _EDGES.match(plain_text):
        return _over_edges(found, plain_text, shown, unit)
    values, rest = _leading(plain_text, shown, unit)
    head = _SPREAD.match(rest)
    if len(values) <= 1 and (head or not values):
        one = read_measured(text, unit=unit)
        return Readings((one.value,), one.uncertainty, one.instrument)
    if len(values) > MOST_READINGS:
        raise BadInput(f"{len(values)} readings in one line: at most {MOST_READINGS}")
    sure, tool = _spread(rest, values[-1], shown)
    return Readings(values, sure, tool)


def _over_edges(found: re.Match[str], text: str, shown: str, unit: str | None) -> Readings:
    near, unit_near, far, unit_far = found.groups()
    sizes = [(near, unit_near or unit_far or unit), (far, unit_far or unit_near or unit)]
    values = tuple(_length(figures, name, shown) for figures, name in sizes)
    uncertainty.hole_spacing(*(float(v.mm) for v in values))
    sure, tool = _spread(text[found.end() :], values[1], shown)
    return Readings(values, sure, tool, edges=True)


def _leading(text: str, shown: str, unit: str | None) -> tuple[tuple[Length, ...], str]:
    """The sizes at the head of a line, and what is behind them; a unit counts for those before it."""
    figures: list[tuple[str, str | None]] = []
    while found := _ONE.match(text):
        spread = _SPREAD.match(text[found.end() :])
        figures.append((found[1], found[2]))
        text = text[found.end() :]
        if spread:
            break
        if found[2] and not _NUMBER.match(text) and not _ONE.match(text):
            break
    if not figures:
        return (), text
    units = [name for _, name in figures]
    if len({number_text.unit_name(name, shown) for name in units if name}) > 1:
        raise BadInput(
            f"{shown!r} holds two units: write every reading in one, and an instrument without its size"
        )
    stated = next((name for name in reversed(units) if name), None) or _unit_behind(text) or unit
    if stated is None and (word := re.match(r"[^\W\d]+", text)):
        read_length(f"{figures[-1][0]} {word[0]}")  # says what the word is, if it is a unit of another kind
    return tuple(_length(number, name or stated, shown) for number, name in figures), text


def _unit_behind(text: str) -> str | None:
    """The unit of the spread, where the readings before it have none."""
    found = re.match(rf"(?:±|\+-|\+/-) ?{SIZE}", text, re.IGNORECASE)
    return found[2] if found else None


def _spread(text: str, value: Length, shown: str) -> tuple[Length | None, str]:
    """The stated U, where there is one, and the instrument."""
    if not _SPREAD.match(text):
        first = re.match(r"[^\W\d]+", text)
        if first and first[0].lower() in UNIT_NAMES:
            raise BadInput(f"{shown!r}: put the unit right behind the last reading")
        return None, text.strip()
    read = read_measured(f"{value.written} {text}")
    return read.uncertainty, read.instrument


def _length(figures: str, unit: str | None, shown: str) -> Length:
    name = number_text.unit_name(unit, shown)
    return Length(f"{figures} {name}", number_text.size_mm(figures, name, shown))
