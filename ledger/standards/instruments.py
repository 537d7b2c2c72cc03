"""
What an instrument is good for where nothing better is stated, and readings turned into a measured value with it.

`measured` reads the one line that a person types: "1.8 ±0.1 mm feeler" states how sure the reading is;
"1.8 1.9 1.8 mm feeler" leaves it to the scatter of the readings and to the table of instruments, and says so.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_EVEN, ROUND_UP, Decimal
from functools import cache
from types import MappingProxyType
from typing import TypeAlias

from ledger.domain import uncertainty as gum
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.quantity import Length, plain, read_length
from ledger.domain.readings import Readings, read_readings
from ledger.standards.expansion import Heat
from ledger.standards.table import plain_name, source_of, table

Own: TypeAlias = "Mapping[str, Instrument]"  # by their names, plain
NONE: Own = MappingProxyType({})
TEMPERATURE_K = 10.0  # how well the temperature of work on a site is known, either side; common practice
_MM_PER_M = 1000.0
_SAME = 1e-9


@dataclass(frozen=True, slots=True)
class Instrument:
    """
    A kind of instrument; lengths in mm, `aim` a standard uncertainty, `limit` a half-width.

    `end_mm` adds to the limit what the end of a tape may be off; with `whole_metres` a length counts rounded up.
    """

    name: str
    resolution_mm: float
    limit_mm: float
    limit_per_m: float
    aim_mm: float
    expansion_per_k: float
    source: str
    scale_per_k: float = 0.0
    standard_mm: float = 0.0
    end_mm: float = 0.0
    whole_metres: bool = False

    def limit_at(self, length_mm: float) -> float:
        """The largest error of a length read from its end, either side, mm."""
        metres = abs(length_mm) / _MM_PER_M
        counted = math.ceil(metres - _SAME) if self.whole_metres else metres
        return self.limit_mm + self.limit_per_m * counted + self.end_mm

    def contributions(
        self, length_mm: float, readings: int = 1, *, warm: bool = False
    ) -> Iterator[gum.Contribution]:
        """
        The causes of doubt of a length read with it; reading again helps against aim and rounding only.

        `warm` is for a length whose temperature was read: the correction brings its own doubt.
        """
        yield gum.Contribution("the resolution", gum.resolution(self.resolution_mm).u / math.sqrt(readings))
        if self.standard_mm:
            yield gum.Contribution("its calibration", self.standard_mm)
        else:
            yield gum.rectangular("the instrument", self.limit_at(length_mm))
        yield gum.Contribution("putting it to the work", self.aim_mm / math.sqrt(readings))
        if self.expansion_per_k and not warm:
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


def instrument(name: str, own: Own = NONE) -> Instrument:
    """The job's own of that name, else one of the table that the words end in ("2 m tape"). Raises UnknownName."""
    if plain_name(name) in own:
        return own[plain_name(name)]
    words = plain_name(name).split()
    for start in range(len(words)):
        if found := _by_name().get(" ".join(words[start:])):
            return found
    raise UnknownName("instrument", name, sorted({i.name for i in (*own.values(), *_by_name().values())}))


def class_limits(name: str) -> tuple[float, float, float]:
    """The error limit of a class, mm, mm for each begun metre, and mm for its end. Raises UnknownName."""
    rows = {row["name"]: row for row in table("instruments")["class"]}
    if name.upper() not in rows:
        raise UnknownName("class", name, list(rows))
    row = rows[name.upper()]
    return float(row["limit"]), float(row["limit_per_m"]), float(row["end"])


def instruments() -> tuple[Instrument, ...]:
    """Every instrument of the table, in its order."""
    return tuple(dict.fromkeys(_by_name().values()))


def measured(text: str, *, unit: str | None = None, own: Own = NONE, heat: Heat | None = None) -> Measurement:
    """
    One line as a measured value, at 20 °C where it says how warm the work was.

    Raises BadInput without an instrument, UnknownName for one that is not known where the line leaves the uncertainty
    to it.
    """
    read = read_readings(text, unit=unit)
    if not read.instrument:
        raise BadInput(
            f"read {visible(text)!r}; name what it was measured with, such as '1.8 ±0.1 mm feeler' "
            "or '1.8 1.9 1.8 mm feeler'"
        )
    found = _judged(read, own, warm=heat is not None)
    return _at_reference(found, instrument(read.instrument, own), heat) if heat else found


def _at_reference(found: Measurement, tool: Instrument, heat: Heat) -> Measurement:
    """The same length at 20 °C; what the correction adds is no smaller for being expanded with the same factor."""
    read_mm, k = float(found.value.mm), float(found.uncertainty.mm) / float(found.standard.mm)
    doubt = math.hypot(float(found.standard.mm), *(c.u for c in heat.doubt(read_mm, tool.scale_per_k)))
    sure = rounded_up(k * doubt)
    step = Decimal(1).scaleb(math.floor(math.log10(float(sure.mm))) - 2)
    exact = Decimal(read_mm * heat.factor(tool.scale_per_k)).quantize(min(step, Decimal(1)), ROUND_HALF_EVEN)
    said = f"{found.how}; " if found.how else ""
    return replace(
        found,
        value=read_length(f"{plain(exact)} mm", signed=True),
        standard=rounded_up(doubt),
        uncertainty=sure,
        how=f"{said}{found.value.written} {heat.words}",
    )


def _judged(read: Readings, own: Own, *, warm: bool) -> Measurement:
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
        tool = instrument(read.instrument, own)
        causes.extend(tool.contributions(mean_mm, 2 if read.edges else 1, warm=warm))
        said.append(
            f"uncertainty of {tool.name}, {tool.source}"
            if plain_name(tool.name) in own
            else f"default uncertainty of a {tool.name}: {tool.source}"
        )
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
            float(row.get("scale", table("instruments")["scale"]["steel"])) * 1e-6,
            end_mm=float(row.get("end", 0.0)),
            whole_metres=bool(row.get("whole_metres", False)),
        )
        known |= {plain_name(re.sub(r"\s+", " ", s)): made for s in (row["name"], *row["also"])}
    return known
