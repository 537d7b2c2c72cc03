"""
The facts as the journal alone says them, followed in memory: what lets something out is judged on these.

The fact tables of the job are not read here, so nobody gains by writing to them. A *snapshot* is these facts at one
entry, as the bytes of a database in memory. It spares following the journal from its first entry and holds only for
the journal seal it was taken at: every row up to there must still hash to that seal.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import chain
from typing import Any, Protocol

from sqlalchemy import Connection, Engine
from sqlmodel import Session

from ledger.domain.errors import Tampered
from ledger.store.chain import Raw, broken_links, raw_rows_at_once
from ledger.store.entries import entries
from ledger.store.replay import Apply, follow_from, require_followed, schema_digest, seal_of
from ledger.store.scratch import in_memory, scratch
from ledger.store.tables import Fact, Permanent, StampFact

_WORTH_KEEPING = 200  # entries that are followed sooner than a snapshot is written down


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The facts just after entry `seq`, whose hash is `seal`; `latest` is the latest time of any entry up to it."""

    seq: int
    seal: str
    latest: str
    data: bytes


class Snapshots(Protocol):
    """Where a snapshot outlasts the session. What is read there is one that this user's programs have written."""

    def read(self) -> Snapshot | None:
        """The snapshot that is kept; None where there is none that can be believed."""

    def write(self, snapshot: Snapshot) -> None:
        """Keep this one from now on. Never raises."""


@dataclass
class Replayed:
    """The facts of one job, followed as far as they were asked for. `snapshots` keeps them beyond the session."""

    apply: Apply
    writer: str
    snapshots: Snapshots | None = None
    _last: Snapshot | None = None

    @contextmanager
    def facts(self, job: Session) -> Iterator[Session]:
        """
        What a session of the job sees, with facts that the journal says; writing facts there changes nothing.

        `info` holds the latest time of any entry that counts ("latest") and the session of the job ("job").

        Raises Tampered where the chain does not hold, or an entry was not allowed where it stands; NewerProgram.
        """
        snapshot = self._last or (self.snapshots.read() if self.snapshots else None)
        snapshot = snapshot if _walked(job, snapshot) else None
        own = job.connection()
        with scratch(snapshot.data if snapshot else b"") as memory:
            binds: dict[Any, Engine | Connection] = {Permanent: own, Fact: memory}
            info = {"job": job, **in_memory(memory)}
            with Session(bind=own, binds=binds, join_transaction_mode="rollback_only", info=info) as both:
                self._last = self._followed(both, memory, snapshot)
                require_followed(both)
                both.info["latest"] = self._last.latest
                yield both

    def _followed(self, both: Session, memory: Connection, snapshot: Snapshot | None) -> Snapshot:
        seq, seal = seal_of(both)
        behind = snapshot.seq if snapshot else 0
        if snapshot and behind == seq:
            return snapshot
        follow_from(both, self.apply, self._stamp, behind)
        both.flush()
        memory.commit()
        latest = max(snapshot.latest if snapshot else "", entries(both).latest)
        data = memory.connection.driver_connection.serialize()  # type: ignore[union-attr]  # sqlite3's own
        made = Snapshot(seq, seal, latest, data)
        if self.snapshots and seq - behind >= _WORTH_KEEPING:
            self.snapshots.write(made)
        return made

    def _stamp(self, seq: int, seal: str) -> StampFact:
        return StampFact(ident=1, schema_digest=schema_digest(), seq=seq, seal=seal, writer=self.writer)


def _walked(job: Session, snapshot: Snapshot | None) -> bool:
    """Whether the chain of the journal holds the row that the snapshot was taken at. Raises Tampered."""
    there = False

    def numbered() -> Iterator[
        list[Raw]
    ]:  # they are numbered from 1: what is below was put in, and is set aside
        nonlocal there
        for rows in raw_rows_at_once(job, 1):
            if snapshot and rows and rows[0].seq <= snapshot.seq <= rows[-1].seq:
                there = any((row.seq, row.hash) == (snapshot.seq, snapshot.seal) for row in rows)
            yield rows

    for found in broken_links(chain.from_iterable(numbered())):
        raise Tampered(f"{found.message}: nothing can be proven from such a journal; see fitup verify")
    return there
