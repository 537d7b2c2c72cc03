"""
A job taken out: a folder or one zip of plain files, and a copy of a file in use.

*Exported*, a job is `job.json` (format, job, seal, entries), `journal.jsonl` (one row of the journal a line, as
canonical JSON) and `kept/` (kept bytes, each named by its SHA-256). How it comes in again: `ledger.store.filling`.
"""

from __future__ import annotations

import json
import os
import sqlite3
import zipfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from sqlalchemy import Engine, LargeBinary, cast
from sqlmodel import Session, select

from ledger.domain.canonical import canonical, sha256
from ledger.domain.errors import BadInput, Tampered, Unreadable, visible
from ledger.domain.file_names import fix_of, require_a_file_name
from ledger.domain.leftovers import passing, remove
from ledger.domain.sealed import read_body
from ledger.store.chain import raw_rows
from ledger.store.journal_lines import LINES, line_of
from ledger.store.replay import seal_of
from ledger.store.tables import KeptFileRow

FORMAT = 2  # since 2 a quantity stands in an entry as written and exactly
ABOUT, KEPT_FILES = "job.json", "kept/"
_MOMENT = (1980, 1, 1, 0, 0, 0)
_MOST_ONE = 1 << 27  # bytes of one kept file: a packet of many drawings is smaller
# A zip that promises more is made to fill the memory. Measured: the export of the demonstration unpacks to 4 times its
# size, that of two plates with 2,000 and 6,000 holes in rows to 19 times, its most repetitive file to 27 times.
_MOST_ALL, _MOST_TIMES = 1 << 26, 200


@dataclass(frozen=True, slots=True)
class Exported:
    """An exported job: what it says of itself, and its files."""

    source: str
    seal: str
    entries: int
    names: tuple[str, ...]
    read: Callable[[str], bytes]
    open: Callable[[str], IO[bytes]]


def export(facts: Session, out: Path) -> str:
    """
    Write the job to a new folder, or to one zip where the name ends so; the seal. Raises BadInput.

    What does not read as an entry, or as the bytes that it is named by, keeps nothing else from being written: Tampered
    is raised behind, and names it.
    """
    if os.path.lexists(out):
        raise BadInput(f"{visible(str(out))} is there already; name a new folder or file")
    seq, seal = seal_of(facts)
    about = {"format": FORMAT, "job": _job(facts), "seal": f"{seq}:{seal}", "entries": seq}
    odd: list[str] = []
    with _aside(out) as beside:
        if out.suffix == ".zip":
            with zipfile.ZipFile(beside, "x") as archive:
                for name, data in _files(facts, about, odd):
                    archive.writestr(zipfile.ZipInfo(name, _MOMENT), data, zipfile.ZIP_DEFLATED)
            _sync(beside)
        else:
            (beside / "kept").mkdir(parents=True)
            for name, data in _files(facts, about, odd):
                (beside / name).write_bytes(data)
                _sync(beside / name)
    if odd:
        raise Tampered(
            f"exported to {visible(str(out))}, but {'; '.join(odd[:3])}: fitup verify says all that is wrong"
        )
    return f"{seq}:{seal}"


def backup(engine: Engine, out: Path) -> str:
    """Copy a job's file while it is in use (SQLite's own backup); the seal of the copy. Raises BadInput."""
    if engine.dialect.name != "sqlite":
        raise BadInput(
            "a job on a server is backed up there (pg_dump), or exported with: fitup export FOLDER"
        )
    if os.path.lexists(out):
        raise BadInput(f"{visible(str(out))} is there already; name a new file")
    with _aside(out) as beside:
        with closing(engine.raw_connection()) as source, closing(sqlite3.connect(beside)) as copy:
            driver: Any = source.driver_connection
            driver.backup(copy, pages=1000)
            copy.execute("PRAGMA journal_mode=DELETE")
            seq, seal = copy.execute("SELECT seq, hash FROM journal ORDER BY seq DESC LIMIT 1").fetchone()
        _sync(beside)
    return f"{seq}:{seal}"


