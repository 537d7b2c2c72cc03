"""What several parts have in common, in one line: material, thickness, process, quantity, in any order."""

from __future__ import annotations

from typing import Any

from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.quantity import read_length
from ledger.standards.gauges import is_gauge
from ledger.standards.processes import process
from ledger.words.forms import STOCK
from ledger.words.line import Line, reads
from ledger.words.parts import field_value


@reads(STOCK)
def stock_line(text: str) -> Line:
    """`S275, 12 mm, laser, 1`: each piece once, told apart by what it is; nothing typed says nothing."""
    fields: dict[str, Any] = {}
    for piece in filter(None, (p.strip() for p in text.split(","))):
        name = _kind(piece)
        if name in fields:
            raise BadInput(f"read {visible(piece)!r} as a second {name}; expected each of them once")
        fields.update(field_value(name, piece).fields)
    told = "; ".join(f"{name} {value}" for name, value in fields.items())
    return Line(fields, told or "nothing in common: each part is asked for its own")


def _kind(piece: str) -> str:
    """Which field a piece says."""
    if piece.isascii() and piece.isdigit():
        return "quantity"
    if is_gauge(piece):
        return "thickness"
    try:
        process(piece)
    except UnknownName:
        pass
    else:
        return "process"
    try:
        read_length(piece)
    except BadInput:
        return "material"
    return "thickness"
