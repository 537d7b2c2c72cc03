"""A count with its noun, as it is spoken."""

from __future__ import annotations


def counted(count: int, one: str, many: str = "") -> str:
    """`1 hole`, `2 holes`; `many` where an s does not make the plural, or where a verb follows."""
    return f"{count} {one if count == 1 else many or one + 's'}"
