"""
The shop's database: opening, writing one entry at a time, following the journal, verifying it.

Only the journal and the blobs are permanent and only grow; triggers refuse anything else. Fact tables are dropped
and rebuilt by replay whenever another program's schema, or a shorter journal, wrote them. Writing takes the lock
at once (BEGIN IMMEDIATE), so that two programs never judge the same state.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, event, text
from sqlalchemy.exc import DatabaseError, IntegrityError, OperationalError
from sqlalchemy.schema import CreateTable
from sqlmodel import Session, create_engine, select

from ledger.domain.canonical import canonical, sha256
from ledger.domain.errors import BadInput, FitupError, ShopBusy, Tampered, Unreadable, visible
from ledger.store.sealed import START, Sealed, row_hash
from ledger.store.tables import FACTS, BlobRow, Fact, JournalRow, Permanent, StampFact

Apply = Callable[[Session, Sealed], None]
Clock = Callable[[], datetime]

_PRAGMAS = (
    "journal_mode=WAL",
    "synchronous=FULL",
    "foreign_keys=ON",
    "recursive_triggers=ON",
    "trusted_schema=OFF",
    "busy_timeout=10000",
)
TRIGGERS = {
    "journal_grows_by_one": """CREATE TRIGGER journal_grows_by_one BEFORE INSERT ON journal BEGIN
        SELECT RAISE(ABORT, 'the journal only grows by its next entry')
        WHERE NEW.seq <> (SELECT COALESCE(MAX(seq), 0) + 1 FROM journal)
           OR EXISTS (SELECT 1 FROM journal WHERE hash = NEW.hash OR previous = NEW.previous); END""",
    "journal_keeps": """CREATE TRIGGER journal_keeps BEFORE UPDATE ON journal BEGIN
        SELECT RAISE(ABORT, 'the journal is never changed'); END""",
    "journal_stays": """CREATE TRIGGER journal_stays BEFORE DELETE ON journal BEGIN
        SELECT RAISE(ABORT, 'the journal is never shortened'); END""",
    "blob_once": """CREATE TRIGGER blob_once BEFORE INSERT ON blob BEGIN
        SELECT RAISE(ABORT, 'kept bytes are written once')
        WHERE EXISTS (SELECT 1 FROM blob WHERE sha256 = NEW.sha256); END""",
    "blob_keeps": """CREATE TRIGGER blob_keeps BEFORE UPDATE ON blob BEGIN
        SELECT RAISE(ABORT, 'kept bytes are never changed'); END""",
    "blob_stays": """CREATE TRIGGER blob_stays BEFORE DELETE ON blob BEGIN
        SELECT RAISE(ABORT, 'kept bytes are never removed'); END""",
}


def now() -> datetime:
    """The present moment, UTC."""
    return datetime.now(UTC)


class Store:
    """One shop's database. `apply` brings one journal row to the facts; it comes from above."""

    def __init__(self, engine: Engine, apply: Apply, writer: str, clock: Clock = now) -> None:
        self.engine = engine
        self.clock = clock
        self.mine: set[str] = set()  # hashes of the rows that this store wrote, to tell them from others'
        self._apply = apply
        self._writer = writer

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A session that sees one state of the shop and writes nothing."""
        with self._session("BEGIN") as facts:
            yield facts

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """
        A session that holds the shop until it ends; an exception leaves everything as it was.

        Raises ShopBusy when another program holds it, or when a program with other tables has rebuilt it.
        """
        with self._session("BEGIN IMMEDIATE") as facts:
            self._stamp_is_ours(facts)
            yield facts
            facts.commit()

    def append(
        self, facts: Session, *, shop: str, by: str, act: dict[str, Any], signature: str = ""
    ) -> Sealed:
        """Write one entry behind the last, bring it to the facts and move the stamp. Inside `writing` only."""
        last = facts.exec(select(JournalRow).order_by(JournalRow.seq.desc()).limit(1)).first()  # type: ignore[attr-defined]  # a column at run time
        seq, previous = (last.seq + 1, last.hash) if last else (1, START)
        at = self.clock().astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
        body = canonical({"shop": shop, "seq": seq, "at": at, "by": by, "program": self._writer, "act": act})
        sealed = Sealed(seq, previous, body, row_hash(previous, body, signature), signature)
        facts.add(JournalRow(seq=seq, previous=previous, body=body, hash=sealed.hash, signature=signature))
        facts.flush()
        self.mine.add(sealed.hash)
        self._apply(facts, sealed)
        facts.merge(self._stamp(seq, sealed.hash))
        facts.flush()
        return sealed

    def keep(self, facts: Session, data: bytes) -> str:
        """Keep bytes under their digest; the same bytes are kept once."""
        digest = sha256(data)
        if facts.get(BlobRow, digest) is None:
            facts.add(BlobRow(sha256=digest, data=data))
            facts.flush()
        return digest

    def rebuild_if_needed(self) -> None:
        """Follow the journal anew where the fact tables are not this program's, or not up to the last entry."""
        with self.reading() as facts:
            if self._is_current(facts):
                return
        with self._session("BEGIN IMMEDIATE") as facts:
            if not self._is_current(facts):
                rebuild(facts, self._apply, self._stamp)
            facts.commit()

    def _is_current(self, facts: Session) -> bool:
        have = {
            n
            for (n,) in facts.connection().execute(
                text("SELECT name FROM sqlite_master WHERE type = 'table'")
            )
        }
        if not {t.name for t in Fact.metadata.tables.values()} <= have:
            return False
        stamp = facts.get(StampFact, 1)
        if stamp is None or stamp.schema_digest != schema_digest():
            return False
        seq, head = head_of(facts)
        if stamp.seq > seq:
            raise Tampered(
                f"the journal ends at entry {seq}, but entry {stamp.seq} was here once; restore the newer copy"
            )
        return (stamp.seq, stamp.head) == (seq, head)

    def _stamp(self, seq: int, head: str) -> StampFact:
        return StampFact(ident=1, schema_digest=schema_digest(), seq=seq, head=head, writer=self._writer)

    def _stamp_is_ours(self, facts: Session) -> None:
        stamp = facts.get(StampFact, 1)
        if stamp is None or stamp.schema_digest != schema_digest():
            raise ShopBusy(
                "another version of the program has opened this shop meanwhile; close one and open it again"
            )

    @contextmanager
    def _session(self, begin: str) -> Iterator[Session]:
        try:
            with Session(self.engine.execution_options(fitup_begin=begin)) as facts:
                yield facts
        except IntegrityError as fault:
            raise ShopBusy(
                f"another program changed the shop meanwhile ({fault.orig}); nothing was written, try again"
            ) from fault
        except OperationalError as fault:
            raise _operational(fault) from fault
        except DatabaseError as fault:
            raise Tampered(
                f"the shop's file does not hold together ({fault.orig}); restore it from a copy"
            ) from fault


