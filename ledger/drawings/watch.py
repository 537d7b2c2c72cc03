"""
Folders under watch: which drawing files were saved, and are written to the end.

A *mark* of a file is its size, the time of its last change and which file it is. A file has *settled* when two looks
some time apart found the same mark; ten saves in a second are one. What the system tells of a folder only makes the
next look come sooner: once a second every folder is looked at whatever was told, because network drives tell nothing
of what other machines write. So an editor that writes to another file and renames it is no case of its own, and a file
that is gone is only told after a while, since it may be about to come back.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event
from typing import Final

from ledger.drawings.files import MOST_FILES, SUFFIX
from ledger.drawings.saved import Saved

SETTLED_S: Final = 0.2
GONE_S: Final = 2.0
LOOKS_EVERY_S: Final = 1.0
_STEP_S: Final = 0.1
AGAIN_S: Final = 1.0
Mark = tuple[int, int, int]
Look = Callable[[Sequence[Path]], Iterable[Saved]]


@dataclass
class _File:
    """A file as it was seen last, since when, and whether this was told."""

    mark: Mark | None
    since: float
    told: bool = False


@dataclass(frozen=True, slots=True)
class Seen:
    """What a look found: files that have settled, files that are gone, and why the folder cannot be listed."""

    settled: tuple[Path, ...] = ()
    gone: tuple[Path, ...] = ()
    lost: str = ""
    back: bool = False

    @property
    def anything(self) -> bool:
        """Whether there is anything to tell."""
        return bool(self.settled or self.gone or self.lost or self.back)


@dataclass
class Folder:
    """One folder under watch."""

    path: Path
    _files: dict[str, _File] = field(default_factory=dict)
    _lost: bool = False

    @property
    def unsettled(self) -> bool:
        """Whether something has changed and was not told yet."""
        return any(not f.told for f in self._files.values())

    def look(self, now: float, *, settled_s: float = SETTLED_S) -> Seen:
        """
        List the folder at a moment (seconds of a clock that only goes on); tell what is settled since the last look.
        """
        try:
            marks = _marks(self.path)
        except OSError as fault:
            first, self._lost = not self._lost, True
            return Seen(lost=(fault.strerror or str(fault)) if first else "")
        back, self._lost = self._lost, False
        for name, mark in marks.items():
            known = self._files.get(name)
            if known is None or known.mark != mark:
                self._files[name] = _File(mark, now)
        for name in self._files.keys() - marks.keys():
            if self._files[name].mark is not None:
                self._files[name] = _File(None, now)
        ready = [
            n for n, f in self._files.items() if not f.told and now - f.since >= self._patience(f, settled_s)
        ]
        for name in ready:
            self._files[name].told = True
        gone = tuple(self.path / n for n in sorted(ready) if self._files[n].mark is None)
        for path in gone:
            del self._files[path.name]
        return Seen(tuple(self.path / n for n in sorted(ready) if n in self._files), gone, back=back)

    def look_again(self, path: Path, now: float, after_s: float) -> None:
        """Tell a file once more that long after this moment, even if it does not change."""
        known = self._files.get(path.name)
        if known is not None:
            known.told, known.since = False, now + after_s - SETTLED_S

    @staticmethod
    def _patience(file: _File, settled_s: float) -> float:
        return GONE_S if file.mark is None else settled_s


def _marks(folder: Path) -> dict[str, Mark]:
    """The marks of the drawing files of a folder; a file that is gone before it is looked at is left out."""
    found: dict[str, Mark] = {}
    with os.scandir(folder) as entries:
        for entry in entries:
            if not entry.name.lower().endswith(SUFFIX) or len(found) >= MOST_FILES:
                continue
            try:
                if entry.is_dir():
                    continue
                seen = entry.stat()
            except OSError:
                continue
            found[entry.name] = (seen.st_size, seen.st_mtime_ns, seen.st_ino)
    return found


def saved_in(folders: Sequence[Path], look: Look, stop: Event) -> Iterator[Saved]:
    """
    What was saved in these folders, or is not what was taken, file by file until `stop` is set.

    A file that cannot be read is looked at once more after a while, since it may be half written.
    """
    twice: set[Path] = set()
    for folder, seen in watched([Folder(path) for path in folders], stop):
        if seen.lost or seen.back:
            yield Saved(str(folder.path), "folder gone" if seen.lost else "folder back", why=seen.lost)
        for found in look(seen.settled):
            path = Path(found.path)
            if found.state == "refused" and path not in twice:
                twice.add(path)
                folder.look_again(path, time.monotonic(), AGAIN_S)
                continue
            twice.discard(path)
            if found.state != "taken":
                yield found
        for path in seen.gone:
            yield Saved(str(path), "gone")


def watched(
    folders: Sequence[Folder], stop: Event, clock: Callable[[], float] = time.monotonic
) -> Iterator[tuple[Folder, Seen]]:
    """What every look at these folders found, as far as there is anything to tell, until `stop` is set."""
    last = -LOOKS_EVERY_S
    for told in _wakes([f.path for f in folders], stop):
        now = clock()
        if not told and now - last < LOOKS_EVERY_S and not any(f.unsettled for f in folders):
            continue
        last = now
        for folder in folders:
            seen = folder.look(now)
            if seen.anything:
                yield folder, seen


def _wakes(paths: Sequence[Path], stop: Event) -> Iterator[bool]:
    """Several times a second, and at once when the system tells of a change in a folder (True)."""
    import watchfiles

    while not stop.is_set():
        there = _there(paths)
        try:
            for told in watchfiles.watch(
                *there,
                watch_filter=None,
                debounce=200,
                step=20,
                stop_event=stop,
                rust_timeout=round(_STEP_S * 1000),
                yield_on_timeout=True,
                recursive=False,
                ignore_permission_denied=True,
            ):
                yield bool(told)
                if _there(paths) != there:
                    break
        except (OSError, RuntimeError):  # no more watches are given, or a folder went meanwhile: looks go on
            yield False
            stop.wait(_STEP_S)
        if not there:
            yield False
            stop.wait(_STEP_S)


def _there(paths: Sequence[Path]) -> dict[Path, int]:
    """The folders that are there, each with which folder it is."""
    found = {}
    for path in paths:
        try:
            found[path] = path.stat().st_ino
        except OSError:
            continue
    return found
