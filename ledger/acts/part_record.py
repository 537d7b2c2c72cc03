"""The act that records a part or changes its open revision, made of the fields that somebody named."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlmodel import Session

from ledger.acts.base import make
from ledger.acts.counts import counted_again
from ledger.acts.parts import ChangePart, RecordPart, with_said
from ledger.standards.gauges import thickness_text
from ledger.store import facts as read
from ledger.store.exact import as_written
from ledger.store.tables import PartFact

_OF_A_REVISION = ("revision", "place", "reason", "locked")


def part_recorded(facts: Session, number: str, fields: Mapping[str, Any]) -> RecordPart | ChangePart:
    """
    A new part with these fields, or the open revision of a known one with those that are named replaced.

    A thickness by gauge number is kept as the length that it means in the part's material. Raises BadInput.
    """
    newest = max(read.rows(facts, PartFact, number=number), key=lambda r: r.place, default=None)
    fields = with_said({**fields, **_thickness(fields, newest)}, newest)
    if newest is None:
        return make(RecordPart, number=number, **fields)
    old = {n: v for n, v in as_written(newest).items() if n not in _OF_A_REVISION}
    return make(ChangePart, **{**counted_again(old | read.part_values(newest), fields), **fields})


def _thickness(fields: Mapping[str, Any], old: PartFact | None) -> dict[str, str]:
    """The thickness that is written, a gauge as a length. Raises BadInput for a gauge without a material."""
    if not fields.get("thickness"):
        return {}
    stuff = fields.get("material", old.material if old else "")
    return {"thickness": thickness_text(fields["thickness"], stuff)}
