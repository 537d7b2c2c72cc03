"""
What an instrument is good for where nothing better is stated, and readings turned into a measured value with it.

`measured` reads the one line that a person types: "1.8 ±0.1 mm feeler" states how sure the reading is;
"1.8 1.9 1.8 mm feeler" leaves it to the scatter of the readings and to the table of instruments, and says so.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, ROUND_UP, Decimal
from functools import cache

from ledger.domain import uncertainty as gum
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.quantity import Length, plain, read_length
from ledger.domain.readings import Readings, read_readings
from ledger.standards.table import plain_name, source_of, table

TEMPERATURE_K = 10.0  # how well the temperature of work on a site is known, either side; common practice
_MM_PER_M = 1000.0


@dataclass(frozen=True, slots=True)
class Instrument:
    """A kind of instrument; lengths in mm, `aim` a standard uncertainty, `limit` a half-width."""

    name: str
    resolution_mm: float
    limit_mm: float
    limit_per_m: float
    aim_mm: float
    expansion_per_k: float
    source: str

    def contributions(self, length_mm: float, readings: int = 1) -> Iterator[gum.Contribution]:
        """The causes of doubt of a length read with it; reading again helps against aim and rounding only."""
        yield gum.Contribution("the resolution", gum.resolution(self.resolution_mm).u / math.sqrt(readings))
        limit_mm = self.limit_mm + self.limit_per_m * abs(length_mm) / _MM_PER_M
        yield gum.rectangular("the instrument", limit_mm)
        yield gum.Contribution("putting it to the work", self.aim_mm / math.sqrt(readings))
        if self.expansion_per_k:
            yield gum.temperature(length_mm, self.expansion_per_k, TEMPERATURE_K)


@dataclass(frozen=True, slots=True)
class Measurement:
    """A value with its standard (u) and expanded (U, 95 %) uncertainty; `how` says where the doubt came from."""

    value: Length
    standard: Length
    uncertainty: Length
    instrument: str
    readings: tuple[Length, ...]
    how: str = ""

    def __str__(self) -> str:
        said = f" ({self.how})" if self.how else ""
        return f"{self.value}, give or take {self.uncertainty}, with {self.instrument}{said}"


def instrument(name: str) -> Instrument:
    """The instrument of that name, or one that the words end in ("2 m tape"). Raises UnknownName."""
    words = plain_name(name).split()
    for start in range(len(words)):
        if found := _by_name().get(" ".join(words[start:])):
            return found
    raise UnknownName("instrument", name, sorted({i.name for i in _by_name().values()}))


def instruments() -> tuple[Instrument, ...]:
    """Every instrument of the table, in its order."""
    return tuple(dict.fromkeys(_by_name().values()))


def measured(text: str, *, unit: str | None = None) -> Measurement:
    """
    One line as a measured value. Raises BadInput without an instrument, UnknownName for one that is not known
    where the line leaves the uncertainty to it.
    """
    read = read_readings(text, unit=unit)
    if not read.instrument:
        raise BadInput(
            f"read {visible(text)!r}; name what it was measured with, such as '1.8 ±0.1 mm feeler' "
            "or '1.8 1.9 1.8 mm feeler'"
        )
    return _judged(read)


def _judged(read: Readings) -> Measurement:
    values = [float(r.mm) for r in read.centres]
    mean_mm = gum.mean_of(values)
    causes: list[gum.Contribution] = []
    said: list[str] = []
    if len(values) > 1:
        causes.append(gum.scatter(values))
        said.append(f"{len(values)} readings")
    if read.uncertainty:
        causes.append(gum.stated(float(read.uncertainty.mm)))
    else:
        tool = instrument(read.instrument)
        causes.extend(tool.contributions(mean_mm, 2 if read.edges else 1))
        said.append(f"default uncertainty of a {tool.name}: {tool.source}")
    if read.edges:
        said.insert(0, "centres from inside and outside edges of equal holes")
    if read.uncertainty and len(values) == 1:
        half = Length(f"{plain(read.uncertainty.mm / 2)} mm", read.uncertainty.mm / 2)
        return Measurement(_value(read, mean_mm, read.uncertainty), half, read.uncertainty, read.instrument,
                           read.values, "; ".join(said))  # fmt: skip
    total = gum.combined(causes)
    sure = rounded_up(total.expanded)
    if read.uncertainty and read.uncertainty.mm > sure.mm:
        sure = read.uncertainty
    if len(values) > 1:
        said[-1 if read.uncertainty else 0] += f" (k = {total.k:.2f})"
    return Measurement(
        _value(read, mean_mm, sure), rounded_up(total.u), sure, read.instrument, read.values, "; ".join(said)
    )


def _value(read: Readings, mean_mm: float, sure: Length) -> Length:
    """A single reading as written; a mean to a hundredth of what it can be off, in mm."""
    if len(read.values) == 1:
        return read.values[0]
    step = Decimal(1).scaleb(math.floor(math.log10(float(sure.mm))) - 2)
    exact = Decimal(mean_mm).quantize(min(step, Decimal(1)), ROUND_HALF_EVEN)
    return read_length(f"{plain(exact)} mm", signed=True)


def rounded_up(value_mm: float) -> Length:
    """Two figures, rounded up (GUM 7.2.6), in mm."""
    step = Decimal(1).scaleb(math.floor(math.log10(value_mm)) - 1)
    rounded = Decimal(value_mm).quantize(step, ROUND_UP)
    # a float's tail is not a reason to round up: 0.1 is kept in binary as a hair more than 0.1
    if abs(float(rounded) - value_mm) >= float(step) * (1 - 1e-9):
        rounded -= step
    return Length(f"{plain(rounded)} mm", Decimal(plain(rounded)))


@cache
def _by_name() -> Mapping[str, Instrument]:
    known: dict[str, Instrument] = {}
    for row in table("instruments")["instrument"]:
        made = Instrument(
            row["name"],
            float(row["resolution"]),
            float(row["limit"]),
            float(row["limit_per_m"]),
            float(row["aim"]),
            float(row.get("expansion_per_k", 0.0)),
            source_of("instruments", row),
        )
        known |= {plain_name(re.sub(r"\s+", " ", s)): made for s in (row["name"], *row["also"])}
    return known
