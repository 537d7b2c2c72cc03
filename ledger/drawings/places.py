"""
The folders that a job's drawings were taken from: recorded with the drawings, found again, forgotten.

A folder within that of the job's file is kept as the way from there, any other one whole. Of a folder whose name
cannot be kept exactly nothing is recorded: its drawings are taken all the same, and it is not watched.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from sqlmodel import Session

from ledger.acts.base import Act, make
from ledger.acts.drawing_folders import RecordDrawingFolders
from ledger.domain.address import file_of
from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.names import prose
from ledger.store import facts as read
from ledger.store.tables import DrawingFoldersFact

if TYPE_CHECKING:
    from ledger.drawings.folder import TakenFolder

Do = Callable[[Act], int]


def kept_folders(facts: Session) -> tuple[str, ...]:
    """The folders as they are kept."""
    return tuple(name for row in read.rows(facts, DrawingFoldersFact) for name in json.loads(row.folders))


def folders(facts: Session, place: str) -> tuple[Path, ...]:
    """The folders that the drawings of the job at this place came from; they need not be there any more."""
    home = _home(place)
    return tuple(Path(os.path.normpath(home / name)) if home else Path(name) for name in kept_folders(facts))


def record_folders(facts: Session, do: Do, place: str, some: Iterable[Path]) -> None:
    """Keep these folders besides those that are kept; no entry where all of them are."""
    known = kept_folders(facts)
    named = [name for name in (_name(place, folder) for folder in some) if name]
    fresh = tuple(dict.fromkeys((*known, *named)))
    if fresh != known:
        do(make(RecordDrawingFolders, folders=fresh))


def forget_folders(facts: Session, do: Do, place: str, some: Sequence[str]) -> None:
    """Keep these folders no longer. Raises UnknownName."""
    known = kept_folders(facts)
    gone = {_name(place, Path(folder)) or folder for folder in some}
    for name in gone - set(known):
        raise UnknownName("folder of drawings", name, known)
    do(make(RecordDrawingFolders, folders=tuple(name for name in known if name not in gone)))


def take_and_keep(
    facts: Session,
    do: Do,
    take: Callable[[Session, Do, Callable[[], None]], TakenFolder],
    place: str,
    came: Iterable[Path],
) -> TakenFolder:
    """Keep the folders that drawings come from, then take them, so that undo begins with a drawing. Raises BadInput."""
    return take(facts, do, lambda: record_folders(facts, do, place, came))


def _home(place: str) -> Path | None:
    path = file_of(place)
    return path.absolute().parent if path else None


def _name(place: str, folder: Path) -> str:
    """The folder as it is kept; empty where its name cannot be."""
    whole, home = Path(os.path.normpath(folder.absolute())), _home(place)
    name = whole.relative_to(home).as_posix() if home and whole.is_relative_to(home) else str(whole)
    try:
        return name if prose(name) == name else ""
    except BadInput:
        return ""
