"""How many of a part are ordered, in words."""

from __future__ import annotations

from ledger.domain.record import Part


def count_text(part: Part) -> str:
    """How many are ordered, and how that was counted."""
    if part.quantity is None:
        return ""
    if part.per_assembly is None:
        return str(part.quantity)
    return f"{part.quantity}: {counted_text(part)}"


def counted_text(part: Part) -> str:
    """Pieces for each assembly, assemblies and spares, where they were counted so."""
    if part.per_assembly is None:
        return ""
    assemblies = part.assemblies or 1
    words = f"{part.per_assembly} x {assemblies} {'assembly' if assemblies == 1 else 'assemblies'}"
    return f"{words} + {part.spares} spare" if part.spares else words
