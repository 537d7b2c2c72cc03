"""Every row of the fact tables as text, for comparison."""

from __future__ import annotations

import json

from sqlmodel import select

from ledger.store.tables import FACTS


def dump_facts(facts):
    """Every row of every fact table as text, sorted."""
    return {
        str(table.__tablename__): sorted(
            json.dumps(row.model_dump(warnings=False), sort_keys=True) for row in facts.exec(select(table))
        )
        for table in FACTS
    }
