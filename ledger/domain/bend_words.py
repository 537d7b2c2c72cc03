"""
A bend as people write it on one line: `90 deg up, R 3 mm, K 0.44`.

Behind the angle and the direction come, with commas between and in any order, the inside radius (`R 3 mm`), one of
`K 0.44`, `allowance 6.8 mm` and `deduction 5.4 mm`, and how far what lies beyond the bend may be off (`±0.5 mm`).
"""

from __future__ import annotations

import re
from typing import Final

from ledger.domain.bend import DIRECTIONS, Bend, read_bend_angle, read_k_factor
from ledger.domain.errors import BadInput, visible
from ledger.domain.quantity import plain, read_length

FORM: Final = (
    "ANGLE up or down, R RADIUS, K FACTOR: 90 deg up, R 3 mm, K 0.44 (or allowance …, deduction …; ±0.5 mm)"
)
_TURN = re.compile(r"(?P<first>up|down)?\s*(?P<angle>.*?)\s*(?P<last>up|down)?", re.IGNORECASE | re.DOTALL)
_PIECES: Final = (
    ("radius", re.compile(r"(?:inside )?(?:r|radius)\s*(?P<value>[0-9.].*)", re.IGNORECASE | re.DOTALL)),
    ("k_factor", re.compile(r"k(?:-factor)?\s*(?P<value>-?[0-9.].*)", re.IGNORECASE | re.DOTALL)),
    ("allowance", re.compile(r"allowance\s+(?P<value>.+)", re.IGNORECASE | re.DOTALL)),
    ("deduction", re.compile(r"deduction\s+(?P<value>.+)", re.IGNORECASE | re.DOTALL)),
    ("tolerance", re.compile(r"(?:±|\+-|\+/-)\s*(?P<value>.+?)(?: beyond it)?", re.IGNORECASE | re.DOTALL)),
)


def read_bend(text: str) -> dict[str, str]:
    """The fields of a bend by name, as the act takes them. Raises BadInput."""
    first, *rest = [piece.strip() for piece in text.split(",")]
    turn = _TURN.fullmatch(first)
    found = turn.groupdict() if turn else {}
    said = [(found.get(n) or "").lower() for n in ("first", "last") if found.get(n)]
    if len(said) != 1 or said[0] not in DIRECTIONS:
        raise BadInput(f"read {visible(first)!r}; expected an angle and up or down, such as 90 deg up")
    read_bend_angle(str(found["angle"]))
    fields = {"angle": str(found["angle"]), "direction": said[0]}
    for piece in filter(None, rest):
        name, value = _piece(piece)
        if name in fields:
            raise BadInput(f"read {visible(piece)!r}: the {_shown(name)} is entered twice")
        fields[name] = value
    return fields


def bend_words(bend: Bend) -> str:
    """A stated bend as the line that would say it."""
    said = [f"{plain(bend.angle)} deg {bend.direction}"]
    said += [f"R {bend.radius.written}"] if bend.radius else []
    said += [f"K {plain(bend.k_factor)}"] if bend.k_factor is not None else []
    said += [f"allowance {bend.allowance.written}"] if bend.allowance else []
    said += [f"deduction {bend.deduction.written}"] if bend.deduction else []
    said += [f"±{bend.tolerance.written}"] if bend.tolerance else []
    return ", ".join(said)


def _piece(piece: str) -> tuple[str, str]:
    for name, form in _PIECES:
        found = form.fullmatch(piece)
        if not found:
            continue
        value = found["value"].strip()
        if name == "k_factor":
            return name, plain(read_k_factor(value))
        if not read_length(value).mm > 0:
            why = "; bent without one a plate cracks" if name == "radius" else ""
            raise BadInput(f"read {visible(piece)!r}; expected a {_shown(name)} above zero{why}")
        return name, value
    raise BadInput(f"read {visible(piece)!r}; expected {FORM}")


def _shown(name: str) -> str:
    return {"k_factor": "K-factor", "radius": "inside radius"}.get(name, name)
