"""The version of this program, which every entry of a journal names."""

from __future__ import annotations

PROGRAM = "0.2.0"
DEMO_FIRM = "Pier telescope mount"  # the firm of the demo; keys beside any other job are not its keys


def release_of(version: str) -> tuple[int, ...]:
    """A version for comparing."""
    return tuple(int(n) for n in version.split(".") if n.isascii() and n.isdigit())
