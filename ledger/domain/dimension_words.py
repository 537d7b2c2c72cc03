"""A dimension in words: nominal and limits as written, limits as two sizes, drawn sizes rounded."""

from __future__ import annotations

import math
from decimal import Decimal

from ledger.domain.errors import BadInput
from ledger.domain.quantity import plain
from ledger.domain.record import Dimension
from ledger.domain.shape import Hole


def figure(value: float, places: int) -> str:
    """A drawn size as text, rounded. Raises BadInput for one that is not finite."""
    if not math.isfinite(value):
        raise BadInput("a size in the drawing is not a finite number; read the file again")
    return plain(Decimal(f"{value:.{places}f}"))


def dimension_text(key: Dimension) -> str:
    """Nominal and limits, as written."""
    return f"{key.nominal.written} {key.limits.written}" if key.limits else key.nominal.written


def sizes_text(key: Dimension) -> str:
    """The limits as two sizes in mm; a free side is left open."""
    if key.limits is None:
        return ""
    low, high = (
        plain(key.nominal.mm + side) if side is not None else None
        for side in (key.limits.lower_mm, key.limits.upper_mm)
    )
    if low is None or high is None:
        return f"<= {high}" if low is None else f">= {low}"
    return f"{low} to {high}"


def hole_size(hole: Hole) -> str:
    """The size as cut, in mm: a diameter, or a slot's width by its overall length. Raises BadInput as `figure` does."""
    if not hole.is_slot:
        return f"Ø {figure(hole.diameter_mm, 3)}"
    over = math.dist(hole.core[0], hole.core[1]) + hole.diameter_mm
    return f"slot {figure(hole.diameter_mm, 3)} x {figure(over, 3)}"
