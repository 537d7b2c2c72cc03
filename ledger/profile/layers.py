"""
What each layer is for: its *role*, and whether it shows.

cut: the tool goes through. bend: a bend line. mark: etched, not cut through. ignore: agreed to be left out. Roles are
guessed from the layer's name and can be stated; names are alike in upper and lower case. A layer that is off or
frozen is *hidden*: what is on it does not show on a screen, and may be cut all the same.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, get_args

from ledger.domain.errors import BadInput, visible
from ledger.domain.record import LAYER_ROLES, LayerRole

# A word must begin there: "Sketch1" is a usual layer name and no etching.
_GUESSES: tuple[tuple[re.Pattern[str], LayerRole], ...] = (
    (re.compile(r"DEFPOINTS"), "ignore"),
    (re.compile(r"(.*[^A-Z])?(BEND|BEND_LINE).*"), "bend"),
    (re.compile(r"(.*[^A-Z])?(MARK|ETCH|ENGRAV|SCRIBE).*"), "mark"),
)


# Centre, hidden, phantom and bend lines; the names that CAD programs ship, and those of ISO 128 in them.
_BROKEN = re.compile(r".*(CENT(ER|RE)|DASH|HIDDEN|PHANTOM|DOT|DIVIDE|BORDER|ACAD_ISO(0[2-9]|1[0-5])).*")
_CUT_NAME = re.compile(r"(.*[^A-Z])?(CUT|OUTLINE|OUTER|INNER|PROFILE|CONTOUR).*")


@dataclass(frozen=True, slots=True)
class Sort:
    """How a layer is drawn: whether it shows, and its linetype."""

    hidden: bool = False
    linetype: str = "Continuous"


class Layers:
    """The layers of a drawing with the roles the user stated, if any."""

    def __init__(self, table: Mapping[str, Sort], stated: Mapping[str, str] | None = None) -> None:
        """`table`: layer name to how it is drawn. Raises BadInput for a role that is none."""
        self._sorts = {name.casefold(): sort for name, sort in table.items()}
        self._stated = checked_roles(stated)

    def role(self, layer: str) -> LayerRole:
        """What the layer is for: as stated, else as guessed, else cut."""
        stated = self._stated.get(visible(layer).casefold())
        return stated or guessed_role(layer)

    def stated(self, name: str) -> LayerRole | None:
        """The role that the user stated for a layer, or for all lines of a linetype, of that name."""
        return self._stated.get(visible(name).casefold())

    def hidden(self, layer: str) -> bool:
        """Whether the layer is off or frozen."""
        return self._sorts.get(layer.casefold(), Sort()).hidden

    def linetype(self, layer: str) -> str:
        """The linetype that entities of the layer have unless they say otherwise."""
        return self._sorts.get(layer.casefold(), Sort()).linetype

    def agreed(self, layer: str) -> bool:
        """Whether the role was stated, or the name says what the layer is for."""
        named = _CUT_NAME.fullmatch(layer.upper()) is not None or guessed_role(layer) != "cut"
        return named or visible(layer).casefold() in self._stated


def is_broken(linetype: str) -> bool:
    """Whether a linetype is one of dashes or dots, which no contour to be cut is drawn with."""
    return _BROKEN.fullmatch(linetype.upper()) is not None


def is_centre(linetype: str) -> bool:
    """Whether a linetype is that of centre lines, which are no bend lines."""
    return re.match(r".*CENT(ER|RE)", linetype.upper()) is not None


def guessed_role(layer: str) -> LayerRole:
    """The role that a layer's name suggests."""
    return next((role for pattern, role in _GUESSES if pattern.fullmatch(layer.upper())), "cut")


def checked_roles(stated: Mapping[str, str] | None) -> dict[str, LayerRole]:
    """Roles by case-folded layer name. Raises BadInput for a role that is none."""
    roles: dict[str, LayerRole] = {}
    for layer, role in (stated or {}).items():
        known = next((r for r in get_args(LayerRole) if r == role), None)
        if known is None:
            raise BadInput(
                f"{visible(role)!r} is no role for layer {visible(layer)}; known: {', '.join(LAYER_ROLES)}"
            )
        roles[visible(layer).casefold()] = known
    return roles


def roles_of(layers: Iterable[str], stated: Mapping[str, str] | None = None) -> tuple[tuple[str, str], ...]:
    """Each layer and what it is for, as stated or guessed."""
    known = Layers({}, stated)
    return tuple((layer, known.role(layer)) for layer in layers)


def layer_table(document: Any) -> dict[str, Sort]:
    """Every layer of the CAD library's document: name to how it is drawn."""
    return {
        layer.dxf.name: Sort(
            bool(layer.is_off() or layer.is_frozen()), str(layer.dxf.get("linetype", "Continuous"))
        )
        for layer in document.layers
    }
