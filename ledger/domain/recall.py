"""A locked revision that was GO, and would not be now: the structure was measured again, or a table has changed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from ledger.domain.finding import Finding

MOST_AT_ONCE: Final = 100  # locked parts that are looked at beside something else
NOT_LOOKED: Final = "more than 100 parts are out, and were not looked at again: fitup recall"


@dataclass(frozen=True, slots=True)
class Recall:
    """What would stop the revision now. It stays locked, and what was sent stays what it was."""

    part: str
    revision: str
    stops: tuple[Finding, ...]

    @property
    def words(self) -> str:
        """`BASE A was GO, would be NO-GO: S2 of PIER is 5.00 mm off  [offset]`."""
        more = f", and {len(self.stops) - 1} more" if len(self.stops) > 1 else ""
        first = self.stops[0]
        return f"{self.part} {self.revision} was GO, would be NO-GO: {first.headline}  [{first.code}]{more}"

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        return {"part": self.part, "revision": self.revision, "stops": [f.to_json() for f in self.stops]}
