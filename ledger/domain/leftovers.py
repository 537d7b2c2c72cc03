"""
Passing names: what is being written lies beside its place under one of these until it is whole.

A program that was killed leaves such a file behind. Its name says which machine and process it is of, so that the next
one that writes into that folder takes it away, and never one that is still being written.
"""

from __future__ import annotations

import hashlib
import os
import platform
import re
import secrets
import shutil
import time
from contextlib import suppress
from pathlib import Path

_NAME = re.compile(r"\.fitup-([0-9a-f]{8})-([0-9]+)-[0-9a-f]{16}\.part(-wal|-shm|-journal)?")
_OLD = 24 * 3600  # seconds: nothing takes so long to write, on whatever machine


def passing(folder: Path) -> Path:
    """A new passing name in a folder, where what was left behind by others is gone."""
    clear_leftovers(folder)
    return folder / f".fitup-{_machine()}-{os.getpid()}-{secrets.token_hex(8)}.part"


def clear_leftovers(folder: Path) -> None:
    """Take away what a killed program left in a folder. What cannot be taken away stays; nothing is raised."""
    with suppress(OSError):
        for path in list(folder.iterdir()):
            found = _NAME.fullmatch(path.name)
            if found and _is_left(path, found[1], int(found[2])):
                remove(path)


def remove(path: Path) -> None:
    """Take a file or folder away, as far as it can be."""
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path, ignore_errors=True)
    else:
        with suppress(OSError):
            path.unlink()


def sync_folder(folder: Path) -> None:
    """A new name is on the disk only once its folder is; Windows has no call for that."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _is_left(path: Path, machine: str, process: int) -> bool:
    with suppress(OSError):
        if time.time() - path.lstat().st_mtime > _OLD:
            return True
    return machine == _machine() and not _runs(process)


def _runs(process: int) -> bool:
    """Whether a process of this machine is running; where that cannot be asked, it is."""
    if os.name == "nt":  # there the question would end it
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True


def _machine() -> str:
    return hashlib.sha256(platform.node().encode()).hexdigest()[:8]
