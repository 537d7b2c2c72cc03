"""A hole group in one go: named, and what it is placed from."""

from __future__ import annotations

from collections.abc import Callable

from sqlmodel import Session

from ledger.acts.base import Act, make
from ledger.acts.bends import ReferGroup
from ledger.acts.parts import NameGroup


def name_group(
    _facts: Session, do: Callable[[Act], int], number: str, name: str, labels: tuple[str, ...], reference: str
) -> int:
    """Name a group, say what it is placed from, or both; the last entry. Raises UnknownName, BadInput."""
    entry = 0
    if labels or not reference:
        entry = do(make(NameGroup, number=number, name=name, labels=labels))
    return do(make(ReferGroup, number=number, name=name, reference=reference)) if reference else entry
