"""What layers of a drawing are for, in one line."""

from __future__ import annotations

import re
from collections.abc import Iterable

from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.record import LAYER_ROLES
from ledger.words.forms import LAYERS
from ledger.words.line import Line, reads

_FOR = re.compile(r"(?P<layers>.*=\s*\w+)(\s+for\s+(?P<vendor>.+))?", re.DOTALL)


@reads(LAYERS)
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
