"""
Where a job lies: a file for one machine, or a PostgreSQL database that several workstations share.

A *place* is a file's path (or sqlite:///path), or a postgresql+psycopg:// address. SQLite's journal needs memory
that every workstation shares, which no network drive has: a file there is refused.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, TypeVar
from urllib.parse import quote

from sqlalchemy import URL, Engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError
from sqlmodel import create_engine

from ledger.domain.address import file_of, shown
from ledger.domain.errors import BadInput, FitupError, Unreadable, visible
from ledger.store.drives import network_kind
from ledger.store.server_schema import SCHEMA, SEARCHED

T = TypeVar("T")
_LOGS = ("-wal", "-journal")  # what a database keeps beside its file and reads with it
_TRIES = 4
PATIENCE = "10s"  # so long a workstation queues for its turn on a server
_PRAGMAS = (
    "synchronous=FULL",
    "foreign_keys=ON",
    "recursive_triggers=ON",
    "trusted_schema=OFF",
    "cell_size_check=ON",
    "busy_timeout=10000",
)


def connect(place: str, *, create: bool = False) -> Engine:
    """
    The engine for a job; of a file that may only be read, or lies where nothing may be written, a copy of it is read.

    Raises BadInput where there is none (or one already), Unreadable for another kind of file.
    """
    path = _file(place)
    if path is None:
        return _to_server(place)
    _require_place(path, create=create)
    _refuse_network(path)
    if not create and not may_write(path):
        return copied(path)
    engine = create_engine(f"sqlite:///{path}", connect_args={"check_same_thread": False})
    event.listen(engine, "connect", _prepare)
    event.listen(engine, "begin", _begin)
    return engine


def undisturbed(place: str, work: Callable[[Engine], T]) -> T:
    """
    What `work` finds in a job of which it changes no byte, nor anything in its folder.

    Without a log beside it, a file is read as it lies there; with one, a copy of both is read, since the database
    itself would tidy up. Where another program writes meanwhile it is done again, and at last beside that program.
    """
    path = _file(place)
    if path is not None:
        _require_place(path, create=False)
        for _ in range(_TRIES):
            before = _marks(path)
            engine = copied(path) if _logs(path) else _as_it_lies(path)
            try:
                found = work(engine)
            except FitupError:
                if _marks(path) == before:
                    raise
                continue
            finally:
                engine.dispose()
            if _marks(path) == before:
                return found
    engine = connect(place)
    try:
        return work(engine)
    finally:
        engine.dispose()


def copied(path: Path) -> Engine:
    """The engine of a copy of a job's file, which is gone when the engine is disposed of. Raises Unreadable."""
    folder = TemporaryDirectory(prefix="fitup-")
    copy = Path(folder.name) / "job.db"
    try:
        for _ in range(_TRIES):
            before = _marks(path)
            for end in ("", *_LOGS):
                if Path(f"{path}{end}").exists():
                    shutil.copyfile(f"{path}{end}", f"{copy}{end}")
            if _marks(path) == before:
                break
    except OSError as fault:
        folder.cleanup()
        raise Unreadable(f"cannot read {visible(str(path))}: {fault.strerror}") from fault
    engine = create_engine(f"sqlite:///{copy}", connect_args={"check_same_thread": False})
    event.listen(engine, "connect", _prepare_to_look)
    event.listen(engine, "begin", _begin)
    event.listen(engine, "engine_disposed", lambda _engine: folder.cleanup())
    return engine


def may_write(path: Path) -> bool:
    """Whether a job's file can be written, and its log beside it."""
    return os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)


def _file(place: str) -> Path | None:
    """The job's file itself, where the place is a link to it: its log lies beside the file, not beside the link."""
    path = file_of(place)
    return Path(os.path.realpath(path)) if path is not None and path.is_symlink() else path


def _as_it_lies(path: Path) -> Engine:
    """The engine of a file that nobody has open: no lock is taken and no log made."""
    name = f"file:{quote(str(path.absolute()))}"
    how = {"mode": "ro", "immutable": "1", "uri": "true"}
    engine = create_engine(
        URL.create("sqlite", database=name, query=how), connect_args={"check_same_thread": False}
    )
    event.listen(engine, "connect", _prepare_to_look)
    event.listen(engine, "begin", _begin)
    return engine