def _operational(fault: OperationalError) -> FitupError:
    said = str(fault.orig)
    if "locked" in said or "busy" in said:
        return ShopBusy("another program is writing to this shop; nothing was written, try again in a moment")
    if "full" in said or "disk I/O" in said:
        return FitupError(f"the disk refused ({said}); nothing was written: make room and try again")
    if "readonly" in said:
        return BadInput("the shop's file may only be read here; nothing was written")
    return FitupError(f"the database refused ({said}); nothing was written")


def connect(place: str, *, create: bool = False) -> Engine:
    """
    The engine for a shop's file.

    Raises BadInput where there is none (or one already), Unreadable for another kind of file.
    """
    if "://" in place and not place.startswith("sqlite:///"):
        raise BadInput(f"{visible(place)}: this version keeps a shop in a file; name one, such as fitup.db")
    path = Path(place.removeprefix("sqlite:///"))
    if create and path.exists():
        raise BadInput(f"{visible(str(path))} is there already; name another file with --shop")
    if not create and not path.is_file():
        raise BadInput(
            f"no shop at {visible(str(path))}; start one with: fitup start TITLE, or name it with --shop"
        )
    if not create and not _is_database(path):
        raise Unreadable(f"{visible(str(path))} is not a shop: it does not begin like a database")
    engine = create_engine(f"sqlite:///{path}", connect_args={"check_same_thread": False})
    event.listen(engine, "connect", _prepare)
    event.listen(engine, "begin", _begin)
    return engine


def _is_database(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return file.read(16) == b"SQLite format 3\0"
    except OSError as fault:
        raise Unreadable(f"cannot read {visible(str(path))}: {fault.strerror}") from fault


def _prepare(connection: Any, _record: Any) -> None:
    connection.isolation_level = None
    for pragma in _PRAGMAS:
        connection.execute(f"PRAGMA {pragma}")


def _begin(connection: Any) -> None:
    connection.exec_driver_sql(connection.get_execution_options().get("fitup_begin", "BEGIN"))


def create_tables(engine: Engine) -> None:
    """The permanent tables with their triggers, and empty fact tables."""
    Permanent.metadata.create_all(engine)
    Fact.metadata.create_all(engine)
    with engine.begin() as connection:
        for trigger in TRIGGERS.values():
            connection.exec_driver_sql(trigger)


def rebuild(facts: Session, apply: Apply, stamp: Callable[[int, str], StampFact]) -> None:
    """Drop every fact table and follow the journal from its first entry."""
    connection = facts.connection()
    Fact.metadata.drop_all(connection)
    Fact.metadata.create_all(connection)
    seq, head = 0, START
    for row in sealed_rows(facts):
        try:
            apply(facts, row)
        except Exception as fault:
            raise Tampered(
                f"the journal cannot be followed past entry {row.seq} ({fault}); fitup verify says what is wrong"
            ) from fault
        seq, head = row.seq, row.hash
    facts.merge(stamp(seq, head))
    facts.flush()


def sealed_rows(facts: Session) -> Iterator[Sealed]:
    """Every row of the journal in order."""
    for row in facts.exec(select(JournalRow).order_by(JournalRow.seq)).all():  # type: ignore[arg-type]  # a column at run time
        yield Sealed(row.seq, row.previous, row.body, row.hash, row.signature)


def head_of(facts: Session) -> tuple[int, str]:
    """Sequence number and hash of the last row."""
    last = facts.exec(select(JournalRow).order_by(JournalRow.seq.desc()).limit(1)).first()  # type: ignore[attr-defined]  # a column at run time
    return (last.seq, last.hash) if last else (0, START)


@cache
def schema_digest() -> str:
    """What the fact tables of this program look like."""
    tables = sorted(str(CreateTable(t)) for t in Fact.metadata.tables.values())
    return hashlib.sha256("\n".join(tables).encode()).hexdigest()


def dump_facts(facts: Session) -> dict[str, list[str]]:
    """Every row of every fact table as text, sorted, for comparison."""
    out: dict[str, list[str]] = {}
    for table in FACTS:
        found = facts.exec(select(table)).all()
        out[str(table.__tablename__)] = sorted(json.dumps(row.model_dump(), sort_keys=True) for row in found)
    return out
