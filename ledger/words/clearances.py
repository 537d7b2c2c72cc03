"""A clearance that a connection must have, and a reading of one, in one line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ledger.domain.connection import Clearance
from ledger.domain.errors import BadInput
from ledger.domain.quantity import read_bounds
from ledger.domain.readings import apart_from_warmth
from ledger.standards.expansion import temperature

if TYPE_CHECKING:
    from ledger.standards.instruments import Own
from ledger.words.forms import CLEARANCE, READING
from ledger.words.line import Line, reads


@reads(CLEARANCE)
def clearance_line(text: str) -> Line:
    """`arm to cover: >= 3 mm`, with `critical` behind it where it is."""
    name, colon, expected = (piece.strip() for piece in text.partition(":"))
    critical = expected.endswith("critical")
    expected = expected.removesuffix("critical").rstrip(" ,")
    if not (colon and name and expected):
        raise BadInput("expected NAME: BOUNDS, such as arm to cover: >= 3 mm")
    bounds = read_bounds(expected)
    weight = "; critical" if critical else ""
    return Line({"name": name, "required": expected, "critical": critical}, f"{name}: {bounds}{weight}")


@reads(READING)
def reading_line(text: str, own: Own | None = None) -> str:
    """
    The reading of a measured clearance, `1.8 ±0.1 mm feeler`, with `at 30C` behind where the parts were warm.

    What it is at 20 °C depends on the parts, and is told once it is recorded. Raises BadInput without an instrument.
    """
    from ledger.standards.instruments import measured

    line, at = apart_from_warmth(text)
    found = str(measured(line, own=own or {}))
    return f"{found}; read at {temperature(at):g} °C, recorded as it is at 20 °C" if at else found


def clearance_words(old: Clearance) -> str:
    """A required clearance as the line that would enter it."""
    return f"{old.name}: {old.required.written}" + (", critical" if old.critical else "")
