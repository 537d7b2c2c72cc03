"""
What was worked out of a job, kept beside it: one SQLite file a job in the user's cache folder.

Nothing in it counts: it may be lost, damaged or unwritable at any time, which costs time only. A *row* is a value under
a room and a key, with a seal over all of them and the job, so that one that was edited or is another job's is no row.
Each reading and writing is a short transaction, so that two workstations on one machine share the file. When it grows
too large, the rows that were not used for longest go.
"""

from __future__ import annotations

import hashlib
import json
import logging
import os
import sqlite3
import time
from collections.abc import Callable, Collection, Mapping
from pathlib import Path
from typing import Any, Final, TypeVar

_LOG = logging.getLogger(__name__)
_FORM: Final = 1
_MOST_BYTES: Final = 200_000_000
_BUSY_S: Final = 1.0
_DAY_S: Final = 86_400
_TABLE: Final = """CREATE TABLE IF NOT EXISTS kept (
    room TEXT NOT NULL, key TEXT NOT NULL, value NOT NULL, seal NOT NULL, day INTEGER NOT NULL,
    PRIMARY KEY (room, key))"""
_NO_DAMAGE: Final = {
    sqlite3.SQLITE_BUSY,
    sqlite3.SQLITE_LOCKED,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_PERM,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_FULL,
}

T = TypeVar("T")


def cache_folder() -> Path:
    """Where it is kept: FITUP_CACHE, else the user's cache folder."""
    stated = os.environ.get("FITUP_CACHE")
    if stated:
        return Path(stated)
    from platformdirs import user_cache_path

    return user_cache_path("fitup", appauthor=False)


def cache_file(job: str) -> Path:
    """The file of a job."""
    return cache_folder() / f"{hashlib.sha256(job.encode()).hexdigest()[:24]}.sqlite"


class Cache:
    """
    What is kept of one job. Never raises: what cannot be read is nothing, what cannot be written is not kept.

    After a fault it is left alone until it is closed, so that a file held by another program is waited for once.
    """

    def __init__(self, job: str) -> None:
        self._job = job
        self._open: sqlite3.Connection | None = None
        self._left_alone = False

    def read(self, room: str, key: str) -> Any:
        """The value that is kept there; None where there is none, or none that can be believed."""

        def row(file: sqlite3.Connection) -> Any:
            return file.execute(
                "SELECT value, seal FROM kept WHERE room = ? AND key = ?", (room, key)
            ).fetchone()

        found = self._done(row, None)
        if found is None or not isinstance(found[0], bytes) or found[1] != self._seal(room, key, found[0]):
            return None
        try:
            return json.loads(found[0])
        except (ValueError, RecursionError):  # sealed all the same: by somebody else
            return None

    def write(self, room: str, values: Mapping[str, Any], used: Collection[str] = ()) -> bool:
        """Keep these values under their keys, and note that those `used` still are; whether it was written."""
        today = int(time.time() // _DAY_S)
        texts = {key: json.dumps(value, separators=(",", ":")).encode() for key, value in values.items()}
        rows = [(room, key, text, self._seal(room, key, text), today) for key, text in texts.items()]

        def written(file: sqlite3.Connection) -> bool:
            with file:
                file.execute("BEGIN IMMEDIATE")
                file.executemany("INSERT OR REPLACE INTO kept VALUES (?, ?, ?, ?, ?)", rows)
                touched = [(today, room, key, today) for key in used]
                file.executemany("UPDATE kept SET day = ? WHERE room = ? AND key = ? AND day < ?", touched)
                if _bytes_of(file) > _MOST_BYTES:
                    _thin(file)
            return True

        return self._done(written, otherwise=False)

    def close(self) -> None:
        """Let go of the file; it is opened again when it is asked for."""
        self._left_alone = False
        if self._open is not None:
            self._open.close()
            self._open = None

    def _done(self, work: Callable[[sqlite3.Connection], T], otherwise: T) -> T:
        """Do some work on the file; on a damaged one once more on a new one."""
        for _ in range(0 if self._left_alone else 2):
            try:
                return work(self._file())
            except (sqlite3.Error, OSError) as fault:
                _LOG.debug("%s is left aside: %s", cache_file(self._job), fault)
                self.close()
                if not (_is_damage(fault) and self._removed()):
                    break
        self._left_alone = True
        return otherwise

    def _file(self) -> sqlite3.Connection:
        if self._open is None:
            path = cache_file(self._job)
            path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            self._open = sqlite3.connect(path, timeout=_BUSY_S, isolation_level=None, check_same_thread=False)
            self._open.execute("PRAGMA synchronous = OFF")  # what a power cut damages is worked out again
            (form,) = self._open.execute("PRAGMA user_version").fetchone()
            if form == 0:
                self._open.execute(_TABLE)
                self._open.execute(f"PRAGMA user_version = {_FORM}")
            elif form != _FORM:
                raise sqlite3.DatabaseError(f"form {form}; expected {_FORM}")
        return self._open

    def _removed(self) -> bool:
        file = cache_file(self._job)
        try:
            file.unlink()
            file.with_name(f"{file.name}-journal").unlink(missing_ok=True)
        except OSError as fault:
            _LOG.debug("cannot be replaced: %s", fault)
            return False
        return True

    def _seal(self, room: str, key: str, value: bytes) -> bytes:
        named = json.dumps([self._job, room, key]).encode()
        return hashlib.sha256(named + b"\0" + value).digest()[:12]


def _is_damage(fault: Exception) -> bool:
    """Whether the file is no such file, and not only held, or out of reach."""
    if isinstance(fault, OSError):
        return False
    return (getattr(fault, "sqlite_errorcode", sqlite3.SQLITE_CORRUPT) & 0xFF) not in _NO_DAMAGE


def _bytes_of(file: sqlite3.Connection) -> int:
    size, pages, free = (
        file.execute(f"PRAGMA {name}").fetchone()[0] for name in ("page_size", "page_count", "freelist_count")
    )
    return int(size * (pages - free))


def _thin(file: sqlite3.Connection) -> None:
    """Half of the rows go, those first that were used last the longest ago."""
    (rows,) = file.execute("SELECT count(*) FROM kept").fetchone()
    oldest = "SELECT rowid FROM kept ORDER BY day, rowid LIMIT ?"
    file.execute(f"DELETE FROM kept WHERE rowid IN ({oldest})", ((rows + 1) // 2,))  # noqa: S608 - no text from outside
