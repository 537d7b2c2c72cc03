"""From rows of fact tables to what is known of bending: bends, hole groups with what they are placed from, vendors."""

from __future__ import annotations

import json
from collections.abc import Iterable
from decimal import Decimal

from ledger.domain.bend import Bend, BendData
from ledger.domain.quantity import Length
from ledger.domain.record import HoleGroup
from ledger.standards.materials import same_material
from ledger.store.exact import length, some_length
from ledger.store.tables import BendDataFact, BendFact, GroupFact, GroupReferenceFact, PartFact


def bend_of(row: BendFact) -> Bend:
    """A bend as stated."""
    a, b = (tuple(float(v) for v in end) for end in json.loads(row.line))
    return Bend(
        label=row.label,
        line=((a[0], a[1]), (b[0], b[1])),
        angle=Decimal(row.angle),
        direction=row.direction,
        k_factor=Decimal(row.k_factor) if row.k_factor else None,
        **{n: length(row, n) for n in ("radius", "allowance", "deduction", "tolerance")},
    )


def groups_of(groups: Iterable[GroupFact], references: Iterable[GroupReferenceFact]) -> tuple[HoleGroup, ...]:
    """Hole groups with what they are placed from."""
    placed_from = {r.name: r.reference for r in references}
    return tuple(HoleGroup(g.name, tuple(json.loads(g.labels)), placed_from.get(g.name, "")) for g in groups)


def bend_data_of(part: PartFact, said: Iterable[BendDataFact], locked_at: int | None) -> BendData | None:
    """What a vendor, who said all this in that order, bends a part's stock with: said last, and before its lock."""
    thick = length(part, "thickness")
    if thick is None:
        return None
    known = [f for f in said if locked_at is None or f.seq < locked_at]
    last = next((f for f in reversed(known) if _same_stock(f, part.material, thick)), None)
    if last is None:
        return None
    return BendData(last.vendor, length(last, "radius"), Decimal(last.k_factor) if last.k_factor else None)


def last_said(said: Iterable[BendDataFact]) -> tuple[BendDataFact, ...]:
    """What each vendor said last of each stock, by vendor and material."""
    last: list[BendDataFact] = []
    for row in sorted(said, key=lambda f: f.seq, reverse=True):
        if not any(
            f.vendor == row.vendor and _same_stock(f, row.material, some_length(row, "thickness"))
            for f in last
        ):
            last.append(row)
    return tuple(sorted(last, key=lambda f: (f.vendor, f.material, f.thickness)))


def _same_stock(row: BendDataFact, material: str, thickness: Length) -> bool:
    return same_material(row.material, material) and some_length(row, "thickness").mm == thickness.mm
