"""A key dimension in one line."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from ledger.domain.amounts import Amount, read_amount
from ledger.domain.errors import BadInput, visible
from ledger.domain.formula import names_in, read_formula
from ledger.domain.measured_on import read_measured_on
from ledger.domain.quantity import read_measured
from ledger.domain.readings import apart_from_warmth
from ledger.domain.record import SOURCES, Dimension
from ledger.standards.expansion import temperature
from ledger.standards.size_limits import limits_of, sized_class
from ledger.words.forms import DIMENSION
from ledger.words.line import Line, reads

_LIMITS = re.compile(
    r"(?P<nominal>.+?)\s+(?P<limits>(?:\+|-\s?[0-9.]|min$|max$|[0-9.]+\s?[a-z]*\s?\.\.).*)", re.IGNORECASE
)

_CLASS = re.compile(r"(?P<nominal>.+?)\s+(?P<limits>(?:iso\s*)?2768\S*|(?:js|[a-z])\d{1,2})", re.IGNORECASE)

_EQUAL = re.compile(r"(?P<nominal>[^±]+?)\s*(?P<limits>±.*)")

_BEHIND = re.compile(
    r"(?P<formula>.+?)\s*(?P<limits>±.*|\+\s?[0-9.]+[^-+*()\[\]]*-\s?[0-9.]+[^-+*/()\[\]]*|(?<=\s)(?:min|max)"
    r"|(?<=\s)[0-9.]+\s?[a-z]*\s?\.\.\s?[0-9.].*"
    r"|(?<=[^-+*/(]\s)(?:(?:iso\s*)?2768\S*|(?:js|[a-z])\d{1,2}))",
    re.IGNORECASE,
)

_AMOUNT_SURE = re.compile(
    r"(?:±|\+-|\+/-) ?(?P<sure>[0-9./]+ ?(?:deg|°|mm2|cm2|in2|ft2|m2))\s+(?P<tool>.+)", re.IGNORECASE
)


@reads(DIMENSION)
def dimension_line(text: str, old: Dimension | None = None) -> Line:
    """`width = 200 mm ±0.2, measured ±0.05 mm caliper, on width`; what is not said stays as it was."""
    head, *tail = (piece.strip() for piece in text.split(","))
    name, equals, value = (piece.strip() for piece in head.partition("="))
    if not (equals and name and value):
        raise BadInput(f"expected {DIMENSION.hint}")
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


def dimension_value_words(old: Dimension) -> str:
    """Name, value and limits of a dimension as the line that would edit them; the rest stays, as it is left out."""
    limits = f" {old.limits.written}" if old.limits else ""
    return f"{old.name} = {old.formula or old.nominal.written}{limits}{', calculated' if old.formula else ''}"


def dimension_words(old: Dimension) -> str:
    """A dimension as the line that would enter all of it."""
    said = [dimension_value_words(old).removesuffix(", calculated")]
    if old.source == "measured":
        sure = f"±{old.uncertainty.written} " if old.uncertainty else ""
        said.append(f"measured {sure}{old.instrument}")
    elif old.source != "given":
        said.append(old.source)
    said += [f"on {old.measured_on}"] if old.measured_on else []
    said += [word for word in ("frozen", "critical") if getattr(old, word)]
    return ", ".join(said)


def _kept(old: Dimension | None) -> dict[str, Any]:
    if old is None:
        plain = {"instrument": "", "uncertainty": "", "measured_on": ""}
        return {"source": "given", **plain, "frozen": False, "critical": False}
    return {
        "source": old.source,
        "instrument": old.instrument,
        "uncertainty": old.uncertainty.written if old.uncertainty else "",
        "measured_on": str(old.measured_on or ""),
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
