"""
Drawings that are named by their files or by a folder: found, read over every child of the reader, mended where a copy
decides nothing.

A *copy* is a clean copy that leaves nothing to decide. A drawing that only a person can complete (which outline, which
circle, which unit, where the lines end) is *undecided*: it is taken as it is, stops its part, and says what is to be
done. One that shows nothing is *refused*.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from ledger.clean_copy import Choices, Mended, mended
from ledger.domain.canonical import sha256
from ledger.domain.errors import BadInput, FitupError, Unreadable, visible
from ledger.domain.shape import Profile
from ledger.domain.taking import Reading
from ledger.intake import read_regular

SUFFIX = ".dxf"
MOST_FILES = 2_000  # of one folder: what is more is no folder of drawings


@dataclass(frozen=True, slots=True)
class Refused:
    """A file of which nothing is recorded, and why: what was read, what was expected, what to do."""

    file: str
    why: str


@dataclass(frozen=True, slots=True)
class Known:
    """A file whose bytes are a part's drawing already."""

    file: str
    number: str


@dataclass(frozen=True, slots=True)
class Found:
    """The drawings' files that were named, and how many other files and folders lie beside them."""

    paths: tuple[Path, ...]
    others: int = 0
    folders: int = 0


@dataclass(frozen=True, slots=True)
class Drawing:
    """One file as it was read; its copy, where it needed one that decides nothing; what only a person can decide."""

    file: str
    data: bytes
    profile: Profile
    copy: Mended | None = None
    undecided: str = ""


def found(paths: Sequence[str]) -> Found:
    """
    The files that are named, and every DXF file of each folder that is; not those in the folders within.

    Raises Unreadable for a folder that cannot be listed, BadInput for too many files.
    """
    files: dict[Path, None] = {}
    others = folders = 0
    for path in map(Path, paths):
        if not path.is_dir():
            files[path] = None
            continue
        for name, is_folder in _listed(path):
            folders += is_folder
            drawing = not is_folder and name.lower().endswith(SUFFIX)
            others += not is_folder and not drawing
            if drawing:
                files[path / name] = None
    if len(files) > MOST_FILES:
        raise BadInput(
            f"read {len(files)} DXF files; at most {MOST_FILES} are taken at once: name some of them"
        )
    return Found(tuple(files), others, folders)


def _listed(folder: Path) -> list[tuple[str, bool]]:
    try:
        with os.scandir(folder) as entries:
            return sorted((e.name, _is_folder(e)) for e in entries)
    except OSError as fault:
        raise Unreadable(f"cannot list {visible(str(folder))}: {fault.strerror}; check the name") from fault


def _is_folder(entry: os.DirEntry[str]) -> bool:
    """Whether an entry is a folder; one that cannot be followed, such as a link to itself, is refused when read."""
    try:
        return entry.is_dir()
    except OSError:
        return False


def read_drawings(
    paths: Sequence[Path], reading: Reading, there: Mapping[str, str]
) -> list[Drawing | Known | Refused]:
    """
    Every file read, in their order, but for those that are a part's drawing (`there`: digest to number).

    Raises BadInput for an unknown unit or role.
    """
    from ledger.profile.pool import POOL
    from ledger.profile.read import read_profiles
    from ledger.profile.scan import MOST_BYTES

    rows: list[bytes | Known | Refused] = []
    for path in paths:
        try:
            data = read_regular(path, most=MOST_BYTES)
        except FitupError as fault:
            rows.append(Refused(path.name, str(fault)))
            continue
        number = there.get(sha256(data))
        rows.append(data if number is None else Known(path.name, number))
    fresh = [data for data in rows if isinstance(data, bytes)]
    profiles = iter(read_profiles(fresh, unit=reading.unit, roles=reading.roles))

    def one(
        path: Path, row: bytes | Known | Refused, read: Profile | Unreadable
    ) -> Drawing | Known | Refused:
        if not isinstance(row, bytes):
            return row
        if isinstance(read, Unreadable):
            return Refused(path.name, str(read))
        return weighed(path.name, row, read, reading)

    none = Unreadable("")
    every = [
        (p, d, next(profiles) if isinstance(d, bytes) else none) for p, d in zip(paths, rows, strict=True)
    ]
    with ThreadPoolExecutor(POOL) as readers:  # a copy is read again, so mending has a child of its own, too
        return list(readers.map(lambda row: one(*row), every))


def weighed(file: str, data: bytes, profile: Profile, reading: Reading) -> Drawing | Refused:
    """A drawing that can be cut as it is, or its copy, or what is to be done first; refused where it shows nothing."""
    if not any(f.severity == "stop" for f in profile.findings) and profile.outline is not None:
        return Drawing(file, data, profile)
    if not profile.outlines and not profile.holes:
        first = next((f for f in profile.findings if f.severity == "stop"), None)
        return Refused(file, f"{first.message}; {first.fix}" if first else "it shows no outline: draw one")
    try:
        copy = mended(data, Choices(unit=reading.unit, roles=reading.roles))
    except FitupError as fault:
        return Drawing(file, data, profile, undecided=str(fault))
    if not copy.guessed:
        return Drawing(file, data, profile, copy)
    why = "it was read by guessing at what is missing: write a copy to a file, look at it, take that"
    return Drawing(file, data, profile, undecided=why)
