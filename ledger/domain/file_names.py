"""
Names of files, so that every system takes them for the same file, and what to do where one cannot be used.

Windows is the strictest: it keeps some names for devices, drops dots and blanks at the end of a name, and takes what
stands behind a colon for a hidden stream of the file before it, so that a drawing would seem to be lost.
"""

from __future__ import annotations

import errno
import ntpath
import os
import re
from pathlib import Path

from ledger.domain.errors import BadInput, visible

# Device names, whatever comes after the first dot (Microsoft, "Naming Files, Paths, and Namespaces"; from memory).
RESERVED = re.compile(
    r"(?:con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³]|conin\$|conout\$) *(?:\..*)?", re.IGNORECASE
)
_NOT_ALLOWED = re.compile(r"[^A-Za-z0-9._-]+")
_NOT_ON_WINDOWS = re.compile(r'[<>:"|?*\x00-\x1f]')
_MOST_STEM = 40
_ON_WINDOWS = os.name == "nt"
# ERROR_ACCESS_DENIED, ERROR_SHARING_VIOLATION, ERROR_LOCK_VIOLATION: another program has the file open, or may.
_HELD = (5, 32, 33)
_FIXES = {
    errno.ENOSPC: "make room",
    errno.EROFS: "choose a disk that can be written",
    errno.EACCES: "choose a folder that you may write to",
    errno.ENOENT: "make the folder first",
}


def plain(text: str, *, most: int) -> str:
    """The text by whitelist: runs of anything else, of dashes and of dots made one; none at an end."""
    kept = re.sub(r"-{2,}", "-", re.sub(r"\.{2,}", ".", _NOT_ALLOWED.sub("-", text)))
    return kept.strip(".-_")[:most].strip(".-_")


def stem(text: str, *, otherwise: str) -> str:
    """The name of a file about something, without ending: `otherwise` where nothing is left, and before a device's."""
    kept = plain(text, most=_MOST_STEM) or otherwise
    return f"{otherwise}-{kept}" if RESERVED.fullmatch(kept) else kept


def refused_by_windows(path: str) -> str:
    """Why Windows would take this path for something else than a file or folder; empty where it does not."""
    for piece in re.split(r"[\\/]", ntpath.splitdrive(path)[1]):
        if piece in ("", ".", ".."):
            continue
        if RESERVED.fullmatch(piece):
            return f"{visible(piece)} is the name of a device"
        if piece[-1] in ". ":
            return f"{visible(piece)} ends in a dot or a blank, which Windows leaves out"
        if found := _NOT_ON_WINDOWS.search(piece):
            return f"{visible(piece)} has a {visible(found[0])} in it"
    return ""


def require_a_file_name(path: Path) -> None:
    """Raises BadInput where this system would write to something else than a file or folder of that name."""
    why = refused_by_windows(str(path)) if _ON_WINDOWS else ""
    if why:
        raise BadInput(f"cannot write {visible(str(path))}: {why}; name another file")


def fix_of(fault: OSError, otherwise: str = "choose another place") -> str:
    """What to do about a file that cannot be written or read."""
    if getattr(fault, "winerror", None) in _HELD:
        return "close the program that has it open, or choose another place"
    return _FIXES.get(fault.errno or 0, otherwise)
