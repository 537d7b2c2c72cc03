"""
What is written in a drawing: texts, leaders, dimensions, each as a line that can be read.

Codes of fonts and stacked fractions are left out. A *typed* dimension is one whose figure was typed over the measured
one: where the two differ, either the figure or the line is wrong, and only the user knows which.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import Any

from ledger.domain.errors import visible
from ledger.domain.finding import Finding
from ledger.domain.shape import Point
from ledger.profile.affine import Affine
from ledger.profile.piece import at

LONGEST = 120
_TEXTS = ("TEXT", "MTEXT", "ATTRIB", "ATTDEF")
_MEASURES = "<>"
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_INCH = 25.4
_SPACES = re.compile(r"\s+")


def words_of(entity: Any) -> str:
    """What an entity says, on one line and without codes; empty where it says nothing."""
    kind = entity.dxftype()
    if kind in _TEXTS:
        text = entity.plain_text() if kind in ("TEXT", "MTEXT") else str(entity.dxf.text)
    elif kind == "DIMENSION":
        text = str(entity.dxf.get("text", ""))
        text = "" if not text.strip() or _MEASURES in text else _plain(text)
    elif kind in ("MULTILEADER", "MLEADER"):
        text = _plain(entity.get_mtext_content())
    else:
        return ""
    return visible(_SPACES.sub(" ", text).strip(), most=LONGEST)


def told(entity: Any, to: Affine, layer: str) -> Iterator[Finding]:
    """A note for what is written, and a warning for a dimension that says another length than it measures."""
    try:
        text = words_of(entity)
        place = _place(entity, to)
    except (AttributeError, TypeError, ValueError, ArithmeticError):
        return
    if not text:
        return
    measured = _measured(entity) if entity.dxftype() == "DIMENSION" else None
    where = f"layer {visible(layer)}{f' at {at(place)}' if place else ''}"
    if measured is not None and differs(text, measured):
        yield Finding(
            "dimension_differs",
            f"a dimension{f' at {at(place)}' if place else ''} says “{text}” and measures {measured:.3f} as drawn",
            severity="warning",
            where=where,
            fix="correct the drawing or the dimension; a clean copy keeps the lines and leaves the figure out",
            measured=f"{measured:.3f}",
            limit=text,
        )
        return
    yield Finding(
        "drawing_words",
        f"the drawing says “{text}”",
        severity="note",
        where=where,
        fix="compare it with the record; a clean copy leaves it out",
        measured=text,
    )


def differs(text: str, measured: float) -> bool:
    """Whether a typed figure is another length than the drawn one, in the same unit or in mm for inches."""
    if _MEASURES in text:
        return False
    numbers = [(n, float(n.replace(",", "."))) for n in _NUMBER.findall(text)]
    if not numbers:
        return False
    drawn = (measured, measured * _INCH, measured / _INCH)
    return not any(abs(v - d) <= _half(written) + 1e-9 for written, v in numbers for d in drawn)


def _half(written: str) -> float:
    """Half of the last place that is written."""
    _, _, places = written.replace(",", ".").partition(".")
    return float(0.5 * 10.0 ** -len(places))


def _measured(entity: Any) -> float | None:
    """What a dimension measures in the unit of the drawing; None for angles, ordinates and what cannot be measured."""
    if entity.dimtype not in (0, 1, 3, 4):
        return None
    value = entity.get_measurement()
    return float(value) if isinstance(value, float | int) and math.isfinite(value) else None


def _place(entity: Any, to: Affine) -> Point | None:
    for name in ("insert", "text_midpoint", "defpoint"):
        point = entity.dxf.get(name) if entity.dxf.is_supported(name) else None
        if point is not None:
            x, y = to.place(point[0], point[1])
            return (x, y) if math.isfinite(x) and math.isfinite(y) else None
    return None


def _plain(text: str) -> str:
    from ezdxf.tools.text import plain_mtext, plain_text

    return plain_text(str(plain_mtext(text)))
