"""A group of holes in one line."""

from __future__ import annotations

from collections.abc import Collection

from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.record import HoleGroup
from ledger.words.forms import GROUP
from ledger.words.line import Line, reads


@reads(GROUP)
def group_line(text: str, groups: Collection[str] = (), holes: Collection[str] = ()) -> Line:
    """
    `bolts = H1 H2 H3`, with `from holes` behind it where the group is placed from another group or a hole.

    `groups` and `holes` are those of the part, where they are known. Raises BadInput, UnknownName.
    """
    name, equals, rest = (piece.strip() for piece in text.partition("="))
    said, _, reference = (piece.strip() for piece in f" {rest} ".partition(" from "))
    labels = tuple(said.replace(",", " ").split())
    if not (equals and name and labels):
        raise BadInput(f"expected {GROUP.hint}")
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
