"""Points of a structure and the distances between them, in one line."""

from __future__ import annotations

import re
from typing import Any

from ledger.domain.errors import BadInput
from ledger.domain.quantity import read_length
from ledger.domain.readings import read_readings
from ledger.domain.record import Distance, SitePoint
from ledger.words.forms import DISTANCE, POINT
from ledger.words.line import Line, reads

_WARM = re.compile(r"from (?P<celsius>-?[\d.]+) to 20 °C")


@reads(POINT)
def point_line(text: str) -> Line:
    """`P3, 12 mm, left of P1 P2` or `P1 at 0 mm, 0 mm, 5 mm ±0.5 mm`; `with station 1` behind is the instrument."""
    body, _, tool = (piece.strip() for piece in text.partition(" with "))
    body, _, sure = (piece.strip() for piece in body.partition("±"))
    head, _, place = body.partition(" at ")
    label, *tail = (piece.strip() for piece in head.split(","))
    if not label or (sure and not place):
        raise BadInput(f"expected {POINT.hint}")
    fields: dict[str, Any] = {"label": label, "diameter": "", "side": "", "instrument": tool}
    for piece in filter(None, tail):
        if piece.split()[0].lower() in ("left", "right", "above", "below"):
            fields["side"] = piece
        else:
            fields["diameter"] = read_length(piece).written
    fields["at"] = tuple(read_length(c.strip(), signed=True).written for c in place.split(",") if c.strip())
    fields["uncertainty"] = read_length(sure).written if sure else ""
    size = f", hole or stud of {fields['diameter']}" if fields["diameter"] else ""
    at = f", at {', '.join(fields['at'])}" if fields["at"] else ""
    doubt = f" ±{fields['uncertainty']}" if sure else ""
    side = f", {fields['side']}" if fields["side"] else ""
    return Line(fields, f"point {label}{size}{at}{doubt}{side}")


def point_words(old: SitePoint) -> str:
    """A point as the line that would enter it."""
    pieces = [old.label, old.diameter.written if old.diameter else "", str(old.side or "")]
    at = f" at {', '.join(v.written for v in old.at)}" if old.at else ""
    sure = f" ±{old.uncertainty.written}" if old.uncertainty else ""
    tool = f" with {old.instrument}" if old.instrument else ""
    return ", ".join(filter(None, pieces)) + at + sure + tool


@reads(DISTANCE)
def distance_line(text: str) -> Line:
    """`P1 P2 1532 1533 mm tape`, `P1 P2 90 ±0.1 mm caliper at 30C`, or `P1 P2 removed: the hook slipped`."""
    words = text.split(maxsplit=2)
    if len(words) <= 2:  # noqa: PLR2004 - two points and what was read between them
        raise BadInput(f"expected {DISTANCE.hint}")
    a, b, reading = words
    if reading.startswith("removed"):
        reason = reading.partition(":")[2].strip()
        if not reason:
            raise BadInput("reason missing; expected P1 P2 removed: the hook slipped")
        return Line({"a": a, "b": b, "reason": reason}, f"{a} to {b} is removed")
    reading, _, at = (piece.strip() for piece in reading.partition(" at "))
    read = read_readings(reading)
    if not read.instrument:
        raise BadInput("instrument missing; expected one after the reading, such as tape")
    values = ", ".join(v.written for v in read.values)
    warm = f", read at {at} and corrected to 20 °C" if at else ""
    return Line(
        {"a": a, "b": b, "reading": reading, "at": at}, f"{a} to {b}: {values}, {read.instrument}{warm}"
    )


def distance_words(old: Distance) -> str:
    """A distance as the line that would enter it: readings as they were read, and how warm it was."""
    warm = _WARM.search(old.how)
    by_itself = not old.how or (warm and ";" not in old.how[: warm.start()])
    values = " ".join(old.readings) or old.value.written
    if old.how.startswith("centres from"):
        values = f"inside {old.readings[0]} outside {old.readings[1]}"
    stated = f" ±{old.uncertainty.written}" if by_itself else ""
    at = f" at {warm['celsius']}C" if warm else ""
    return f"{old.a} {old.b} {values}{stated} {old.instrument}{at}"
