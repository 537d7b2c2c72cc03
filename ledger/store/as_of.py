"""
The facts as they were: the journal followed anew up to some entries, in a database in memory.

The journal itself and the kept bytes are read where they lie, so nothing is copied; they only ever grew. Where
entries are left out, those that are not are applied without their rules, which may speak of what was left out.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable
from contextlib import suppress
from typing import Any

from sqlalchemy import Connection, Engine
from sqlmodel import Session

from ledger.domain.errors import NoEntry
from ledger.domain.sealed import Sealed
from ledger.store.replay import Apply, sealed_rows
from ledger.store.scratch import in_memory, scratch
from ledger.store.tables import Fact, JournalRow, Permanent


def facts_at(
    facts: Session, apply: Apply, stops: Iterable[int], concerns: Callable[[Sealed], bool] = lambda _row: True
) -> Generator[tuple[int, Session], None, None]:
    """
    The facts just after each of these entries, earliest first, in one run over the journal.

    Each session holds until the next one is asked for. An entry beyond the last one stands for the last. Entries that
    do not concern the question are left out: whoever leaves some out answers for it that no other needs them.
    """
    expected = sorted(set(stops))
    rows = sealed_rows(facts)
    job = facts.connection(bind_arguments={"mapper": JournalRow})
    with scratch() as memory:
        binds: dict[Any, Engine | Connection] = {Permanent: job, Fact: memory}
        info = in_memory(memory)
        with Session(binds=binds, join_transaction_mode="rollback_only", info=info) as past:
            for stop in expected:
                for row in rows:
                    if concerns(row):
                        with suppress(NoEntry):  # set aside, as whenever the journal is followed
                            apply(past, row)
                    if row.seq >= stop:
                        break
                yield stop, past
