"""
What to do first: the steps that stop parts, those that free the most parts before the others.

A *step* is one stop with its place, whichever parts it stops; signatures and partners that are still open are no steps
of their own, since they follow from others. A step *frees* a part when the part is stopped by it, or waits on a part
that is. It frees a part *alone* when nothing else stops it. A question *waits* for other steps: these come before it,
and free what it stops as well, since it cannot be decided without them. What may follow from a wrong drawing comes
behind the stop that is about the drawing, of the same part or of its connections (`cause`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from ledger.domain.cause import is_cause, may_follow, rank
from ledger.domain.finding import Finding
from ledger.domain.verdict import SIGNED_OVER, Verdict

Key: TypeAlias = tuple[str, str]
Order: TypeAlias = tuple[bool, int, int, int, int, str, str]
Waits: TypeAlias = Mapping[Key, tuple[Key, ...]]
_DECIDED_FIRST = ("question_open", "not_measured", "assumed", "not_proven")


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do: a stop, the part to open for it, the parts that it stops, and all that wait on them."""

    finding: Finding
    part: str
    stops: tuple[str, ...]
    frees: tuple[str, ...]
    alone: tuple[str, ...]
    depends_on: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {
            "finding": self.finding.to_json(),
            "part": self.part,
            "stops": list(self.stops),
            "frees": list(self.frees),
            "alone": list(self.alone),
            "depends_on": list(self.depends_on),
        }


def first_steps(verdicts: Iterable[Verdict], depends_on: Waits | None = None) -> tuple[Step, ...]:
    """
    Every step, the one that frees the most parts first; among equals what is decided or measured goes first,
    then causes.

    `waits` says of a step, by code and place, which others it waits for; a place alone stands for all stops of a part.
    """
    verdicts = tuple(verdicts)
    stopped: defaultdict[tuple[str, str], list[str]] = defaultdict(list)
    known: dict[tuple[str, str], Finding] = {}
    waiting: defaultdict[str, set[str]] = defaultdict(set)
    for verdict in verdicts:
        for stop in verdict.stops:
            if stop.code == "partner_open":
                waiting[stop.where.rpartition("/")[2]].add(verdict.part)
            if stop.code not in SIGNED_OVER:
                key = _key(stop, verdict.part)
                stopped[key].append(verdict.part)
                known.setdefault(key, stop)
    only = {v.part: [_key(s, v.part) for s in v.stops if s.code not in SIGNED_OVER] for v in verdicts}
    before = _before(depends_on or {}, only, stopped.keys())
    steps = [
        Step(
            known[key],
            parts[0],
            tuple(sorted(parts)),
            _reached([p for k in _behind(key, before) for p in stopped[k]], waiting),
            tuple(sorted(p for p in parts if only[p] == [key])),
            tuple(known[k].where for k in before.get(key, ())),
        )
        for key, parts in stopped.items()
    ]
    causes = [s for s in steps if is_cause(s.finding.code)]
    return tuple(sorted(steps, key=lambda s: _behind_cause(s, causes)))


def _behind_cause(step: Step, causes: Sequence[Step]) -> tuple[Order, bool, Order]:
    """The order of a step; of what may follow from a cause in a part that it stops, that of the last such cause."""
    own = _order(step)
    if not may_follow(step.finding.code):
        return own, False, own
    return max([own, *(_order(c) for c in causes if {*c.stops} & {*step.stops})]), True, own


def _before(
    depends_on: Waits, of_part: Mapping[str, Sequence[Key]], steps: Collection[Key]
) -> dict[Key, list[Key]]:
    """For each step the steps it waits for; of a part, all that stop it."""
    found = {}
    for key, named in depends_on.items():
        each = [k for code, place in named for k in ([(code, place)] if code else of_part.get(place, ()))]
        found[key] = [k for k in dict.fromkeys(each) if k in steps and k != key]
    return found


def _behind(key: Key, before: Mapping[Key, Sequence[Key]]) -> list[Key]:
    """A step and all that wait for it, however long the chain."""
    found, todo = [key], [key]
    while todo:
        now = todo.pop()
        for waiting, named in before.items():
            if now in named and waiting not in found:
                found.append(waiting)
                todo.append(waiting)
    return found


def _key(stop: Finding, part: str) -> Key:
    """What makes two stops one step: a connection's is one for both its parts, a question's one for all it holds up."""
    if stop.code == "question_open" and "/" in stop.where:
        owner, _, ident = stop.where.rpartition("/")
        return stop.code, f"{owner}:{ident}"
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


def _order(step: Step) -> Order:
    code = step.finding.code
    decided = _DECIDED_FIRST.index(code) if code in _DECIDED_FIRST else len(_DECIDED_FIRST)
    return (
        bool(step.depends_on), -len(step.frees), -len(step.alone), decided, rank(code), code, step.finding.where
    )  # fmt: skip
