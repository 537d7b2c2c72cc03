"""
What a command answers at once to what was just recorded: whether it fits, with how much margin, and why not.

One line, and where something stops a second one with its first fix.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

from ledger.domain.finding import Finding
from ledger.domain.plural import counted

BOLT_CODES: Final = frozenset(
    {
        *("bolt_short", "bolt_long", "bolt_hits", "bolt_stands_out", "bolt_odd_length", "bolt_required"),
        *("thread_short", "no_metal_to_tap", "falls_through", "hole_left_open"),
    }
)  # what is said of a connection's bolts
_MOST: Final = 4  # answers that are told one by one
_RANK: Final = {False: 0, None: 1, True: 2}


@dataclass(frozen=True, slots=True)
class Answer:
    """
    What became of one thing: a connection, a dimension, a clearance.

    `fits` is None where nothing is known yet, and `words` then say what is missing. `findings` are its stops and
    warnings, stops first.
    """

    about: str
    fits: bool | None
    words: str
    findings: tuple[Finding, ...] = ()

    @property
    def stops(self) -> tuple[Finding, ...]:
        """What stands against it."""
        return tuple(f for f in self.findings if f.severity == "stop")

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        found = [f.to_json() for f in self.findings]
        return {"about": self.about, "fits": self.fits, "words": self.words, "findings": found}


def answer_lines(answer: Answer) -> Iterator[str]:
    """The answer in one line, or two: of what stops the headline, how many more there are, and the first fix."""
    stops = answer.stops
    line = f"{answer.about}: {answer.words}"
    if answer.fits is False and stops:
        more = f", and {counted(len(stops) - 1, 'more stop')}" if len(stops) > 1 else ""
        said = answer.words if stops[0].headline.startswith(answer.about) else line
        yield f"{said}: {stops[0].headline}  [{stops[0].code}]{more}"
        if stops[0].fix:
            yield f"  {stops[0].first_fix}"
        return
    warned = Counter(f.code for f in answer.findings if f.severity == "warning")
    codes = ", ".join(f"{code} {n}" if n > 1 else code for code, n in sorted(warned.items()))
    yield f"{line}; {counted(sum(warned.values()), 'warning')} ({codes})" if warned else line


def answers_lines(answers: Sequence[Answer]) -> Iterator[str]:
    """Several answers, what stops first; more than a few are counted."""
    ordered = sorted(answers, key=lambda a: _RANK[a.fits])
    for answer in ordered[:_MOST]:
        yield from answer_lines(answer)
    left = ordered[_MOST:]
    if left:
        good = sum(a.fits is True for a in left)
        yield f"and {counted(len(left), 'more connection')}, of which {good} fit"
