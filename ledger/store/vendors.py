"""Vendors as facts."""

from __future__ import annotations

import json

from sqlmodel import Session, select

from ledger.domain.vendor import Vendor
from ledger.store.tables import VendorFact


def vendors(facts: Session) -> tuple[Vendor, ...]:
    """Every vendor that is recorded, by name."""
    rows = facts.exec(select(VendorFact)).all()
    return tuple(
        Vendor(
            row.name,
            tuple(json.loads(row.processes)),
            row.lead_days,
            tuple(json.loads(row.weekdays)),
            tuple(json.loads(row.days_off)),
        )
        for row in sorted(rows, key=lambda r: r.name)
    )
