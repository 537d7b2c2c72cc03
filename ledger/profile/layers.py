"""
What each layer is for: its *role*, and whether it shows.

cut: the tool goes through. bend: a fold line. mark: etched, not cut through. ignore: agreed to be left out. Roles are
guessed from the layer's name and can be stated; names are alike in upper and lower case. A layer that is off or
frozen is *hidden*: what is on it does not show on a screen, and may be cut all the same.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Literal, get_args

from ledger.domain.errors import BadInput, visible

Role = Literal["cut", "mark", "bend", "ignore"]
ROLES: tuple[str, ...] = get_args(Role)

# A word must begin there: "Sketch1" is a usual layer name and no etching.
_GUESSES: tuple[tuple[re.Pattern[str], Role], ...] = (
    (re.compile(r"DEFPOINTS"), "ignore"),
    (re.compile(r"(.*[^A-Z])?(BEND|FOLD).*"), "bend"),
    (re.compile(r"(.*[^A-Z])?(MARK|ETCH|ENGRAV|SCRIBE).*"), "mark"),
)


class Layers:
    """The layers of a drawing with the roles the user stated, if any."""

    def __init__(self, table: Mapping[str, bool], stated: Mapping[str, str] | None = None) -> None:
        """`table`: layer name to hidden. Raises BadInput for a role that is none."""
        self._hidden = {name.casefold(): hidden for name, hidden in table.items()}
        self._stated = checked_roles(stated)

    def role(self, layer: str) -> Role:
        """What the layer is for: as stated, else as guessed, else cut."""
        stated = self._stated.get(visible(layer).casefold())
        return stated or guessed_role(layer)

    def hidden(self, layer: str) -> bool:
        """Whether the layer is off or frozen."""
        return self._hidden.get(layer.casefold(), False)


def guessed_role(layer: str) -> Role:
    """The role that a layer's name suggests."""
    return next((role for pattern, role in _GUESSES if pattern.fullmatch(layer.upper())), "cut")


def checked_roles(stated: Mapping[str, str] | None) -> dict[str, Role]:
    """Roles by folded layer name. Raises BadInput for a role that is none."""
    roles: dict[str, Role] = {}
    for layer, role in (stated or {}).items():
        known = next((r for r in get_args(Role) if r == role), None)
        if known is None:
            raise BadInput(
                f"{visible(role)!r} is no role for layer {visible(layer)}; known: {', '.join(ROLES)}"
            )
        roles[visible(layer).casefold()] = known
    return roles


def layer_table(document: Any) -> dict[str, bool]:
    """Every layer of the CAD library's document: name to hidden."""
    return {layer.dxf.name: bool(layer.is_off() or layer.is_frozen()) for layer in document.layers}
