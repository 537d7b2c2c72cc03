"""One-line entries about holes, permits, people and policy, as the fields of an act with a reading to show."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from typing import TYPE_CHECKING, Any

from ledger.domain.amounts import read_amount
from ledger.domain.bend_words import FORM, read_bend
from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.quantity import read_length
from ledger.domain.readings import read_readings
from ledger.domain.record import (
    LAYER_ROLES,
    OPERATIONS,
    ROLES,
    SOURCES,
    Distance,
    MeasuredHole,
    SitePoint,
)
from tui.lines import Line

if TYPE_CHECKING:
    from ledger.store.signers import KeyLine

OPERATION_HINT = (
    "HOLES: OPERATION THREAD   e.g. H1 H2: tapped M8   (plain, tapped, countersunk, reamed, captive nut)"
)
HOLE_HINT = (
    "LABEL = X, Y, DIAMETER, ±UNCERTAINTY, SOURCE   e.g. S1 = 150 mm, -20 mm, 16 mm, ±0.5 mm, measured"
)
BEND_HINT = f"BENDS: {FORM}"
_UNTIL = re.compile(r"(?P<reason>.*?)\s*[,;]\s*until\s+(?P<day>\S+)\s*", re.DOTALL)
_UP_TO = re.compile(
    r"(?P<reason>.*?)\s*[,;]\s*up\s+to\s+(?P<value>[^,;]+?)\s*(?P<rest>[,;].*)?", re.DOTALL | re.IGNORECASE
)
_FOR = re.compile(r"(?P<layers>.*=\s*\w+)(\s+for\s+(?P<vendor>.+))?", re.DOTALL)
_PLACE_AND_SIZE = 3
POINT_HINT = "LABEL, DIAMETER, left of P1 P2   or   LABEL at X, Y, Z ±U   with INSTRUMENT"
DISTANCE_HINT = "P1 P2 READINGS INSTRUMENT, such as P1 P2 1532 1533 mm tape; or P1 P2 removed: WHY"
_KEYS = re.compile(
    r"(?:retire\s+(?P<key>[0-9a-fA-F]+)(?:\s+from\s+(?P<entry>[0-9]{1,9}))?)?\s*,?\s*(?P<add>add)?",
    re.IGNORECASE,
)
_WARM = re.compile(r"from (?P<celsius>-?[\d.]+) to 20 °C")


def operation_line(text: str) -> Line:
    """`H1 H2: tapped M8`."""
    holes, colon, rest = (piece.strip() for piece in text.partition(":"))
    labels = tuple(holes.replace(",", " ").split())
    if not (colon and labels and rest):
        raise BadInput(f"expected {OPERATION_HINT}")
    operation = next((f for f in OPERATIONS if rest == f or rest.startswith(f"{f} ")), "")
    if not operation:
        raise UnknownName("hole operation", rest.partition(" ")[0], OPERATIONS)
    thread = rest.removeprefix(operation).strip()
    if thread:
        from ledger.standards.fasteners import fastener

        fastener(thread)
    elif operation == "tapped":
        raise BadInput("thread missing; expected one, such as tapped M8")
    words = f"{', '.join(labels)}: {operation} {thread}".strip()
    return Line({"labels": labels, "operation": operation, "thread": thread}, words)


def bend_line(text: str) -> Line:
    """`B1 B2: 90 deg up, R 3 mm, K 0.44`."""
    lines, colon, rest = (piece.strip() for piece in text.partition(":"))
    labels = tuple(lines.replace(",", " ").split())
    if not (colon and labels and rest):
        raise BadInput(f"expected {BEND_HINT}")
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


def layers_line(text: str) -> Line:
    """`BEND=bend, TXT=ignore for Kerf & Son`: what layers are for, and the vendor it is remembered for."""
    found = _FOR.fullmatch(text.strip())
    layers, vendor = (found["layers"], found["vendor"] or "") if found else (text, "")
    roles: dict[str, str] = {}
    for piece in layers.split(","):
        name, equals, role = (word.strip() for word in piece.rpartition("="))
        if not (equals and name):
            raise BadInput(f"read {piece.strip()!r}; expected LAYER=ROLE, separated by commas")
        if role not in LAYER_ROLES:
            raise UnknownName("role of a layer", role, LAYER_ROLES)
        roles[name] = role
    words = ", ".join(f"{name} {role}" for name, role in roles.items())
    return Line({"roles": roles, "vendor": vendor}, words + (f"; remembered for {vendor}" if vendor else ""))


def layers_words(roles: Iterable[tuple[str, str]], vendor: str) -> str:
    """What layers are for as the line that would enter it."""
    return ", ".join(f"{name}={role}" for name, role in roles) + (f" for {vendor}" if vendor else "")


def hole_line(text: str) -> Line:
    """`S1 = 150 mm, -20 mm, 16 mm, ±0.5 mm, measured`."""
    label, equals, rest = (piece.strip() for piece in text.partition("="))
    pieces = [piece.strip() for piece in rest.split(",") if piece.strip()]
    if not (equals and label and len(pieces) >= _PLACE_AND_SIZE):
        raise BadInput(f"expected {HOLE_HINT}")
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


def point_line(text: str) -> Line:
    """`P3, 12 mm, left of P1 P2` or `P1 at 0 mm, 0 mm, 5 mm ±0.5 mm`; `with station 1` behind is the instrument."""
    body, _, tool = (piece.strip() for piece in text.partition(" with "))
    body, _, sure = (piece.strip() for piece in body.partition("±"))
    head, _, place = body.partition(" at ")
    label, *tail = (piece.strip() for piece in head.split(","))
    if not label or (sure and not place):
        raise BadInput(f"expected {POINT_HINT}")
    fields: dict[str, Any] = {"label": label, "diameter": "", "side": "", "instrument": tool}
    for piece in filter(None, tail):
        if piece.split()[0].lower() in ("left", "right", "above", "below"):
            fields["side"] = piece
        else:
            fields["diameter"] = read_length(piece).written
    fields["at"] = tuple(read_length(c.strip(), signed=True).written for c in place.split(",") if c.strip())
    fields["uncertainty"] = read_length(sure).written if sure else ""
    size = f", hole or stud of {fields['diameter']}" if fields["diameter"] else ""
    at = f", at {', '.join(fields['at'])}" if fields["at"] else ""
    doubt = f" ±{fields['uncertainty']}" if sure else ""
    side = f", {fields['side']}" if fields["side"] else ""
    return Line(fields, f"point {label}{size}{at}{doubt}{side}")


def point_words(old: SitePoint) -> str:
    """A point as the line that would enter it."""
    pieces = [old.label, old.diameter.written if old.diameter else "", old.side]
    at = f" at {', '.join(v.written for v in old.at)}" if old.at else ""
    sure = f" ±{old.uncertainty.written}" if old.uncertainty else ""
    tool = f" with {old.instrument}" if old.instrument else ""
    return ", ".join(filter(None, pieces)) + at + sure + tool


def distance_line(text: str) -> Line:
    """`P1 P2 1532 1533 mm tape`, `P1 P2 90 ±0.1 mm caliper at 30C`, or `P1 P2 removed: the hook slipped`."""
    words = text.split(maxsplit=2)
    if len(words) <= 2:  # noqa: PLR2004 - two points and what was read between them
        raise BadInput(f"expected {DISTANCE_HINT}")
    a, b, reading = words
    if reading.startswith("removed"):
        reason = reading.partition(":")[2].strip()
        if not reason:
            raise BadInput("reason missing; expected P1 P2 removed: the hook slipped")
        return Line({"a": a, "b": b, "reason": reason}, f"{a} to {b} is removed")
    reading, _, at = (piece.strip() for piece in reading.partition(" at "))
    read = read_readings(reading)
    if not read.instrument:
        raise BadInput("instrument missing; expected one after the reading, such as tape")
    values = ", ".join(v.written for v in read.values)
    warm = f", read at {at} and corrected to 20 °C" if at else ""
    return Line(
        {"a": a, "b": b, "reading": reading, "at": at}, f"{a} to {b}: {values}, {read.instrument}{warm}"
    )


def distance_words(old: Distance) -> str:
    """A distance as the line that would enter it: readings as they were read, and how warm it was."""
    warm = _WARM.search(old.how)
    by_itself = not old.how or (warm and ";" not in old.how[: warm.start()])
    values = " ".join(old.readings) or old.value.written
    if old.how.startswith("centres from"):
        values = f"inside {old.readings[0]} outside {old.readings[1]}"
    stated = f" ±{old.uncertainty.written}" if by_itself else ""
    at = f" at {warm['celsius']}C" if warm else ""
    return f"{old.a} {old.b} {values}{stated} {old.instrument}{at}"


def hole_words(old: MeasuredHole) -> str:
    """A measured hole as the line that would enter it."""
    x, y = (f"{v:.6f}".rstrip("0").rstrip(".") for v in old.hole.centre)
    sure = f", ±{old.uncertainty.written}" if old.uncertainty else ""
    return f"{old.hole.label} = {x} mm, {y} mm, {old.hole.diameter_mm:g} mm{sure}, {old.source}"


def permit_line(text: str, today: str = "") -> Line:
    """
    `cut wider on site, up to 240.5 mm, until 2026-06-30`, which is not to be before `today`.

    Without a last day it holds as long as the revision is open, with a value while what is found is no worse.
    """
    from ledger.domain.names import day

    capped = _UP_TO.fullmatch(text)
    up_to = read_amount(capped["value"]).written if capped else ""
    text = f"{capped['reason']}{capped['rest'] or ''}" if capped else text
    found = _UNTIL.fullmatch(text)
    reason, until = (found["reason"].strip(), found["day"]) if found else (text.strip(), "")
    if not reason:
        raise BadInput("reason missing; expected REASON, until YYYY-MM-DD")
    if until and day(until).isoformat() < today:
        raise BadInput(f"{until} is past; expected the permit's last day, today or later")
    bound = f"through {until}" if until else "no expiry date"
    bound += f", no worse than {up_to}" if up_to else ""
    return Line({"reason": reason, "until": until, "up_to": up_to}, f"{bound}: {reason}")


def person_line(text: str, known: Collection[str] = ()) -> Line:
    """`Mira: drawn, approved`."""
    name, colon, rest = (piece.strip() for piece in text.partition(":"))
    if not (colon and name and rest):
        raise BadInput(f"expected NAME: ROLES, such as Mira: drawn, checked; roles are {', '.join(ROLES)}")
    if name in known:
        raise BadInput(f"{name} is enrolled already")
    roles = roles_line(rest).fields["roles"]
    return Line({"name": name, "roles": roles}, f"{name} may sign as {', '.join(roles)}")


def roles_line(text: str) -> Line:
    """`drawn, checked`."""
    roles = tuple(dict.fromkeys(text.replace(",", " ").split()))
    for role in roles:
        if role not in ROLES:
            raise UnknownName("role", role, ROLES)
    if not roles:
        raise BadInput(f"expected at least one of {', '.join(ROLES)}")
    return Line({"roles": roles}, f"{', '.join(roles)}: all must sign")


def raised_line(text: str, known: Collection[str]) -> Line:
    """Codes of warnings that stop, by spaces; nothing typed raises none."""
    codes = tuple(dict.fromkeys(text.replace(",", " ").split()))
    for code in codes:
        if code not in known:
            raise UnknownName("code", code, known)
    return Line({"raised": codes}, f"{', '.join(codes)}: a stop from now on" if codes else "no warning stops")


def key_line(text: str, lines: Iterable[KeyLine]) -> Line:
    """`retire 5e1f from 38, add: laptop lost`: what goes, from which entry on, whether a new one is made, and why."""
    said, colon, reason = (piece.strip() for piece in text.partition(":"))
    found = _KEYS.fullmatch(said)
    if not (colon and reason and found and said):
        raise BadInput(
            "expected: retire KEY from ENTRY, add: REASON   (either may be left out, the reason may not)"
        )
    start, entry, adds = (found["key"] or "").lower(), int(found["entry"] or 0), bool(found["add"])
    if start:
        held = [line.key for line in lines if line.in_force]
        named = [key for key in held if key.startswith(start)]
        if len(named) != 1:
            raise UnknownName("key in force", start, [key[:16] for key in held])
        start = named[0]
    gone = f"key {start[:16]} is void {f'from entry {entry} on' if entry else 'from now on'}" if start else ""
    words = "; ".join(filter(None, (gone, "a new key is made" if adds else "", f"because: {reason}")))
    return Line({"retires": start, "until": entry, "adds": adds, "reason": reason}, words)
