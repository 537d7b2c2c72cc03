"""
The job's database: reading it at one state, writing one entry at a time.

Only the journal and the kept files are permanent and only grow; guards refuse anything else. Fact tables are dropped
and rebuilt by replay whenever another program's schema, or a shorter journal, wrote them. On SQLite writing takes
the lock at once (BEGIN IMMEDIATE); on PostgreSQL workstations queue for a lock of their own and then write under
SERIALIZABLE, so that two programs never judge the same state.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Engine, text
from sqlalchemy.exc import DBAPIError
from sqlmodel import Session, select

from ledger.domain.canonical import canonical, sha256
from ledger.domain.errors import BadInput, FitupError, JobBusy, Tampered
from ledger.domain.finding import Finding
from ledger.domain.sealed import Sealed, check_signature, row_hash, signed_statement
from ledger.store.entries import newest_body
from ledger.store.faults import in_our_words
from ledger.store.guards import guard_findings, unwritable, wrong_tables
from ledger.store.permanent import add_entry, keep_file
from ledger.store.replay import (
    Apply,
    follow_from,
    rebuild,
    require_followed,
    schema_digest,
    seal_of,
    stopped_at,
)
from ledger.store.rows import put_row
from ledger.store.snapshot import Replayed
from ledger.store.tables import Fact, KeptFileRow, Permanent, StampFact
from ledger.store.verify import problems

Clock = Callable[[], datetime]
_QUEUE = "1718187125, 1"  # what seats of a job on a server queue for


def now() -> datetime:
    """The present moment, UTC."""
    return datetime.now(UTC)


class Store:
    """One job's database. `apply` brings one journal row to the facts; it comes from above."""

    def __init__(self, engine: Engine, apply: Apply, writer: str, clock: Clock = now) -> None:
        self.engine = engine
        self.clock = clock
        self.mine: set[str] = set()  # hashes of the rows that this store wrote, to tell them from others'
        self._apply = apply
        self._writer = writer
        self._beside: Engine | None = None
        self.replayed = Replayed(apply, writer)

    @contextmanager
    def replaying(self) -> Iterator[Session]:
        """
        A session that sees one state of the job with the facts that its journal says; the fact tables are not read.

        Raises Tampered where the journal does not hold together.
        """
        with self._session(_READING) as job, self.replayed.facts(job) as facts:
            yield facts

    def today(self, facts: Session) -> str:
        """
        Today, as YYYY-MM-DD in UTC: what the clock says, unless an entry is later. So a clock that was set back revives
        no permit. Of facts that were replayed every entry counts, else the newest.
        """
        latest = facts.info.get("latest")
        if latest is None:
            newest = newest_body(facts)
            latest = newest.at if newest else ""
        return max(self.clock().astimezone(UTC).date().isoformat(), latest[:10])

    @contextmanager
    def reading(self, *, beside: bool = True) -> Iterator[Session]:
        """A session that sees one state of the job and writes nothing; `beside` False: the job's own tables."""
        with self._session(_READING) as facts:
            if self._beside is None or not beside:
                yield facts
                return
            binds: dict[Any, Engine | Connection] = {Permanent: facts.connection(), Fact: self._beside}
            with Session(binds=binds, join_transaction_mode="rollback_only") as both:
                self._catch_up(both)
                yield both

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """
        A session that holds the job until it ends; an exception leaves everything as it was.

        Raises JobBusy when another program holds it, or when a program with other tables has rebuilt it; Tampered
        when the guards of the permanent tables are not as they were made, or an entry was not allowed.
        """
        with self._alone(), self._session(_WRITING) as facts:
            self._stamp_is_ours(facts)
            require_guards(facts, guard_findings)
            self._at_the_last_entry(facts)
            yield facts
            self.commit(facts)

    @contextmanager
    def filling(self) -> Iterator[Session]:
        """A session on a new job that nothing was written to; an exception leaves it empty."""
        with self._alone(), self._session(_WRITING, begun=False) as facts:
            if seal_of(facts)[0]:
                raise JobBusy("this job has entries already; bring the other one into a new one")
            yield facts
            self.commit(facts)

    def rebuild_in(self, facts: Session) -> None:
        """Follow the journal from its first entry within this session. Raises Tampered, NewerProgram."""
        rebuild(facts, self._apply, self._stamp)

    def append(
        self, facts: Session, *, job: str, by: str, act: dict[str, Any], signature: str = ""
    ) -> Sealed:
        """
        Write one entry behind the last, bring it to the facts and move the stamp. Inside `writing` only.

        Raises BadInput for what is not allowed there: once written, nothing behind it would ever count.
        """
        if signature and not check_signature(str(act.get("key")), signed_statement(job, act), signature):
            raise BadInput("the signature does not hold with the key it names; nothing was written")
        last, previous = seal_of(facts)
        seq = last + 1
        at = self.clock().astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
        body = canonical({"job": job, "seq": seq, "at": at, "by": by, "program": self._writer, "act": act})
        sealed = Sealed(seq, previous, body, row_hash(previous, body, signature), signature)
        add_entry(facts, sealed)
        self.mine.add(sealed.hash)
        self._apply(facts, sealed)
        put_row(facts, self._stamp(seq, sealed.hash))
        return sealed

    def keep(self, facts: Session, data: bytes) -> str:
        """Keep bytes under their digest; the same bytes are kept once."""
        digest = sha256(data)
        if facts.exec(select(KeptFileRow.sha256).where(KeptFileRow.sha256 == digest)).first() is None:
            keep_file(facts, digest, data)
        return digest

    def rebuild_if_needed(self) -> None:
        """Follow the journal anew where the fact tables are not this program's, or not up to the last entry."""
        with self.reading() as facts:
            if self.is_current(facts):
                return
        with self._alone(), self._session(_WRITING) as facts:
            require_guards(facts, unwritable)
            if not self.is_current(facts):
                rebuild(facts, self._apply, self._stamp)
            self.commit(facts)

    def is_current(self, facts: Session) -> bool:
        """Whether the fact tables are this program's and stand at the last entry. Raises Tampered for a cut tail."""
        if wrong_tables(facts.connection()):
            return False
        stamp = facts.get(StampFact, 1)
        if stamp is None or stamp.schema_digest != schema_digest() or type(stamp.seq) is not int:
            return False
        seq, seal = seal_of(facts)
        if stamp.seq > seq:
            raise Tampered(
                f"the journal ends at entry {seq}, but entry {stamp.seq} was here once; restore the newer copy"
            )
        return (stamp.seq, stamp.seal) == (seq, seal)

    def read_beside(self) -> None:
        """
        From now on read facts that are followed in memory: the tables in the job are another program's and stay.

        Raises NewerProgram where an entry is beyond this program.
        """
        from sqlalchemy.pool import StaticPool
        from sqlmodel import create_engine

        self._beside = create_engine(
            "sqlite://", poolclass=StaticPool, connect_args={"check_same_thread": False}
        )
        Fact.metadata.create_all(self._beside)
        with self.reading():
            pass

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()
        if self._beside is not None:
            self._beside.dispose()

    def _catch_up(self, both: Session) -> None:
        stamp = both.get(StampFact, 1)
        seq = stamp.seq if stamp else 0
        if seal_of(both)[0] > seq and not stopped_at(both):
            follow_from(both, self._apply, self._stamp, seq)
            both.commit()

    def _stamp(self, seq: int, seal: str) -> StampFact:
        return StampFact(ident=1, schema_digest=schema_digest(), seq=seq, seal=seal, writer=self._writer)

    def _stamp_is_ours(self, facts: Session) -> None:
        stamp = facts.get(StampFact, 1)
        if stamp is None or stamp.schema_digest != schema_digest():
            raise JobBusy(
                "another version of the program has opened this job meanwhile; close one and open it again"
            )

    def _at_the_last_entry(self, facts: Session) -> None:
        """Follow what was written meanwhile by other means than ours. Raises Tampered where that was not allowed."""
        stamp = facts.get_one(StampFact, 1)
        if (stamp.seq, stamp.seal) != seal_of(facts):
            facts.expunge_all()  # its row is written anew, and what is held of it would be looked for in vain
            rebuild(facts, self._apply, self._stamp)
        require_followed(facts)

    @contextmanager
    def _alone(self) -> Iterator[None]:
        """On a server: queue for the workstations' lock before the transaction begins, so that it sees the last one."""
        if self.engine.dialect.name == "sqlite":
            yield
            return
        try:
            with self.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as holder:
                holder.execute(text(f"SELECT pg_advisory_lock({_QUEUE})"))
                try:
                    yield
                finally:
                    try:
                        holder.execute(text(f"SELECT pg_advisory_unlock({_QUEUE})"))
                    except DBAPIError:
                        holder.invalidate()
        except DBAPIError as fault:
            raise in_our_words(fault) from fault

    @contextmanager
    def _session(self, how: dict[str, Any], *, begun: bool = True) -> Iterator[Session]:
        expected = {
            k: v for k, v in how.items() if k.startswith("fitup") or self.engine.dialect.name != "sqlite"
        }
        try:
            with Session(self.engine.execution_options(**expected)) as facts:
                try:
                    yield facts
                except (FitupError, DBAPIError):
                    raise
                except Exception as fault:
                    if begun:
                        self._lay_to_the_job(facts, fault)
                    raise
        except DBAPIError as fault:
            raise in_our_words(fault) from fault

    def _lay_to_the_job(self, facts: Session, fault: Exception) -> None:
        """Something unforeseen came up: raise Tampered where the job itself does not hold together."""
        wrong = None
        with suppress(Exception):  # what is looked into here must not hide what came up
            wrong = next((f for f in problems(facts, self._apply) if f.severity == "stop"), None)
        if wrong is not None:
            raise Tampered(
                f"{wrong.message}: such a job cannot be worked with; fitup verify says all that is wrong"
            ) from fault

    @staticmethod
    def commit(facts: Session) -> None:
        """The last word of a session. Raises Uncertain where the connection was lost while it was spoken."""
        try:
            facts.commit()
        except DBAPIError as fault:
            facts.invalidate()  # a connection whose last word failed may still hold the job
            raise in_our_words(fault, committing=True) from fault


_READING = {"fitup_begin": "BEGIN", "isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
_WRITING = {"fitup_begin": "BEGIN IMMEDIATE", "isolation_level": "SERIALIZABLE", "postgresql_readonly": False}


def require_guards(facts: Session, look: Callable[[Connection], Iterator[Finding]]) -> None:
    """Raise Tampered unless what is looked at is as it was made, and nothing else is there."""
    for found in look(facts.connection()):
        raise Tampered(
            f"{found.message}: nothing is written to such a job; see fitup verify, then make a sound one of it "
            "with fitup export and fitup import"
        )
