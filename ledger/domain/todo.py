"""What a stop asks for: to *fix* something, to *wait* for another part or an answer, or to *sign*."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Final, Literal, TypeAlias

from ledger.domain.finding import Finding

Todo: TypeAlias = Literal["fix", "wait", "sign"]
TODOS: Final[tuple[Todo, ...]] = ("fix", "wait", "sign")
_WAITS: Final = frozenset({"partner_open", "question_open"})
_SIGNS: Final = frozenset({"role_missing", "unacknowledged"})


def todo_of(stop: Finding) -> Todo:
    """What this stop asks for."""
    if stop.code in _SIGNS:
        return "sign"
    return "wait" if stop.code in _WAITS else "fix"


def todos(stops: Iterable[Finding]) -> Counter[Todo]:
    """How many of each; a stop that only follows from another one asks for nothing of its own."""
    return Counter(todo_of(s) for s in stops if not s.follows)
