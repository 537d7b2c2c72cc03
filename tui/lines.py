"""
One-line entries: what a person types, as the fields of an act, with a reading of it to show while typing.

Each reader raises BadInput where the line cannot be read; the grammar of lengths is that of the domain.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ledger.domain.amounts import Amount, read_amount
from ledger.domain.density import read_density
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.formula import names_in, read_formula
from ledger.domain.masks import read_masks
from ledger.domain.measured_on import read_measured_on
from ledger.domain.quantity import read_bounds, read_length, read_measured
from ledger.domain.readings import apart_from_warmth
from ledger.domain.record import FORMS, SOURCES, Dimension, HoleGroup
from ledger.standards.expansion import temperature
from ledger.standards.gauges import is_gauge
from ledger.standards.size_limits import limits_of, sized_class

if TYPE_CHECKING:
    from ledger.standards.instruments import Own

DIMENSION_HINT = (
    "NAME = NOMINAL LIMITS[, SOURCE][, on WHAT]  e.g. w = 3/16 in ±0.01, measured ±0.005 in caliper"
)
GROUP_HINT = "GROUP = HOLES, such as bolts = H1 H2 H3 H4; on a bent part also: from GROUP or HOLE"
_LIMITS = re.compile(
    r"(?P<nominal>.+?)\s+(?P<limits>(?:\+|-\s?[0-9.]|min$|max$|[0-9.]+\s?[a-z]*\s?\.\.).*)", re.IGNORECASE
)
_CLASS = re.compile(r"(?P<nominal>.+?)\s+(?P<limits>(?:iso\s*)?2768\S*|(?:js|[a-z])\d{1,2})", re.IGNORECASE)
_EQUAL = re.compile(r"(?P<nominal>[^±]+?)\s*(?P<limits>±.*)")
_BEHIND = re.compile(
    r"(?P<formula>.+?)\s*(?P<limits>±.*|\+\s?[0-9.]+[^-+*()\[\]]*-\s?[0-9.]+[^-+*/()\[\]]*|(?<=\s)(?:min|max)"
    r"|(?<=[^-+*/(]\s)(?:(?:iso\s*)?2768\S*|(?:js|[a-z])\d{1,2}))",
    re.IGNORECASE,
)
_AMOUNT_SURE = re.compile(
    r"(?:±|\+-|\+/-) ?(?P<sure>[0-9./]+ ?(?:deg|°|mm2|cm2|in2|ft2|m2))\s+(?P<tool>.+)", re.IGNORECASE
)
_YES_NO = {"yes": True, "no": False}


@dataclass(frozen=True, slots=True)
class Line:
    """What a line says: the fields of an act, and the reading to show."""

    fields: dict[str, Any]
    reading: str


def dimension_line(text: str, old: Dimension | None = None) -> Line:
    """`width = 200 mm ±0.2, measured ±0.05 mm caliper, on width`; what is not said stays as it was."""
    head, *tail = (piece.strip() for piece in text.split(","))
    name, equals, value = (piece.strip() for piece in head.partition("="))
    if not (equals and name and value):
        raise BadInput(f"expected {DIMENSION_HINT}")
    if any(piece.split()[:1] == ["calculated"] for piece in tail):
        return _calculated_line(name, value, tail, old)
    value = " ".join(sized_class(value) or (value,))
    found = _EQUAL.fullmatch(value) or _LIMITS.fullmatch(value) or _CLASS.fullmatch(value)
    nominal = read_amount(found["nominal"] if found else value)
    limits = limits_of(found["limits"], nominal) if found else None
    fields = {
        **_kept(old),
        "name": name,
        "nominal": nominal.written,
        "limits": limits.written if limits else "",
    }
    if limits and found:
        fields["limits"] = found["limits"]
    for piece in tail:
        fields.update(_tail(piece, nominal.written))
    if "at" in fields:
        temperature(fields["at"])
    elif old and old.how and fields["source"] == old.source and nominal.written == old.nominal.written:
        fields["how"] = old.how
    allowed = f", limits {found['limits']}" if found else ", no limits"
    read_measured_on(fields["measured_on"])
    measured_on = (
        f", measured on the drawing as {fields['measured_on']}"
        if fields["measured_on"]
        else ", not measured on the drawing"
    )
    warm = f" at {fields['at']}, recorded as it is at 20 °C" if "at" in fields else ""
    return Line(fields, f"{name}: {nominal}{allowed}, {fields['source']}{warm}{measured_on}{_marks(fields)}")


def _calculated_line(name: str, value: str, tail: list[str], old: Dimension | None) -> Line:
    """`half = width/2 + 3/16 in ±0.1, calculated`: a formula, and limits behind it."""
    found = _BEHIND.fullmatch(value)
    formula, limits = (found["formula"], found["limits"]) if found else (value, "")
    fields = {**_kept(old), "name": name, "nominal": formula, "limits": limits}
    for piece in tail:
        fields.update(_tail(piece, formula))
    named = ", ".join(str(ref) for ref in names_in(read_formula(formula)))
    read_measured_on(fields["measured_on"])
    reading = f"{name}: {formula}, calculated from {named or 'no dimension: the formula names none'}"
    return Line(fields, reading + (f", limits {limits}" if limits else ", no limits") + _marks(fields))


def _marks(fields: Mapping[str, Any]) -> str:
    return "".join(f"; {word}" for word in ("frozen", "critical") if fields[word])


def dimension_words(old: Dimension) -> str:
    """A dimension as the line that would enter it."""
    limits = f" {old.limits.written}" if old.limits else ""
    return f"{old.name} = {old.formula or old.nominal.written}{limits}{', calculated' if old.formula else ''}"


def clearance_line(text: str) -> Line:
    """`arm to cover: >= 3 mm`, with `critical` behind it where it is."""
    name, colon, expected = (piece.strip() for piece in text.partition(":"))
    critical = expected.endswith("critical")
    expected = expected.removesuffix("critical").strip()
    if not (colon and name and expected):
        raise BadInput("expected NAME: BOUNDS, such as arm to cover: >= 3 mm")
    bounds = read_bounds(expected)
    weight = "; critical" if critical else ""
    return Line({"name": name, "required": expected, "critical": critical}, f"{name}: {bounds}{weight}")


def reading_line(text: str, own: Own | None = None) -> str:
    """
    The reading of a measured clearance, `1.8 ±0.1 mm feeler`, with `at 30C` behind where the parts were warm.

    What it is at 20 °C depends on the parts, and is told once it is recorded. Raises BadInput without an instrument.
    """
    from ledger.standards.instruments import measured

    line, at = apart_from_warmth(text)
    found = str(measured(line, own=own or {}))
    return f"{found}; read at {temperature(at):g} °C, recorded as it is at 20 °C" if at else found


def group_line(text: str, groups: Collection[str] = (), holes: Collection[str] = ()) -> Line:
    """
    `bolts = H1 H2 H3`, with `from holes` behind it where the group is placed from another group or a hole.

    `groups` and `holes` are those of the part, where they are known. Raises BadInput, UnknownName.
    """
    name, equals, rest = (piece.strip() for piece in text.partition("="))
    said, _, reference = (piece.strip() for piece in f" {rest} ".partition(" from "))
    labels = tuple(said.replace(",", " ").split())
    if not (equals and name and labels):
        raise BadInput(f"expected {GROUP_HINT}")
    for label in labels:
        if holes and label not in holes:
            raise UnknownName("hole", label, holes)
    known = [*(g for g in groups if g != name), *holes]
    if reference and holes and reference not in known:
        raise UnknownName("hole group or hole", reference, known)
    placed = f", placed from {reference}: every bend between them counts" if reference else ""
    many = f"{len(labels)} holes" if len(labels) > 1 else "1 hole"
    return Line({"name": name, "labels": labels, "reference": reference}, f"{name}: {many}{placed}")


def group_words(old: HoleGroup) -> str:
    """A group as the line that would enter it."""
    return f"{old.name} = {' '.join(old.labels)}" + (f" from {old.reference}" if old.reference else "")


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
        return f"{read_density(value):.4g} kg/m3"
    if name == "masked":
        read_masks(value)
    return ""


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


def _kept(old: Dimension | None) -> dict[str, Any]:
    if old is None:
        plain = {"instrument": "", "uncertainty": "", "measured_on": ""}
        return {"source": "given", **plain, "frozen": False, "critical": False}
    return {
        "source": old.source,
        "instrument": old.instrument,
        "uncertainty": old.uncertainty.written if old.uncertainty else "",
        "measured_on": old.measured_on,
        "frozen": old.frozen,
        "critical": old.critical,
    }


def _tail(piece: str, nominal: str) -> dict[str, Any]:
    word, _, rest = piece.partition(" ")
    if word == "on":
        return {"measured_on": rest.strip()}
    if word in ("frozen", "critical") and not rest:
        return {word: True}
    if word == "not" and rest in ("frozen", "critical"):
        return {rest: False}
    if word not in SOURCES:
        raise BadInput(
            f"expected a source ({', '.join(SOURCES)}), frozen, not frozen, critical, or 'on width' after the comma"
        )
    if word != "measured":
        if rest:
            raise BadInput(
                f"read {visible(piece)!r}; only a measured value takes an instrument and a temperature"
            )
        return {"source": word, "instrument": "", "uncertainty": ""}
    said, at = apart_from_warmth(piece)
    found = _measured_with(said.removeprefix(word).strip(), nominal)
    return {"source": word, **found, **({"at": at} if at else {})}


def _measured_with(rest: str, nominal: str) -> dict[str, str]:
    """The instrument, and the uncertainty where it comes before it."""
    if not rest:
        raise BadInput("instrument missing; expected 'measured caliper' or 'measured ±0.05 mm caliper'")
    if not re.match(r"±|\+-|\+/-", rest):
        return {"instrument": rest, "uncertainty": ""}
    if isinstance(read_amount(nominal), Amount):
        amount = _AMOUNT_SURE.fullmatch(rest)
        if not amount:
            raise BadInput("expected 'measured ±0.5 deg protractor' after the comma")
        return {"instrument": amount["tool"], "uncertainty": amount["sure"]}
    found = read_measured(f"{nominal} {rest}")
    return {"instrument": found.instrument, "uncertainty": found.uncertainty.written}
