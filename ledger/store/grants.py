"""The script that makes a role which may only add to a job on a server; the facts are its own, to rebuild."""

from __future__ import annotations

import re

from ledger.domain.errors import BadInput, visible
from ledger.store.tables import Fact, Permanent

_ROLE = re.compile(r"[a-z_][a-z0-9_]{0,62}")


def grants(role: str) -> str:
    """SQL for the owner of the job's tables to run, once the job was started. Raises BadInput."""
    if not _ROLE.fullmatch(role):
        raise BadInput(
            f"read {visible(role)!r} as a role; expected small letters, figures and _, as in fitup_workstations"
        )
    kept = ", ".join(sorted(Permanent.metadata.tables))
    owned = "\n".join(f"ALTER TABLE {name} OWNER TO {role};" for name in sorted(Fact.metadata.tables))
    return f"""-- What a workstation may do: read and add to the journal and the kept files, and keep the facts.
-- Run it as the owner of the job's tables. Make the role first (CREATE ROLE {role} LOGIN PASSWORD '…'),
-- or give it to each person's own role: GRANT {role} TO mira; ALTER ROLE mira SET role = '{role}';
REVOKE ALL ON {kept} FROM PUBLIC;
REVOKE ALL ON {kept} FROM {role};
GRANT USAGE, CREATE ON SCHEMA public TO {role};
GRANT SELECT, INSERT ON {kept} TO {role};
{owned}
"""
