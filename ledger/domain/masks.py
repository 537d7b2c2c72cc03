"""
What a coating leaves bare: `holes` (every one), single holes by label, `top`, `bottom` and `edges`, in any order.

A masked face is not thicker, a masked hole not smaller, a masked edge nearer to nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from ledger.domain.errors import BadInput, visible
from ledger.domain.plain_json import word_list, words

PLACES = ("holes", "top", "bottom", "edges")
_FACES = ("top", "bottom")


@dataclass(frozen=True, slots=True)
class Masks:
    """Places that stay bare, as written: words of `PLACES`, and labels of holes."""

    written: str = ""
    places: tuple[str, ...] = ()
    labels: tuple[str, ...] = ()

    def __str__(self) -> str:
        return self.written

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON; `from_json` reads them back."""
        return {"written": self.written, "places": list(self.places), "labels": list(self.labels)}

    @staticmethod
    def from_json(data: Mapping[str, Any]) -> Masks:
        """What `to_json` wrote; its text is not read again. Raises ValueError, KeyError or TypeError."""
        return Masks(words(data["written"]), word_list(data["places"]), word_list(data["labels"]))

    def bare_holes(self, labels: Iterable[str]) -> bool:
        """Whether every one of these holes stays bare."""
        return "holes" in self.places or all(label in self.labels for label in labels)

    @property
    def bare_edges(self) -> bool:
        """Whether outline and openings stay bare."""
        return "edges" in self.places

    @property
    def coated_faces(self) -> int:
        """How many of the two faces are coated."""
        return sum(face not in self.places for face in _FACES)


def read_masks(text: str) -> Masks:
    """The masks of a text such as `holes, top` or `H1 H2`. Raises BadInput for one that says a thing twice."""
    named = text.replace(",", " ").split()
    twice = sorted({w for w in named if named.count(w) > 1})
    if twice:
        raise BadInput(
            f"the mask names {visible(twice[0])} twice; expected holes, top, bottom, edges or labels of holes"
        )
    places, labels = (tuple(w for w in named if (w in PLACES) is known) for known in (True, False))
    return Masks(text, places, labels)
