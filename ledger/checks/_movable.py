"""
Which drawing a fix may change: only that of a part that is still to be cut.

Existing structure stays where it is and a bought part comes as it is; what to do about them is done to the other part.
"""

from __future__ import annotations

from collections.abc import Iterable

from ledger.domain.record import Part


def movable(part: Part) -> bool:
    """Whether its holes and edges can still be moved."""
    return part.form == "cut"


def joined(options: Iterable[tuple[Part | None, str]], otherwise: str = "") -> str:
    """What can be done, one or the other, without what would change a part that cannot be; `otherwise` if nothing."""
    kept = [text for part, text in options if part is None or movable(part)]
    return ", or ".join(kept) if kept else otherwise
