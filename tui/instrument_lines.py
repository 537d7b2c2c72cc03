"""One-line entries about instruments and bend data of vendors, as the fields of an act with a reading to show."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

from ledger.domain.bend import read_k_factor
from ledger.domain.errors import BadInput, visible
from ledger.domain.plural import counted
from ledger.domain.quantity import read_length
from ledger.standards.instruments import class_limits, instrument
from tui.lines import Line

if TYPE_CHECKING:
    from ledger.store.tables import InstrumentFact

INSTRUMENT_HINT = (
    "NAME = KIND, calibrated YYYY-MM-DD, then what is known: resolution 0.01 mm, limit 0.02 mm (or standard "
    "0.01 mm, or class II), 12 months"
)
BEND_DATA_HINT = "VENDOR: THICKNESS of MATERIAL, R 3 mm, K 0.44   (vendor as named where a drawing was taken)"
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


def instrument_line(text: str, today: str) -> Line:
    """`caliper 7 = caliper, resolution 0.01 mm, limit 0.02 mm, calibrated 2026-01-31, 12 months`. Raises BadInput."""
    name, equals, rest = (piece.strip() for piece in text.partition("=" if "=" in text else ":"))
    tool, *tail = (piece.strip() for piece in rest.split(","))
    if not (equals and name and tool):
        raise BadInput(f"expected {INSTRUMENT_HINT}")
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


def instrument_words(row: InstrumentFact) -> str:
    """An instrument as the line that would enter it."""
    said = [row.tool, *(f"{n} {getattr(row, n)}" for n in _LENGTHS if getattr(row, n))]
    said += [f"class {row.grade}"] if row.grade else []
    start, due = (date.fromisoformat(d) for d in (row.calibrated, row.due))
    months = (due.year - start.year) * 12 + due.month - start.month
    return f"{row.name} = {', '.join(said)}, calibrated {row.calibrated}, {counted(months, 'month')}"


def bend_data_line(text: str) -> Line:
    """`Kerf & Son: 3 mm of S235, R 3 mm, K 0.44`. Raises BadInput."""
    vendor, colon, rest = (piece.strip() for piece in text.partition(":"))
    stock, *tail = (piece.strip() for piece in rest.split(","))
    thickness, of, material = (piece.strip() for piece in stock.partition(" of "))
    if not (colon and vendor and of and material):
        raise BadInput(f"expected {BEND_DATA_HINT}")
    _above_zero("thickness", thickness)
    fields: dict[str, Any] = {"vendor": vendor, "material": material, "thickness": thickness}
    fields |= {"radius": "", "k_factor": ""}
    for piece in filter(None, tail):
        word, _, value = piece.partition(" ")
        if word.lower() in ("r", "radius"):
            fields["radius"] = _above_zero("inside radius", value)
        elif word.lower() in ("k", "k-factor"):
            read_k_factor(value)
            fields["k_factor"] = value.strip()
        else:
            raise BadInput(f"read {visible(piece)!r}; expected R 3 mm or K 0.44")
    if not (fields["radius"] or fields["k_factor"]):
        raise BadInput("enter the inside radius, the K-factor, or both: R 3 mm, K 0.44")
    radius = f"inside R {fields['radius']}" if fields["radius"] else "default inside radius"
    k = f"K {fields['k_factor']}" if fields["k_factor"] else "default K-factor"
    return Line(fields, f"{vendor} bends {thickness} of {material} with {radius}, {k}")


def bend_data_words(row: Mapping[str, str]) -> str:
    """What a vendor bends with as the line that would enter it."""
    radius = f", R {row['radius']}" if row["radius"] else ""
    k = f", K {row['k_factor']}" if row["k_factor"] else ""
    return f"{row['vendor']}: {row['thickness']} of {row['material']}{radius}{k}"


def _instrument_piece(piece: str, today: str) -> dict[str, Any]:
    word, _, value = piece.partition(" ")
    word, value = word.lower(), value.strip()
    if word in _LENGTHS:
        return {word: _above_zero(word, value)}
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
    raise BadInput(f"read {visible(piece)!r}; expected {INSTRUMENT_HINT}")


def _above_zero(what: str, text: str) -> str:
    if not read_length(text).mm > 0:
        raise BadInput(f"the {what} is {visible(text)!r}; expected a length above zero")
    return text.strip()


def _day(text: str, today: str) -> str:
    try:
        found = date.fromisoformat(text).isoformat()
    except ValueError:
        found = ""
    if found != text:
        raise BadInput(f"{visible(text)!r} is not a date; expected calibrated YYYY-MM-DD")
    if found > today:
        raise BadInput(
            f"the calibration date {found} is in the future (today is {today}): check the certificate"
        )
    return found
