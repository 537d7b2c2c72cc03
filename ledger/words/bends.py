"""Bend data of a part and of a vendor, in one line."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from ledger.domain.bend import Bend, read_k_factor
from ledger.domain.bend_words import bend_words, read_bend
from ledger.domain.errors import BadInput, visible
from ledger.domain.record import Part
from ledger.words.forms import BEND, BEND_DATA
from ledger.words.line import Line, above_zero, reads

if TYPE_CHECKING:
    from ledger.standards.bending import Bent


def bent(part: Part, bend: Bend) -> Bent | None:
    """What a bend takes of its plate, with words for it; None where that is not known."""
    from ledger.standards.bending import bent_in

    return bent_in(part, bend)


@reads(BEND)
def bend_line(text: str) -> Line:
    """`B1 B2: 90 deg up, R 3 mm, K 0.44`."""
    lines, colon, rest = (piece.strip() for piece in text.partition(":"))
    labels = tuple(lines.replace(",", " ").split())
    if not (colon and labels and rest):
        raise BadInput(f"expected {BEND.hint}")
    fields = read_bend(rest)
    more = {
        "radius": "inside R {}",
        "k_factor": "K {}",
        "allowance": "allowance {}",
        "deduction": "deduction {}",
    }
    said = [form.format(fields[name]) for name, form in more.items() if name in fields]
    said += [f"±{fields['tolerance']} beyond the bend"] if "tolerance" in fields else []
    missing = [] if "radius" in fields else ["radius"]
    missing += [] if fields.keys() & {"k_factor", "allowance", "deduction"} else ["K-factor"]
    usual = f"; {' and '.join(missing)} by default" if missing else ""
    words = ", ".join([f"{fields['angle']} {fields['direction']}", *said])
    return Line({"labels": labels, **fields}, f"{', '.join(labels)}: {words}{usual}")


def bend_of_part_words(bend: Bend) -> str:
    """A bend as the line that would enter it."""
    return f"{bend.label}: {bend_words(bend)}"


@reads(BEND_DATA)
def bend_data_line(text: str) -> Line:
    """`Kerf & Son: 3 mm of S235, R 3 mm, K 0.44`. Raises BadInput."""
    vendor, colon, rest = (piece.strip() for piece in text.partition(":"))
    stock, *tail = (piece.strip() for piece in rest.split(","))
    thickness, of, material = (piece.strip() for piece in stock.partition(" of "))
    if not (colon and vendor and of and material):
        raise BadInput(f"expected {BEND_DATA.hint}")
    above_zero("thickness", thickness)
    fields: dict[str, Any] = {"vendor": vendor, "material": material, "thickness": thickness}
    fields |= {"radius": "", "k_factor": ""}
    for piece in filter(None, tail):
        word, _, value = piece.partition(" ")
        if word.lower() in ("r", "radius"):
            fields["radius"] = above_zero("inside radius", value)
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
