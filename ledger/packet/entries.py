"""
The entries of a zip from outside, read without trusting it.

Nothing is unpacked and nothing is decompressed: a packet stores its files, so an entry that is compressed or
encrypted was not built here and is not read. Names are judged as they stand in the zip, before any library
cuts or mends them.
"""

from __future__ import annotations

import io
import struct
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass

from ledger.domain.errors import Unreadable, visible
from ledger.domain.finding import Finding
from ledger.packet.archive import MOST_BYTES, MOST_FILES
from ledger.packet.names import is_safe

_BROKEN = (
    zipfile.BadZipFile,
    zipfile.LargeZipFile,
    NotImplementedError,
    RuntimeError,
    ValueError,
    OverflowError,
    EOFError,
    OSError,
    struct.error,
)
_ENCRYPTED = 0x1


@dataclass(frozen=True, slots=True)
class Entries:
    """What could be read, by name, and what is wrong with the zip. Of a doubled name the first is kept."""

    files: dict[str, bytes]
    unread: frozenset[str]
    problems: tuple[Finding, ...]


def read_entries(data: bytes) -> Entries:
    """Every entry that can be read safely. Raises Unreadable for what is no zip, or too large."""
    if len(data) > MOST_BYTES + 1024 * MOST_FILES:
        raise Unreadable(
            f"{len(data)} bytes are too many for a packet; at most {MOST_BYTES // 1024 // 1024} MB"
        )
    if data.count(b"PK\1\2") > MOST_FILES:
        raise Unreadable(f"more than {MOST_FILES} entries are too many for a packet")
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
    except _BROKEN as fault:
        raise Unreadable(
            f"this is not a readable zip ({visible(str(fault))}); get the packet again"
        ) from fault
    with archive:
        return _read(archive, len(data))


def _read(archive: zipfile.ZipFile, size: int) -> Entries:
    files: dict[str, bytes] = {}
    unread: set[str] = set()
    problems: list[Finding] = []
    caseless: dict[str, str] = {}
    for info in archive.infolist():
        name = info.orig_filename
        problems += _name_problems(name, caseless)
        if name in files or name in unread:
            continue
        fault = _not_stored(info, size)
        try:
            if not fault:
                files[name] = archive.read(info)
                continue
            problems.append(_entry("not_as_built", name, f"{fault}, so it was not read"))
        except _BROKEN:
            problems.append(_entry("altered_file", name, "is damaged in the zip"))
        unread.add(name)
    return Entries(files, frozenset(unread), tuple(problems))


def _name_problems(name: str, caseless: dict[str, str]) -> Iterator[Finding]:
    """A name that came before, or that no packet holds. `caseless`: names as a case-blind disk sees them."""
    twin = caseless.get(name.casefold())
    caseless.setdefault(name.casefold(), name)
    if twin is not None:
        again = "is in the zip more than once" if twin == name else f"and {visible(twin)} would be one file"
        yield _entry("doubled_file", name, again)
    if not is_safe(name):
        yield _entry("bad_name", name, "is not a name that a packet holds: do not unpack it")


def _entry(code: str, name: str, fault: str) -> Finding:
    return Finding(code, f"{visible(name)} {fault}", where=visible(name))


def _not_stored(info: zipfile.ZipInfo, size: int) -> str:
    """Why an entry is not read; empty for a plain stored one."""
    if info.flag_bits & _ENCRYPTED:
        return "is encrypted"
    if info.compress_type != zipfile.ZIP_STORED:
        return "is compressed"
    if info.file_size > size or info.file_size != info.compress_size:
        return "claims to be larger than the zip allows"
    return ""
