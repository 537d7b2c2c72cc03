"""What was measured of a piece, in one line."""

from __future__ import annotations

import re
from typing import Any

from ledger.domain.errors import BadInput, visible
from ledger.domain.piece import read_piece
from ledger.domain.quantity import read_length
from ledger.words.forms import PIECE
from ledger.words.line import Line, reads

_FEATURE = re.compile(
    r"(?P<name>[^=]+?)(?:\s*=\s*(?P<value>(?:(?!\bat\b).)+?))?(?:\s+at\s+(?P<at>.+))?", re.DOTALL
)
_SURE = re.compile(
    r"(?:±|\+/-|\+-)\s*(?P<size>[0-9.,/ -]*[0-9](?:\s*(?:mm|in|\"|um|µm|cm))?)\s+(?P<tool>\S.*)"
)
_PLACE = re.compile(r"(?P<x>[+-]?[0-9.,]+\s*(?:mm|in)?)\s*[,;]?\s+(?P<y>[+-]?[0-9.,]+\s*(?:mm|in)?)")


@reads(PIECE)
def piece_line(text: str) -> Line:
    """`BASE#1: H1 = 13.62 mm at 20.1 mm 19.9 mm, width = 200.1 mm; ±0.05 mm caliper`. Raises BadInput."""
    named, colon, rest = (piece.strip() for piece in text.partition(":"))
    listed, *more = (piece.strip() for piece in rest.split(";"))
    if not (colon and listed and more):
        raise BadInput(f"expected {PIECE.hint}")
    part, piece = read_piece(named)
    coated = [word for word in more if word.lower() == "coated"]
    sure = [word for word in more if word and word.lower() != "coated"]
    found = _SURE.fullmatch(sure[0]) if len(sure) == 1 else None
    if found is None:
        raise BadInput(
            f"read {visible('; '.join(more))!r}; expected how sure and with what, such as ±0.05 mm caliper"
        )
    features = tuple(_feature(one) for one in listed.split(","))
    fields: dict[str, Any] = {"part": part, "piece": piece, "features": features, "coated": bool(coated)}
    fields |= {"uncertainty": _length(found["size"]), "instrument": found["tool"].strip()}
    names = ", ".join(str(f["name"]) for f in features)
    return Line(fields, f"{named}: {names} measured ±{fields['uncertainty']} with {fields['instrument']}")


def _feature(text: str) -> dict[str, str]:
    found = _FEATURE.fullmatch(text.strip())
    if found is None or not (found["value"] or found["at"]):
        raise BadInput(f"read {visible(text.strip())!r}; expected such as H1 = 13.62 mm at 20.1 mm 19.9 mm")
    fields = {"name": found["name"].strip()}
    if found["value"]:
        fields["value"] = found["value"].strip()
    if found["at"]:
        place = _PLACE.fullmatch(found["at"].strip())
        if place is None:
            raise BadInput(f"read {visible(found['at'])!r}; expected x and y, such as at 20.1 mm 19.9 mm")
        fields |= {axis: _length(place[axis], signed=True) for axis in ("x", "y")}
    return fields


def _length(text: str, *, signed: bool = False) -> str:
    read_length(text, signed=signed)
    return text.strip()