@contextmanager
def opened(source: Path) -> Iterator[Exported]:
    """An exported job, folder or zip. Raises Unreadable."""
    try:
        if source.is_dir():
            found = (p.relative_to(source).as_posix() for p in source.rglob("*") if not p.is_dir())
            yield _exported(source, tuple(sorted(found)), lambda name: _of_folder(source, name))
            return
        if source.exists() and not source.is_file():
            raise Unreadable(
                f"{visible(str(source))} is no regular file; name the folder or zip of an export"
            )
        with zipfile.ZipFile(source) as archive:
            _no_larger_than_it_can_be(archive, source.stat().st_size)
            names = tuple(info.orig_filename for info in archive.infolist() if not info.is_dir())
            yield _exported(source, names, archive.open)
    except (OSError, zipfile.BadZipFile, NotImplementedError, KeyError) as fault:
        reason = getattr(fault, "strerror", None) or str(fault)
        raise Unreadable(f"{visible(str(source))} is no exported job that can be read: {reason}") from fault


def _of_folder(folder: Path, name: str) -> IO[bytes]:
    path = folder / name
    if path.exists() and not path.is_file():
        raise Unreadable(f"{visible(name)} is no regular file; an export holds nothing else")
    return path.open("rb")


def _no_larger_than_it_can_be(archive: zipfile.ZipFile, size: int) -> None:
    """Raises BadZipFile where a zip says that it holds more than an export of its size can."""
    if sum(info.file_size for info in archive.infolist()) > max(_MOST_ALL, _MOST_TIMES * size):
        raise zipfile.BadZipFile(
            f"it unpacks to more than {_MOST_TIMES} times its size, which no export does"
        )


def _exported(source: Path, names: tuple[str, ...], opened: Callable[[str], IO[bytes]]) -> Exported:
    def read(name: str) -> bytes:
        with opened(name) as file:
            data = file.read(_MOST_ONE + 1)
        if len(data) > _MOST_ONE:
            raise zipfile.BadZipFile(f"{visible(name)} is larger than anything a job keeps")
        return data

    try:
        about = json.loads(read(ABOUT))
        if about["format"] != FORMAT:
            raise Unreadable(
                f"{ABOUT} is of format {about['format']!r}; this program reads {FORMAT}: update it"
            )
        return Exported(visible(str(source)), str(about["seal"]), int(about["entries"]), names, read, opened)
    except (ValueError, TypeError, KeyError) as fault:
        raise Unreadable(f"{ABOUT} in {visible(str(source))} does not read as an exported job") from fault


def _files(facts: Session, about: dict[str, Any], odd: list[str]) -> Iterator[tuple[str, bytes]]:
    yield ABOUT, canonical(about)
    yield LINES, b"".join(line_of(row, odd) + b"\n" for row in raw_rows(facts))
    t = KeptFileRow
    for digest in facts.exec(select(t.sha256).order_by(t.sha256)).all():
        data = facts.exec(select(cast(t.data, LargeBinary)).where(t.sha256 == digest)).one()
        if sha256(data) == digest:
            yield f"{KEPT_FILES}{digest}", data
        else:
            odd.append(f"kept file {visible(str(digest), most=12)} was changed and is left out")


def _job(facts: Session) -> str:
    try:
        return read_body(next(raw_rows(facts)).body).job
    except (StopIteration, ValueError, TypeError):
        return ""


@contextmanager
def _aside(out: Path) -> Iterator[Path]:
    """A passing name beside `out` that takes its place when all went well, and is gone otherwise."""
    require_a_file_name(out)
    beside = passing(out.parent)
    try:
        yield beside
        beside.rename(out)
        _sync(out.parent)
    except (OSError, sqlite3.Error) as fault:
        remove(beside)
        reason = getattr(fault, "strerror", None) or str(fault)
        fix = f"; {fix_of(fault)}" if isinstance(fault, OSError) else ""
        raise BadInput(f"cannot write {visible(str(out))}: {reason}; nothing was left there{fix}") from fault
    except BaseException:
        remove(beside)
        raise


def _sync(path: Path) -> None:
    if os.name == "nt" and path.is_dir():
        return
    handle = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
