"""A key short enough to compare by eye, or over the phone."""

from __future__ import annotations

_FIGURES, _GROUP = 20, 4


def short_key(key: str) -> str:
    """The first 20 figures of a public key (80 bits) in groups of four; empty for none."""
    start = key[:_FIGURES]
    return " ".join(start[k : k + _GROUP] for k in range(0, len(start), _GROUP))
