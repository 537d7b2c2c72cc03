"""
How much a fit may cost, counted in looks and never in time, so that the same holes always get the same answer.

A *look* is one angle at which a pose of slots is solved: about a millisecond. Round holes are not counted; they have
limits of their own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

MOST_LOOKS: Final = 300
MOST_BESIDE: Final = 120  # for another position than the one that is shown


@dataclass(slots=True)
class Effort:
    """What was spent. `short`: something was left untried for want of looks, so that the answer is not proven."""

    most: int = MOST_LOOKS
    looks: int = 0
    short: bool = False

    @property
    def spent(self) -> bool:
        """Whether there are no more looks; whoever then leaves something untried says `short`."""
        return self.looks >= self.most

    def take(self, looks: int, *, slotted: bool) -> None:
        """Count looks at slots."""
        self.looks += looks if slotted else 0
