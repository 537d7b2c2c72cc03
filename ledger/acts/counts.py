"""
How many pieces are ordered: so many for each assembly, times assemblies, and spares; or a plain number.

Whichever was written last counts: a plain number puts the others aside, and they put it aside.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ledger.domain.errors import BadInput

COUNTS = ("per_assembly", "assemblies", "spares")


def ordered(
    quantity: int | None, per_assembly: int | None, assemblies: int | None, spares: int | None
) -> int | None:
    """The number of pieces to order. Raises BadInput where the numbers say two things, or only half of one."""
    if per_assembly is None:
        if assemblies is not None or spares is not None:
            raise BadInput("assemblies and spares count pieces only with how many go into each assembly")
        return quantity
    total = per_assembly * (assemblies or 1) + (spares or 0)
    if quantity not in (None, total):
        raise BadInput(
            f"{quantity} pieces are not {per_assembly} for each of {assemblies or 1} assemblies and {spares or 0} "
            f"spare, which are {total}: write one or the other"
        )
    return total


def counted_again(old: Mapping[str, Any], fields: Mapping[str, Any]) -> dict[str, Any]:
    """The fields of a part as they were, without those that the new ones put aside."""
    kept = dict(old)
    if "per_assembly" in fields and fields["per_assembly"] is None:
        kept |= dict.fromkeys(COUNTS)
    elif any(fields.get(name) is not None for name in COUNTS):
        kept["quantity"] = None
    elif "quantity" in fields:
        kept |= dict.fromkeys(COUNTS)
    return kept
