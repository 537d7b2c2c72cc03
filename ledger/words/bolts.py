"""Length and washers of the bolts of a connection, in one line."""

from __future__ import annotations

from typing import Any

from ledger.domain.connection import Connection
from ledger.domain.errors import BadInput
from ledger.domain.plural import counted
from ledger.domain.quantity import read_length
from ledger.words.forms import BOLT
from ledger.words.line import Line, reads


@reads(BOLT)
def bolt_line(text: str) -> Line:
    """`40 mm, 2 washers`: both, or one of them."""
    fields: dict[str, Any] = {"length": "", "washers": None}
    for piece in filter(None, (p.strip() for p in text.split(","))):
        count, _, word = piece.partition(" ")
        if word.strip() in ("washer", "washers") and count.isascii() and count.isdigit():
            fields["washers"] = int(count)
        else:
            length = read_length(piece)
            if not length.mm > 0:
                raise BadInput(f"read {piece!r}; expected a length above zero")
            fields["length"] = length.written
    said = [fields["length"]] if fields["length"] else ["length not entered"]
    said += [f"{counted(fields['washers'], 'washer')} on each"] if fields["washers"] is not None else []
    return Line(fields, ", ".join(said))


def bolt_words(connection: Connection) -> str:
    """What is entered of a connection's bolts as the line that would enter it; empty for nothing."""
    said = [connection.bolt_length.written] if connection.bolt_length else []
    said += [counted(connection.washers, "washer")] if connection.washers is not None else []
    return ", ".join(said)
