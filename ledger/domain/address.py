"""
Where a job lies, in words: a file's path (or sqlite:///path), or the address of a database on a server.

An address may hold a password; nothing shows it.
"""

from __future__ import annotations

import re
from pathlib import Path

from ledger.domain.errors import visible

_PASSWORD = re.compile(r"(?<=://)([^/@:]*):[^/]*@|(?<=password=)[^&]*")


def is_server(place: str) -> bool:
    """Whether a place is an address rather than a file."""
    return "://" in place and not place.startswith("sqlite:///")


def file_of(place: str) -> Path | None:
    """The job's file, or None where it lies on a server."""
    return None if is_server(place) else Path(place.removeprefix("sqlite:///"))


def folder_of(place: str) -> Path:
    """The folder that the job's file lies in; for a job on a server the folder one is in."""
    path = file_of(place)
    return Path() if path is None else path.parent


def shown(place: str) -> str:
    """The place as it may be shown: never with its password."""
    hidden = _PASSWORD.sub(lambda m: f"{m[1]}:***@" if m[1] is not None else "***", place)
    return visible(hidden if is_server(place) else place)
