"""
Bytes from a file that somebody named: its kind and its size are looked at before it is read.

A *regular* file has an end. A pipe, a device or a folder has none, or none that is known: it is refused without waiting
for it, and a file that is too large is refused without being read.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path

from ledger.domain.errors import Unreadable, visible

MOST_BYTES = 64 * 1024 * 1024
_MB = 1024 * 1024
_NO_WAIT = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOCTTY", 0)


def read_regular(path: str | Path, *, most: int = MOST_BYTES) -> bytes:
    """The bytes of a regular file of at most so many. Raises Unreadable with what it is instead."""
    name = visible(str(path))
    try:
        handle = os.open(path, os.O_RDONLY | _NO_WAIT)
        with os.fdopen(handle, "rb") as file:
            seen = os.fstat(handle)
            if not stat.S_ISREG(seen.st_mode):
                raise Unreadable(f"cannot read {name}: it is {_kind(seen.st_mode)}; expected a regular file")
            data = file.read(most + 1) if seen.st_size <= most else b""
    except IsADirectoryError:
        raise Unreadable(f"cannot read {name}: it is a folder; expected a regular file") from None
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or str(fault)
        held = isinstance(fault, PermissionError)
        fix = "close the program that has it open, or get leave to read it" if held else "check the name"
        raise Unreadable(f"cannot read {name}: {reason}; {fix}") from fault
    if seen.st_size > most or len(data) > most:
        size = max(seen.st_size, len(data)) / _MB
        raise Unreadable(f"cannot read {name}: it has {size:.1f} MB, at most {most / _MB:g} MB are read")
    return data


def _kind(mode: int) -> str:
    kinds = (
        (stat.S_ISDIR, "a folder"),
        (stat.S_ISFIFO, "a pipe"),
        (stat.S_ISCHR, "a device"),
        (stat.S_ISBLK, "a device"),
        (stat.S_ISSOCK, "a socket"),
    )
    return next((words for fits, words in kinds if fits(mode)), "no regular file")
