"""People, their keys and what the job asks of them, in one line."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable

from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.key_line import KeyLine
from ledger.domain.record import PERSON_ROLES, ROLES
from ledger.words.forms import CHANGED_ROLES, KEY, PERSON, RAISED
from ledger.words.forms import ROLES as ROLES_FORM
from ledger.words.line import Line, reads

_KEYS = re.compile(
    r"(?:retire\s+(?P<key>[0-9a-fA-F]+)(?:\s+from\s+(?P<entry>[0-9]{1,9}))?)?\s*,?\s*(?P<add>add)?",
    re.IGNORECASE,
)


@reads(PERSON)
def person_line(text: str, known: Collection[str] = ()) -> Line:
    """`Mira: drawn, approved`."""
    name, colon, rest = (piece.strip() for piece in text.partition(":"))
    if not (colon and name and rest):
        raise BadInput(f"expected NAME: ROLES, such as Mira: drawn, checked; roles are {', '.join(ROLES)}")
    if name in known:
        raise BadInput(f"{name} is enrolled already")
    roles = _roles(rest, PERSON_ROLES)
    return Line({"name": name, "roles": roles}, f"{name} may sign as {', '.join(roles)}")


@reads(CHANGED_ROLES)
def roles_change_line(text: str) -> Line:
    """`drawn, keeper: REASON`, or `retired: REASON`."""
    said, colon, reason = (piece.strip() for piece in text.partition(":"))
    if not (colon and said and reason):
        raise BadInput("expected ROLES: REASON, such as drawn, checked: agreed; or retired: REASON")
    roles = () if said == "retired" else _roles(said, PERSON_ROLES)
    reading = f"may sign as {', '.join(roles)}" if roles else "is retired, with every key"
    return Line({"roles": roles, "reason": reason}, f"{reading}: {reason}")


@reads(ROLES_FORM)
def roles_line(text: str) -> Line:
    """`drawn, checked`."""
    roles = _roles(text, ROLES)
    return Line({"roles": roles}, f"{', '.join(roles)}: all must sign")


def _roles(text: str, known: tuple[str, ...]) -> tuple[str, ...]:
    roles = tuple(dict.fromkeys(text.replace(",", " ").split()))
    for role in roles:
        if role not in known:
            raise UnknownName("role", role, known)
    if not roles:
        raise BadInput(f"expected at least one of {', '.join(known)}")
    return roles


@reads(RAISED)
def raised_line(text: str, known: Collection[str]) -> Line:
    """Codes of warnings that stop, by spaces; nothing typed raises none."""
    codes = tuple(dict.fromkeys(text.replace(",", " ").split()))
    for code in codes:
        if code not in known:
            raise UnknownName("code", code, known)
    return Line({"raised": codes}, f"{', '.join(codes)}: a stop from now on" if codes else "no warning stops")


@reads(KEY)
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


def person_words(name: str, roles: Iterable[str]) -> str:
    """A person as the line that would enroll them."""
    return f"{name}: {', '.join(roles)}"
