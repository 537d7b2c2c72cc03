"""Vendors as facts."""

from __future__ import annotations

import json
from typing import Any

from sqlmodel import Session, select

from ledger.domain.vendor import LISTS, Vendor
from ledger.store.tables import VendorFact


def vendors(facts: Session) -> tuple[Vendor, ...]:
    """Every vendor that is recorded, by name."""
    rows = sorted(facts.exec(select(VendorFact)).all(), key=lambda r: r.name)
    return tuple(map(_vendor, rows))


def _vendor(row: VendorFact) -> Vendor:
    said: dict[str, Any] = row.model_dump()
    said |= {name: tuple(json.loads(said[name])) for name in LISTS}
    return Vendor(**said)
