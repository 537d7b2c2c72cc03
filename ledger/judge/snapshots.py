"""
A snapshot of a job's facts in the user's cache folder, so that a long journal is not followed from its first entry.

It never lies in the job, and nobody else's is believed: a code (HMAC, RFC 2104, with SHA-256) under a key of this user
covers the facts, the job, the journal seal they were taken at, the program build and the schema. Whether the journal
still holds that seal is for `ledger.store.snapshot` to see. What cannot be read is no snapshot, which costs time only.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import logging
import os
import secrets
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from ledger.judge.build import build
from ledger.judge.cache import cache_folder
from ledger.store.replay import schema_digest
from ledger.store.sealed import keys_folder
from ledger.store.snapshot import Snapshot

_LOG = logging.getLogger(__name__)
_MAGIC: Final = b"fitup/snapshot1\n"
_CODE: Final = 32  # bytes of the code, and of the key
_LENGTH: Final = 4


@dataclass(frozen=True, slots=True)
class SnapshotFile:
    """Where the snapshot of one job (by its identity) is kept."""

    job: str

    @property
    def path(self) -> Path:
        """The file of this job."""
        return cache_folder() / f"{hashlib.sha256(self.job.encode()).hexdigest()[:24]}.snapshot"

    def read(self) -> Snapshot | None:
        """The snapshot that this user's program kept; None where there is none, or one that was altered."""
        try:
            whole, key = memoryview(self.path.read_bytes()), _key(make=False)
        except OSError:
            return None
        start = len(_MAGIC) + _CODE
        if key is None or bytes(whole[: len(_MAGIC)]) != _MAGIC:
            return None
        if not hmac.compare_digest(hmac.digest(key, whole[start:], "sha256"), whole[len(_MAGIC) : start]):
            _LOG.debug("%s was altered, or is another user's", self.path)
            return None
        at = start + _LENGTH + int.from_bytes(whole[start : start + _LENGTH], "big")
        said = json.loads(bytes(whole[start + _LENGTH : at]))
        if (said["job"], said["build"], said["schema"]) != self._named():
            return None
        return Snapshot(said["seq"], said["seal"], said["latest"], bytes(whole[at:]))

    def write(self, snapshot: Snapshot) -> None:
        """Keep this one in place of the one before. Never raises."""
        job, program, schema = self._named()
        said = {
            "job": job,
            "build": program,
            "schema": schema,
            "seq": snapshot.seq,
            "seal": snapshot.seal,
            "latest": snapshot.latest,
        }
        head = json.dumps(said).encode()
        body = len(head).to_bytes(_LENGTH, "big") + head + snapshot.data
        beside = self.path.with_name(f"{self.path.name}-{secrets.token_hex(4)}")
        try:
            key = _key(make=True)
            if key is None:
                return
            self.path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o600)
            with os.fdopen(handle, "wb") as file:
                file.write(_MAGIC + hmac.digest(key, body, "sha256"))
                file.write(body)
            beside.replace(self.path)
        except OSError as fault:
            _LOG.debug("%s is not kept: %s", self.path, fault)
            beside.unlink(missing_ok=True)

    def _named(self) -> tuple[str, str, str]:
        return self.job, build(), schema_digest()


def _key(*, make: bool) -> bytes | None:
    """The key of this user's snapshots, beside the keys that sign; of another length it is none. Raises OSError."""
    path = keys_folder() / "snapshots.key"
    if make and not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(secrets.token_bytes(_CODE))
    found = path.read_bytes()
    return found if len(found) == _CODE else None
