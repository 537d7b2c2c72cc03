"""A row of the part screen, and what the screen reads at once: the part, its verdict and all that hangs on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from rich.text import Text

if TYPE_CHECKING:
    from ledger.domain.connection import Connection
    from ledger.domain.finding import Finding
    from ledger.domain.record import Part
    from ledger.domain.shape import Point
    from ledger.domain.verdict import PermitMade, Verdict
    from ledger.job import Revised


@dataclass(frozen=True, slots=True)
class PartView:
    """
    A part, its verdict, its connections, what was permitted on it and its revisions, as read together.

    `moves` are the holes of its drawing that are off, each with the move in mm, in its own directions, that fixes it;
    `evidence` is what is kept with it and its questions, in words.
    """

    part: Part
    verdict: Verdict
    connections: tuple[Connection, ...]
    permits: tuple[PermitMade, ...] = ()
    revisions: tuple[Revised, ...] = ()
    together: tuple[str, ...] = ()
    figures: tuple[tuple[str, str], ...] = ()
    moves: Mapping[str, Point] = field(default_factory=dict)
    evidence: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Row:
    """One row. `kind` and `name` say what Enter opens; a heading opens nothing."""

    text: Text
    kind: str = ""
    name: str = ""
    finding: Finding | None = field(default=None)
    heading: bool = False

    @property
    def key(self) -> tuple[str, ...]:
        """What makes it the same row after the part was read again."""
        found = self.finding
        return (found.code, found.where) if found else (self.kind, self.name, "")


def heading(words: str) -> Row:
    """A line over the rows of one kind."""
    return Row(Text(words, style="bold underline"), heading=True)
