"""Measured and given holes and studs, in one line."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from ledger.domain.errors import BadInput
from ledger.domain.quantity import plain, read_length
from ledger.domain.record import SOURCES, MeasuredHole
from ledger.words.forms import HOLE
from ledger.words.line import Line, reads

_PLACE_AND_SIZE = 3


@reads(HOLE)
def hole_line(text: str) -> Line:
    """`S1 = 150 mm, -20 mm, 16 mm, ±0.5 mm, measured`."""
    label, equals, rest = (piece.strip() for piece in text.partition("="))
    pieces = [piece.strip() for piece in rest.split(",") if piece.strip()]
    if not (equals and label and len(pieces) >= _PLACE_AND_SIZE):
        raise BadInput(f"expected {HOLE.hint}")
    x, y = (read_length(piece, signed=True) for piece in pieces[:2])
    size = read_length(pieces[2])
    fields: dict[str, Any] = {"label": label, "x": x.written, "y": y.written, "diameter": size.written}
    fields.update(uncertainty="", source="measured")
    for piece in pieces[3:]:
        if piece.startswith("±"):
            fields["uncertainty"] = read_length(piece.removeprefix("±").strip()).written
        elif piece in SOURCES:
            fields["source"] = piece
        else:
            raise BadInput(f"expected after the diameter: ±0.5 mm, or a source ({', '.join(SOURCES)})")
    if fields["source"] == "measured" and not fields["uncertainty"]:
        raise BadInput("uncertainty missing; expected one for a measured hole, such as ±0.5 mm")
    sure = f" ±{fields['uncertainty']}" if fields["uncertainty"] else ""
    return Line(fields, f"{label}: {size} at ({x}, {y}){sure}, {fields['source']}")


def hole_words(old: MeasuredHole) -> str:
    """A measured hole as the line that would enter it."""
    x, y, size = (plain(Decimal(repr(v))) for v in (*old.hole.centre, old.hole.diameter_mm))
    sure = f", ±{old.uncertainty.written}" if old.uncertainty else ""
    return f"{old.hole.label} = {x} mm, {y} mm, {size} mm{sure}, {old.source}"
