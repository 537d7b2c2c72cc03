"""A signing key of a person, as a list shows it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class KeyLine:
    """One key as a list shows it; `until` is the first entry it no longer counts for, 0 while it is in force."""

    key: str
    person: str
    since: int
    until: int = 0
    reason: str = ""
    disowned: tuple[int, ...] = ()
    retired: int = 0  # the entry that retired it

    @property
    def in_force(self) -> bool:
        """Whether it signs now."""
        return not self.until
