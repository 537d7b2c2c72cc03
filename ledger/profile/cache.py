"""
Profiles of bytes that were read before, so that the same bytes are read once.

A profile is kept under the digest of its bytes, the unit and the roles that were stated, and the reader's version. The
oldest go when the bytes that were read come to more than MOST_BYTES. Refusals are not kept: one may be due to time.
"""

from __future__ import annotations

import hashlib
import json
import threading
from collections import OrderedDict
from collections.abc import Mapping

from ledger.domain.shape import Profile

MOST_BYTES = 32 * 1024 * 1024
Key = tuple[str, str, str, str]


class Once:
    """Profiles by what was read, the newest last. Safe for threads."""

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self._most = most_bytes
        self._lock = threading.Lock()
        self._kept: OrderedDict[Key, tuple[Profile, int]] = OrderedDict()
        self._bytes = 0

    @staticmethod
    def key(data: bytes, unit: str | None, roles: Mapping[str, str] | None, version: str) -> Key:
        """What makes a second reading the same as the first."""
        return (
            hashlib.sha256(data).hexdigest(),
            unit or "",
            json.dumps(sorted((roles or {}).items())),
            version,
        )

    def get(self, key: Key) -> Profile | None:
        """The profile of these bytes, if it is kept."""
        with self._lock:
            found = self._kept.get(key)
            if found is None:
                return None
            self._kept.move_to_end(key)
            return found[0]

    def put(self, key: Key, profile: Profile, size: int) -> None:
        """Keep a profile that was read from so many bytes."""
        with self._lock:
            _, before = self._kept.pop(key, (profile, 0))
            self._kept[key] = (profile, size)
            self._bytes += size - before
            while self._bytes > self._most:
                _, (_, gone) = self._kept.popitem(last=False)
                self._bytes -= gone

    def forget(self) -> None:
        """Start anew."""
        with self._lock:
            self._kept.clear()
            self._bytes = 0


once = Once()
