"""
What kind of drive a path lies on: a disk of this machine, or one that reaches another machine over a network.

Each system tells it in its own way: Linux by its table of mounts, macOS (and BSD) by what the command `mount` prints,
Windows by the kind of the drive and by names that begin with two strokes. Where none of them tells, the answer is
empty, which means *not known to be on a network*, and not *known to be on a disk*.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path, PureWindowsPath
from typing import Any

_MOUNTS = Path("/proc/self/mountinfo")
_MOUNT = ("/sbin/mount",)
_PATIENCE = 5  # seconds: a server that is gone may hold the command up
# File systems that reach another machine, by the names that Linux and macOS give them.
_NETWORK = frozenset(
    (
        "nfs",
        "nfs4",
        "cifs",
        "smb3",
        "smbfs",
        "afpfs",
        "webdav",
        "9p",
        "afs",
        "ceph",
        "lustre",
        "ncpfs",
        "fuse.sshfs",
        "fuse.glusterfs",
        "fuse.rclone",
        "fuse.davfs2",
        "davfs",
        "beegfs",
        "gpfs",
        "orangefs",
    )
)
_FUSE = ("macfuse", "osxfuse", "fusefs")  # these say "local" of themselves where they are
_LINE = re.compile(r".*? on (?P<at>/.*) \((?P<kind>[^(),\s]+)(?P<marks>(?:, [^()]*)?)\)")
_REMOTE_DRIVE = 4  # GetDriveTypeW


def network_kind(path: Path) -> str:
    """The kind of network drive that a path lies on; empty for a disk of this machine, or where nothing tells."""
    if sys.platform == "win32":
        return windows_kind(os.path.realpath(path), _drive_type)
    real = os.path.realpath(path)
    if sys.platform.startswith("linux"):
        return linux_kind(real, _table_of_mounts())
    return mount_kind(real, _what_mount_prints())


def linux_kind(real: str, mounts: str) -> str:
    """The same from the text of /proc/self/mountinfo (proc(5)); the last mount at the longest place counts."""
    best, found = -1, ""
    for line in mounts.splitlines():
        before, _, after = line.partition(" - ")
        at = (*before.split(" "), *[""] * 5)[4].replace("\\040", " ")
        if at and _inside(real, at) and len(at) >= best:
            best, found = len(at), after.split(" ")[0]
    return found if found in _NETWORK else ""


def mount_kind(real: str, printed: str) -> str:
    """The same from what mount(8) prints on macOS: `//mira@server/share on /Volumes/share (smbfs, nodev)`."""
    best, found = -1, ""
    for line in printed.splitlines():
        told = _LINE.fullmatch(line)
        if told and _inside(real, told["at"]) and len(told["at"]) >= best:
            best, kind = len(told["at"]), told["kind"]
            local = "local" in told["marks"].split(", ")
            found = kind if kind in _NETWORK or (kind in _FUSE and not local) else ""
    return found


def windows_kind(real: str, drive_type: Callable[[str], int]) -> str:
    r"""The same from a whole path: `\\server\share` is a share, a letter is asked for its kind."""
    anchor = PureWindowsPath(real).anchor
    if anchor.upper().startswith("\\\\?\\UNC\\"):
        return "share"
    letter = anchor.removeprefix("\\\\?\\")
    if letter.startswith("\\\\"):
        return "share"
    return "drive" if drive_type(letter) == _REMOTE_DRIVE else ""


def _inside(real: str, at: str) -> bool:
    return real == at or real.startswith(at.rstrip("/") + "/")


def _table_of_mounts() -> str:
    try:
        return _MOUNTS.read_text(encoding="utf-8", errors="surrogateescape")
    except OSError:
        return ""


def _what_mount_prints() -> str:
    try:
        told = subprocess.run(_MOUNT, capture_output=True, timeout=_PATIENCE, check=False)
    except (OSError, subprocess.SubprocessError):
        return ""
    return told.stdout.decode("utf-8", "surrogateescape")


def _drive_type(anchor: str) -> int:
    import ctypes

    kernel: Any = getattr(ctypes, "windll", None)
    return int(kernel.kernel32.GetDriveTypeW(anchor)) if kernel else 0