def _logs(path: Path) -> bool:
    """Whether a log with something in it lies beside a job's file."""
    return any(mark and mark[0] for mark in _marks(path)[1:])


def _marks(path: Path) -> tuple[tuple[int, int, int] | None, ...]:
    """Size, time and number of a job's file and of what lies beside it."""
    found: list[tuple[int, int, int] | None] = []
    for end in ("", *_LOGS):
        try:
            seen = Path(f"{path}{end}").stat()
            found.append((seen.st_size, seen.st_mtime_ns, seen.st_ino))
        except OSError:
            found.append(None)
    return tuple(found)


def _require_place(path: Path, *, create: bool) -> None:
    if create and path.exists():
        raise BadInput(f"{visible(str(path))} is there already; name another file with --job")
    if create and not path.parent.is_dir():
        raise BadInput(
            f"there is no folder {visible(str(path.parent))}: make it, or name another file with --job"
        )
    if not create and not path.is_file():
        raise BadInput(
            f"no job at {visible(str(path))}; start one with: fitup start TITLE, or name it with --job"
        )
    if not create and not _is_database(path):
        raise Unreadable(f"{visible(str(path))} is not a job: it does not begin like a database")


def _to_server(place: str) -> Engine:
    try:
        url = make_url(place)
        if url.drivername != "postgresql+psycopg":
            raise BadInput(f"{shown(place)}: expected a file, or postgresql+psycopg://USER@HOST/DATABASE")
        engine = create_engine(
            url,
            pool_pre_ping=True,
            connect_args={"connect_timeout": 10},
            use_native_hstore=False,  # it would be looked for before anything else is said
            execution_options={"schema_translate_map": {None: SCHEMA}},
        )
    except ModuleNotFoundError as fault:
        raise BadInput("a shared job needs the package psycopg: pip install 'fitup[server]'") from fault
    except (ArgumentError, ValueError, DBAPIError) as fault:
        raise BadInput(f"{shown(place)} does not read as an address of a job") from fault
    event.listen(engine, "connect", _prepare_on_server, insert=True)
    return engine


def _prepare_on_server(connection: Any, _record: Any) -> None:
    """
    Before anything else is asked: names and operators are looked for where nobody but the server's owner makes any.

    And how long a workstation queues for its turn.
    """
    connection.execute(f"SET search_path = {SEARCHED}")
    connection.execute(f"SET lock_timeout = '{PATIENCE}'")
    connection.commit()


def _is_database(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return file.read(16) == b"SQLite format 3\0"
    except OSError as fault:
        raise Unreadable(f"cannot read {visible(str(path))}: {fault.strerror}") from fault


def _prepare(connection: Any, _record: Any) -> None:
    _distrust(connection)
    (mode,) = connection.execute("PRAGMA journal_mode=WAL").fetchone()
    if mode not in ("wal", "memory"):
        raise BadInput(f"the disk under this job allows no write-ahead log (it gives {mode}): {_ELSEWHERE}")


def _prepare_to_look(connection: Any, _record: Any) -> None:
    _distrust(connection)
    connection.execute("PRAGMA query_only=ON")


def _distrust(connection: Any) -> None:
    connection.isolation_level = None
    # Since Python 3.12: then no statement here can write over the rows of the schema itself.
    if hasattr(connection, "setconfig"):
        connection.setconfig(sqlite3.SQLITE_DBCONFIG_DEFENSIVE, True)  # type: ignore[attr-defined,unused-ignore]  # noqa: FBT003 - it takes no name
    for pragma in _PRAGMAS:
        connection.execute(f"PRAGMA {pragma}")


def _begin(connection: Any) -> None:
    connection.exec_driver_sql(connection.get_execution_options().get("fitup_begin", "BEGIN"))


_ELSEWHERE = (
    "keep the job on a disk of this machine, or share it on a server with --job postgresql+psycopg://…"
)


def _refuse_network(path: Path) -> None:
    kind = network_kind(path)
    if kind:
        raise BadInput(
            f"{visible(str(path))} is on a network drive ({kind}), where two workstations can lose what "
            f"they write: {_ELSEWHERE}"
        )
