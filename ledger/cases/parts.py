"""
What the rules about parts look at: one revision of a part, alone or with its surroundings.
"""

from __future__ import annotations

from dataclasses import dataclass

from ledger.domain.record import Part, Question


@dataclass(frozen=True, slots=True)
class PartCase:
    """A part, the names of the connections it is in, and its twin of the opposite hand."""

    part: Part
    connections: tuple[str, ...] = ()
    twin: Part | None = None


@dataclass(frozen=True, slots=True)
class SurroundedPart:
    """
    A part with the parts it could be taken for, the set it is judged in, and the questions that block it.

    `others` are parts that it could be taken for, nearest first; so many more were left out as `others_left` says.
    `blocking` are open questions about other parts that block it; `late` are the days that questions are past; `asked`
    are the codes that the policy makes stops, for what is only looked at where somebody asks for it.
    """

    case: PartCase
    others: tuple[Part, ...] = ()
    others_left: int = 0
    together: tuple[str, ...] = ()
    blocking: tuple[tuple[str, Question], ...] = ()
    late: tuple[str, ...] = ()
    asked: tuple[str, ...] = ()
