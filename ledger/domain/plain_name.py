"""
Names of files inside entries: names, never paths.

What an entry calls a file is written by whoever can write to the journal. Put behind a folder as it is, a name with a
path in it would be written wherever it points.
"""

from __future__ import annotations

from ledger.domain.errors import BadInput, visible

FOLDERS = ("pictures/", "sheets/")  # the folders inside a packet


def is_plain(name: str) -> bool:
    """Whether this is the name of a file in a folder: no path, no drive, no way up, nothing invisible."""
    path = any(c in "/\\:" or ord(c) < ord(" ") for c in name)
    return bool(name) and not path and name.strip(" .") != ""


def require_plain(name: str, *, inside: bool = False) -> str:
    """The name of a file; `inside` a packet it may be in one of its folders. Raises BadInput."""
    folder = next((f for f in FOLDERS if inside and name.startswith(f)), "")
    if not is_plain(name.removeprefix(folder)):
        raise BadInput(f"{visible(name)!r} is not a plain file name; expected a name without a folder")
    return name
