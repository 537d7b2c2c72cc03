"""The script that makes a role which may only add to a job on a server, and write the facts that follow from it."""

from __future__ import annotations

import re

from ledger.domain.errors import BadInput, visible
from ledger.store.server_schema import ADDING, SCHEMA
from ledger.store.tables import Fact, Permanent

_ROLE = re.compile(r"[a-z_][a-z0-9_]{0,62}")


def grants(role: str) -> str:
    """SQL for the owner of the job's tables to run, once the job was started. Raises BadInput."""
    if not _ROLE.fullmatch(role):
        raise BadInput(
            f"read {visible(role)!r} as a role; expected small letters, figures and _, as in fitup_workstations"
        )
    kept = ", ".join(f"{SCHEMA}.{name}" for name in sorted(Permanent.metadata.tables))
    facts = ",\n    ".join(f"{SCHEMA}.{name}" for name in sorted(Fact.metadata.tables))
    adding = ",\n    ".join(ADDING)
    return f"""-- What a workstation may do: read, write facts, and add the next entry and kept files, through
-- two functions that take nothing else. Run it as the owner of the job, and again for a role that was given more.
-- Make the role first (CREATE ROLE {role} LOGIN PASSWORD '…'),
-- or give it to each person's own role: GRANT {role} TO mira; ALTER ROLE mira SET role = '{role}';
REVOKE CREATE ON SCHEMA public FROM PUBLIC;
REVOKE ALL ON SCHEMA {SCHEMA} FROM PUBLIC, {role};
REVOKE ALL ON ALL TABLES IN SCHEMA {SCHEMA} FROM PUBLIC, {role};
REVOKE ALL ON ALL FUNCTIONS IN SCHEMA {SCHEMA} FROM PUBLIC, {role};
GRANT USAGE ON SCHEMA {SCHEMA} TO {role};
GRANT SELECT ON {kept} TO {role};
GRANT SELECT, INSERT, UPDATE, DELETE ON
    {facts} TO {role};
GRANT EXECUTE ON FUNCTION {adding} TO {role};
"""
