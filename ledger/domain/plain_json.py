"""Plain values out of JSON that somebody may have altered: each is what it is to be, or refused."""

from __future__ import annotations


def words(value: object) -> str:
    """A text. Raises TypeError."""
    if not isinstance(value, str):
        raise TypeError(f"expected text, found {type(value).__name__}")
    return value


def word_list(value: object) -> tuple[str, ...]:
    """A list of texts. Raises TypeError."""
    if not isinstance(value, list):
        raise TypeError(f"expected a list, found {type(value).__name__}")
    return tuple(map(words, value))


def finite(value: object) -> float:
    """A number that was written as text. Raises TypeError, ValueError."""
    number = float(words(value))
    if not abs(number) < float("inf"):
        raise ValueError(f"{value} is not a finite number")
    return number
