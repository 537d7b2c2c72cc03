"""A part in one line, and the value of one of its fields."""

from __future__ import annotations

from typing import Any

from ledger.domain.density import read_density
from ledger.domain.errors import BadInput, visible
from ledger.domain.masks import read_masks
from ledger.domain.quantity import read_length
from ledger.domain.record import FORMS, Part
from ledger.standards.gauges import is_gauge
from ledger.words.forms import PART
from ledger.words.line import Line, reads

_YES_NO = {"yes": True, "no": False}


@reads(PART)
def part_line(text: str) -> Line:
    """`ARM-L cut Fork arm, left`: number, form, title."""
    number, _, rest = text.strip().partition(" ")
    form, _, title = rest.strip().partition(" ")
    if not number:
        raise BadInput("expected NUMBER FORM TITLE, such as ARM-L cut Fork arm, left")
    if form and form not in FORMS:
        raise BadInput(
            f"read {visible(form)!r} as the form; expected one of {', '.join(FORMS)}: NUMBER FORM TITLE"
        )
    fields = {"number": number, "form": form or "cut", "title": title.strip()}
    return Line(fields, f"part {number}, {fields['form']}, {fields['title'] or 'no title yet'}")


def field_value(name: str, text: str) -> Line:
    """The value of one field of a part's record."""
    value: Any = text.strip()
    reading = _stock_words(name, value) or value or "empty"
    if name in ("per_assembly", "assemblies", "spares"):
        if value and not (value.isascii() and value.isdigit()):
            raise BadInput("expected a whole number, or empty")
        value = int(value) if value else None
    elif name == "quantity":
        if not (value.isascii() and value.isdigit() and int(value) > 0):
            raise BadInput("expected a whole number above zero")
        value = int(value)
    elif name == "unconnected":
        if value not in _YES_NO:
            raise BadInput("expected yes (connects to nothing) or no")
        value = _YES_NO[value]
    fields = {name: value}
    if name == "opposite_of":
        fields["hand"] = "opposite" if value else "either"
    return Line(fields, f"{name.replace('_', ' ')}: {reading}")


def _stock_words(name: str, value: str) -> str:
    """What was read of a thickness, a gauge, a density or a mask; empty for any other field. Raises BadInput."""
    if name == "thickness" and is_gauge(value):
        return f"{value} of the part's material"
    if name in ("thickness", "coating_thickness") and value:
        return str(read_length(value))
    if name == "density" and value:
        return f"{read_density(value).kg_m3:.4g} kg/m3"
    if name == "masked":
        read_masks(value)
    return ""


def part_words(part: Part) -> str:
    """Number, form and title of a part as the line that would enter them."""
    return f"{part.number} {part.form} {part.title}".rstrip()
