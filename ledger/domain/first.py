"""
What to do first: the steps that stop parts, those that free the most parts before the others.

A *step* is one stop with its place, whichever parts it stops; signatures and partners that are still open are no steps
of their own, since they follow from others. A step *frees* a part when the part is stopped by it, or waits on a part
that is. It frees a part *alone* when nothing else stops it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from ledger.domain.finding import Finding
from ledger.domain.gate import Verdict

_FOLLOW = ("partner_open", "role_missing", "unacknowledged")
_DECIDED_FIRST = ("question_open", "not_measured", "assumed", "not_proven")


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do: a stop, the part to open for it, the parts that it stops, and all that wait on them."""

    finding: Finding
    part: str
    stops: tuple[str, ...]
    frees: tuple[str, ...]
    alone: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {
            "finding": self.finding.to_json(),
            "part": self.part,
            "stops": list(self.stops),
            "frees": list(self.frees),
            "alone": list(self.alone),
        }


def first_steps(verdicts: Iterable[Verdict]) -> tuple[Step, ...]:
    """Every step, the one that frees the most parts first; among equals what is decided or measured goes first."""
    verdicts = tuple(verdicts)
    stopped: defaultdict[tuple[str, str], list[str]] = defaultdict(list)
    known: dict[tuple[str, str], Finding] = {}
    waiting: defaultdict[str, set[str]] = defaultdict(set)
    for verdict in verdicts:
        for stop in verdict.stops:
            if stop.code == "partner_open":
                waiting[stop.where.rpartition("/")[2]].add(verdict.part)
            if stop.code not in _FOLLOW:
                key = _key(stop, verdict.part)
                stopped[key].append(verdict.part)
                known.setdefault(key, stop)
    only = {v.part: [_key(s, v.part) for s in v.stops if s.code not in _FOLLOW] for v in verdicts}
    steps = [
        Step(
            known[key],
            parts[0],
            tuple(sorted(parts)),
            _reached(parts, waiting),
            tuple(sorted(p for p in parts if only[p] == [key])),
        )
        for key, parts in stopped.items()
    ]
    return tuple(sorted(steps, key=_order))


def _key(stop: Finding, part: str) -> tuple[str, str]:
    """What makes two stops one step: a matter of a mate is one for both its parts."""
    return stop.code, stop.where if "/" in stop.where else f"{part}:{stop.where}"


def _reached(parts: Sequence[str], waiting: dict[str, set[str]]) -> tuple[str, ...]:
    """These parts and all that wait on them, however long the chain; a ring of waiting ends."""
    found, todo = set(parts), list(parts)
    while todo:
        for part in waiting.get(todo.pop(), ()):
            if part not in found:
                found.add(part)
                todo.append(part)
    return tuple(sorted(found))


def _order(step: Step) -> tuple[int, int, int, str, str]:
    code = step.finding.code
    rank = _DECIDED_FIRST.index(code) if code in _DECIDED_FIRST else len(_DECIDED_FIRST)
    return -len(step.frees), -len(step.alone), rank, code, step.finding.where
