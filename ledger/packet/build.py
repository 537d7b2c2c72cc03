"""
Building a packet's bytes, and getting bytes onto the disk whole or not at all.

The *manifest* is canonical JSON: format, job, seal, the sealed lock row and every file's SHA-256 and size.
The *seal* is the place and the hash of the lock row, `seq:hash`. The same contents under the same row give
the same bytes. *Staged* means written beside its place under a passing name, and on the disk: `commit` puts
it there in one step, `discard` leaves nothing.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from ledger.domain.canonical import canonical
from ledger.domain.errors import BadInput, Tampered, visible
from ledger.domain.file_names import fix_of, require_a_file_name
from ledger.domain.leftovers import passing, sync_folder
from ledger.domain.plain_name import require_plain
from ledger.domain.sealed import Sealed
from ledger.packet.archive import stored_zip
from ledger.packet.names import is_safe, require_distinct

MANIFEST = "manifest.json"
PROOF = "proof.json"  # one of the files that a lock names: the entries that it rests on
FORMAT = 1


def seal_of(sealed: Sealed) -> str:
    """The seal that a lock row makes: `seq:hash`."""
    return f"{sealed.seq}:{sealed.hash}"


def assemble(contents: Mapping[str, bytes], sealed: Sealed, *, seal: str) -> bytes:
    """
    The packet as one zip.

    Raises BadInput for an unsafe name, a seal that is not the row's, or too much for one packet; Tampered
    when the contents are not those that the row's act names.
    """
    if seal != seal_of(sealed):
        raise BadInput(f"the seal {visible(seal)} is not that of the lock row, {seal_of(sealed)}")
    for name in contents:
        if not is_safe(name) or name == MANIFEST:
            raise BadInput(f"{visible(name)} is not a plain file name; rename it")
    require_distinct([*contents, MANIFEST])
    body = json.loads(sealed.body)
    files = {name: hashlib.sha256(data).hexdigest() for name, data in contents.items()}
    if files != body["act"]["contents"]:
        raise Tampered("the files are not those that the lock names; nothing was built")
    manifest = {
        "format": FORMAT,
        "job": body["job"],
        "seal": seal,
        "row": {
            "seq": sealed.seq,
            "previous": sealed.previous,
            "body": sealed.body.decode("utf-8"),
            "hash": sealed.hash,
            "signature": sealed.signature,
        },
        "files": {name: {"sha256": files[name], "size": len(contents[name])} for name in contents},
    }
    try:
        return stored_zip({**contents, MANIFEST: canonical(manifest)})
    except ValueError as fault:
        raise BadInput(str(fault)) from fault


@dataclass(frozen=True, slots=True)
class Staged:
    """A file or folder on the disk under a passing name, ready to take its place."""

    path: Path
    temporary: Path

    def commit(self) -> None:
        """
        Put it in its place; a file there before is replaced. Raises BadInput, then nothing of ours is left,
        save where only the last word of the disk is missing: the message says so.
        """
        try:
            self.temporary.replace(self.path)
        except OSError as fault:
            raise self._given_up(fault) from fault
        try:
            sync_folder(self.path.parent)
        except OSError as fault:
            raise BadInput(
                f"{self.path} is in place, but the disk did not confirm it ({fault.strerror}); verify it"
            ) from fault

    def discard(self) -> None:
        """Leave nothing. Never raises; safe to call twice, and after a failure."""
        if self.temporary.is_dir():
            shutil.rmtree(self.temporary, ignore_errors=True)
        else:
            with suppress(OSError):
                self.temporary.unlink()

    def _given_up(self, fault: OSError) -> BadInput:
        """Discard, and say what is left and what to do."""
        self.discard()
        there = os.path.lexists(self.temporary)
        left = f"{self.temporary} could not be removed: delete it" if there else "nothing was left there"
        return BadInput(f"cannot write {self.path}: {fault.strerror}; {left}; {fix_of(fault)} and try again")


def stage(path: Path, data: bytes) -> Staged:
    """Write the bytes beside `path`, down to the disk. Raises BadInput and leaves nothing on any failure."""
    require_a_file_name(path)
    staged = Staged(path, _beside(path))
    try:
        _write(staged.temporary, data)
    except OSError as fault:
        raise staged._given_up(fault) from fault  # noqa: SLF001 - its own module
    except BaseException:
        staged.discard()
        raise
    return staged


def stage_folder(folder: Path, files: Mapping[str, bytes]) -> Staged:
    """Write the files into a folder beside `folder`. Raises BadInput if that is there, or on any failure."""
    for name in files:
        if not is_safe(name):
            raise BadInput(f"{visible(name)} is not a plain file name; rename it")
    require_distinct(list(files))
    require_a_file_name(folder)
    if os.path.lexists(folder):
        raise BadInput(f"{folder} already exists; name a new folder")
    staged = Staged(folder, _beside(folder))
    try:
        _write_all(staged.temporary, files)
    except OSError as fault:
        raise staged._given_up(fault) from fault  # noqa: SLF001 - its own module
    except BaseException:
        staged.discard()
        raise
    return staged


def stage_packet(out: Path, name: str, data: bytes, drawings: Mapping[str, bytes]) -> tuple[Staged, Staged]:
    """A packet and, beside it, the plain folder of its drawings. Raises BadInput and leaves nothing of either."""
    require_plain(name)
    packet = stage(out / name, data)
    try:
        return packet, stage_folder(out / name.removesuffix(".zip"), drawings)
    except BaseException:
        packet.discard()
        raise


def write_whole(path: Path, data: bytes) -> None:
    """The bytes at `path`, whole or not at all. Raises BadInput."""
    stage(path, data).commit()


def _beside(path: Path) -> Path:
    return passing(path.parent)


def _write(path: Path, data: bytes) -> None:
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    try:
        rest = memoryview(data)
        while rest:
            rest = rest[os.write(handle, rest) :]  # one call may write less than it was given
        os.fsync(handle)
    finally:
        os.close(handle)


def _write_all(folder: Path, files: Mapping[str, bytes]) -> None:
    folder.mkdir()
    for name in sorted(files):
        place = folder / name
        place.parent.mkdir(exist_ok=True)
        _write(place, files[name])
    for inner in sorted({(folder / name).parent for name in files} | {folder}):
        sync_folder(inner)
