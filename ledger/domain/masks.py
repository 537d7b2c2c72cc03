"""
What a coating leaves bare: `holes` (every one), single holes by label, `top`, `bottom` and `edges`, in any order.

A masked face is not thicker, a masked hole not smaller, a masked edge nearer to nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ledger.domain.errors import BadInput, visible

PLACES = ("holes", "top", "bottom", "edges")
_FACES = ("top", "bottom")


@dataclass(frozen=True, slots=True)
class Masks:
    """Places that stay bare: words of `PLACES`, and labels of holes."""

    places: frozenset[str] = frozenset()
    labels: tuple[str, ...] = ()

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
    words = text.replace(",", " ").split()
    twice = sorted({w for w in words if words.count(w) > 1})
    if twice:
        raise BadInput(
            f"the mask names {visible(twice[0])} twice; expected holes, top, bottom, edges or labels of holes"
        )
    return Masks(frozenset(w for w in words if w in PLACES), tuple(w for w in words if w not in PLACES))
