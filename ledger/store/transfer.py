"""
A job taken out and brought in: a folder or one zip of plain files, and a copy of a file in use.

*Exported*, a job is `job.json` (format, job, seal, entries), `journal.jsonl` (one row of the journal a line, as
canonical JSON) and `kept/` (kept bytes, each named by its SHA-256). What is brought in is believed only as far as
its hashes, its signatures and its seal hold together; the line or file that does not is named.
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
from ledger.domain.errors import BadInput, FitupError, Tampered, Unreadable, visible
from ledger.domain.file_names import fix_of, require_a_file_name
from ledger.domain.finding import Finding
from ledger.domain.leftovers import passing, remove
from ledger.domain.sealed import START, Sealed, read_body, row_hash
from ledger.store.chain import Raw, raw_rows
from ledger.store.permanent import add_entry, keep_file
from ledger.store.replay import seal_of
from ledger.store.tables import KeptFileRow

FORMAT = 2  # since 2 a quantity stands in an entry as written and exactly
_ABOUT, _LINES, _KEPT_FILES = "job.json", "journal.jsonl", "kept/"
_FIELDS = {"seq", "previous", "body", "hash", "signature"}
_MOMENT = (1980, 1, 1, 0, 0, 0)
_MOST_ONE = 1 << 27  # bytes of one kept file: a packet of many drawings is smaller
_MOST_LINE = 1 << 24  # bytes of one entry of the journal
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


def fill(facts: Session, exported: Exported) -> tuple[int, str]:
    """Put journal and kept files into empty tables; entries and seal. Raises Tampered naming the line or file."""
    if len(set(exported.names)) != len(exported.names):
        raise Tampered(f"{exported.source}: a file is in it more than once")
    seal, count = START, 0
    for row in _rows(exported):
        add_entry(facts, row)
        seal, count = row.hash, row.seq
    if exported.seal != f"{count}:{seal}" or exported.entries != count:
        raise Tampered(
            f"{_LINES} ends at line {count} ({seal[:12]}), but {_ABOUT} names the seal {exported.seal[:24]}: "
            "lines are missing at its end, or it was changed"
        )
    for name in exported.names:
        if name in (_ABOUT, _LINES):
            continue
        digest, data = name.removeprefix(_KEPT_FILES), exported.read(name)
        if not name.startswith(_KEPT_FILES) or sha256(data) != digest:
            raise Tampered(
                f"{visible(name)} does not hold the bytes it is named by: it was changed or put in"
            )
        keep_file(facts, digest, data)
    return count, f"{count}:{seal}"


def refusal(exported: Exported, found: Finding) -> Tampered:
    """What `verify` finds in a filled job, with the line or file that it comes from."""
    at = found.where.removeprefix("entry ")
    if found.where.startswith("entry "):
        return Tampered(f"{_LINES} line {at}: {found.message}")
    if found.code.startswith("kept_file"):
        return Tampered(f"{_KEPT_FILES}{at}: {found.message}")
    return Tampered(f"{exported.source}: {found.message}")


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
        about = json.loads(read(_ABOUT))
        if about["format"] != FORMAT:
            raise Unreadable(
                f"{_ABOUT} is of format {about['format']!r}; this program reads {FORMAT}: update it"
            )
        return Exported(visible(str(source)), str(about["seal"]), int(about["entries"]), names, read, opened)
    except (ValueError, TypeError, KeyError) as fault:
        raise Unreadable(f"{_ABOUT} in {visible(str(source))} does not read as an exported job") from fault


def _rows(exported: Exported) -> Iterator[Sealed]:
    """Every line as a row behind the one before. Raises Tampered naming the line."""
    previous = START
    for number, line in enumerate(_lines(exported), start=1):
        row = _row(line, number)
        if row.seq != number or row.previous != previous:
            raise Tampered(f"{_LINES} line {number}: it does not follow line {number - 1}")
        if row.hash != row_hash(row.previous, row.body, row.signature):
            raise Tampered(f"{_LINES} line {number}: it is not what was written, its hash is another")
        previous = row.hash
        yield row


def _lines(exported: Exported) -> Iterator[bytes]:
    """The lines of the journal one after the other, without their ends. Raises Tampered where the last one is cut."""
    with exported.open(_LINES) as file:
        while line := file.readline(_MOST_LINE + 1):
            if len(line) > _MOST_LINE:
                raise Tampered(f"{_LINES} has a line that is longer than any entry")
            if not line.endswith(b"\n"):
                raise Tampered(f"{_LINES} does not end with a whole line: it was cut")
            yield line[:-1]


def _row(line: bytes, number: int) -> Sealed:
    try:
        data = json.loads(line)
        if canonical(data) != line or data.keys() != _FIELDS:
            raise ValueError("not canonical")  # noqa: TRY301 - one refusal for all of them
        row = Sealed(data["seq"], data["previous"], data["body"].encode(), data["hash"], data["signature"])
        row_hash(row.previous, row.body, row.signature)
    except (ValueError, TypeError, AttributeError, RecursionError, FitupError) as fault:
        raise Tampered(f"{_LINES} line {number}: it does not read as a row of a journal") from fault
    return row


def _fields(row: Sealed) -> dict[str, Any]:
    return {name: getattr(row, name) for name in sorted(_FIELDS)}


def _files(facts: Session, about: dict[str, Any], odd: list[str]) -> Iterator[tuple[str, bytes]]:
    yield _ABOUT, canonical(about)
    yield _LINES, b"".join(_line(row, odd) + b"\n" for row in raw_rows(facts))
    t = KeptFileRow
    for digest in facts.exec(select(t.sha256).order_by(t.sha256)).all():
        data = facts.exec(select(cast(t.data, LargeBinary)).where(t.sha256 == digest)).one()
        if sha256(data) == digest:
            yield f"{_KEPT_FILES}{digest}", data
        else:
            odd.append(f"kept file {visible(str(digest), most=12)} was changed and is left out")


def _line(row: Raw, odd: list[str]) -> bytes:
    """An entry as a line; one that no line can hold, as its bytes in hex, which is not brought in again."""
    try:
        sealed = Sealed(row.seq, str(row.previous), bytes(row.body), str(row.hash), str(row.signature))
        return canonical({**_fields(sealed), "body": sealed.body.decode()})
    except (TypeError, ValueError):
        odd.append(f"entry {row.seq} does not read as one")
        raw = row.body if isinstance(row.body, bytes) else str(row.body).encode("utf-8", "replace")
        return canonical({"seq": row.seq, "hex": raw.hex()})


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
