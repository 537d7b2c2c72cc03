"""An instrument of the job in one line."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from ledger.domain.calibration import Calibration
from ledger.domain.errors import BadInput, visible
from ledger.domain.moment import day
from ledger.domain.plural import counted
from ledger.standards.instruments import class_limits, instrument
from ledger.words.forms import INSTRUMENT
from ledger.words.line import Line, above_zero, reads

_LENGTHS = ("resolution", "standard", "limit")

_ONE_OF = ("standard", "limit", "grade")

_MONTHS = re.compile(r"(?P<months>[0-9]{1,4}) months?")

_MOST_MONTHS, _A_YEAR = 120, 12

_TOLD = {
    "resolution": "read to {}",
    "standard": "standard uncertainty {}",
    "limit": "off by {} at most",
    "grade": "class {}",
}


@reads(INSTRUMENT)
def instrument_line(text: str, today: str) -> Line:
    """`caliper 7 = caliper, resolution 0.01 mm, limit 0.02 mm, calibrated 2026-01-31, 12 months`. Raises BadInput."""
    name, equals, rest = (piece.strip() for piece in text.partition("=" if "=" in text else ":"))
    tool, *tail = (piece.strip() for piece in rest.split(","))
    if not (equals and name and tool):
        raise BadInput(f"expected {INSTRUMENT.hint}")
    kind = instrument(tool)
    fields: dict[str, Any] = {"name": name, "tool": kind.name, "months": _A_YEAR, "calibrated": ""}
    fields |= dict.fromkeys((*_LENGTHS, "grade"), "")
    for piece in filter(None, tail):
        fields.update(_instrument_piece(piece, today))
    said = [word for word in _ONE_OF if fields[word]]
    if len(said) > 1:
        raise BadInput("enter its accuracy once: standard uncertainty, limit (largest error), or class")
    if not fields["calibrated"]:
        raise BadInput("last calibration missing; expected calibrated YYYY-MM-DD after the kind")
    good = ", ".join(words.format(fields[n]) for n, words in _TOLD.items() if fields[n])
    usual = "" if said else f", otherwise the default for a {kind.name}"
    due = f"due again after {counted(fields['months'], 'month')}"
    return Line(
        fields, f"{name}: {good or 'a ' + kind.name}{usual}; calibrated {fields['calibrated']}, {due}"
    )


def instrument_words(row: Calibration) -> str:
    """An instrument as the line that would enter it."""
    said = [row.tool, *(f"{n} {getattr(row, n)}" for n in _LENGTHS if getattr(row, n))]
    said += [f"class {row.grade}"] if row.grade else []
    start, due = (date.fromisoformat(d) for d in (row.calibrated, row.due))
    months = (due.year - start.year) * 12 + due.month - start.month
    return f"{row.name} = {', '.join(said)}, calibrated {row.calibrated}, {counted(months, 'month')}"


def _instrument_piece(piece: str, today: str) -> dict[str, Any]:
    word, _, value = piece.partition(" ")
    word, value = word.lower(), value.strip()
    if word in _LENGTHS:
        return {word: above_zero(word, value)}
    if word == "class":
        class_limits(value)
        return {"grade": value.upper()}
    if word == "calibrated":
        return {"calibrated": _day(value, today)}
    if found := _MONTHS.fullmatch(piece):
        months = int(found["months"])
        if not 1 <= months <= _MOST_MONTHS:
            raise BadInput(
                f"read {visible(piece)!r}; expected a calibration interval of 1 to {_MOST_MONTHS} months"
            )
        return {"months": months}
    raise BadInput(f"read {visible(piece)!r}; expected {INSTRUMENT.hint}")


def _day(text: str, today: str) -> str:
    found = day(text).isoformat()
    if found > today:
        raise BadInput(
            f"the calibration date {found} is in the future (today is {today}): check the certificate"
        )
    return found
