"""
The critical path: the early and the late time of everything that waits on something else.

An *activity* takes its duration in its own days. A *link* says what waits: the start or finish of one activity on the
start or finish of another (FS, SS, FF, SF), with a lag. The forward pass gives the early times, the backward pass from
the last of them, or from the day that the job has, the late ones. *Slack* is what an activity can slip without moving
that day; where it is smallest, the path is *critical*. Source: Kelley and Walker 1959; links as in ISO 21511 practice.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal, Protocol

from ledger.domain.errors import BadInput, UnknownName, visible

Kind = Literal["FS", "SS", "FF", "SF"]


class Days(Protocol):
    """How durations run: straight on, or over working days only."""

    def forward(self, at: Any, length: Any, /) -> tuple[Any, Any]:
        """Start and finish of what can start at a time."""

    def backward(self, at: Any, length: Any, /) -> tuple[Any, Any]:
        """Start and finish of what must be done by a time."""

    def between(self, start: Any, finish: Any, /) -> Any:
        """From one time to another, negative where it is before."""


class _Straight:
    """Every day counts."""

    def forward(self, at: float, length: float) -> tuple[float, float]:
        return at, at + length

    def backward(self, at: float, length: float) -> tuple[float, float]:
        return at - length, at

    def between(self, start: float, finish: float) -> float:
        return finish - start


STRAIGHT: Final = _Straight()


@dataclass(frozen=True, slots=True)
class Activity:
    """Something that takes time; `not_before` is the earliest that it can start."""

    name: str
    duration: float
    days: Days = STRAIGHT
    not_before: float | None = None


@dataclass(frozen=True, slots=True)
class Link:
    """`after` waits on `before`: its start or finish (second letter) on the other's (first letter), `lag` later."""

    before: str
    after: str
    kind: Kind = "FS"
    lag: float = 0


@dataclass(frozen=True, slots=True)
class Times:
    """Early start and finish, late start and finish, and the slack, in days of the activity's own calendar."""

    early_start: float
    early_finish: float
    late_start: float
    late_finish: float
    slack: float


def critical_path(
    activities: Iterable[Activity], links: Iterable[Link], *, start: float = 0, finish: float | None = None
) -> dict[str, Times]:
    """
    Early and late times of every activity, by name, in an order in which they can be done.

    Nothing starts before `start`; everything is to be done by `finish`, else by the earliest that it can be. Raises
    BadInput for a negative duration, a name told twice and a ring of waiting, UnknownName for a link to nothing.
    """
    known = _known(activities)
    into: dict[str, list[Link]] = defaultdict(list)
    out: dict[str, list[Link]] = defaultdict(list)
    for link in links:
        for name in (link.before, link.after):
            if name not in known:
                raise UnknownName("activity of the schedule", name, known)
        into[link.after].append(link)
        out[link.before].append(link)
    order = _in_order(known, into, out)
    early: dict[str, tuple[float, float]] = {}
    for name in order:
        early[name] = _early(known[name], into[name], early, start)
    end = max((f for _, f in early.values()), default=start) if finish is None else finish
    late: dict[str, tuple[float, float]] = {}
    for name in reversed(order):
        late[name] = _late(known[name], out[name], late, end)
    return {n: Times(*early[n], *late[n], known[n].days.between(early[n][0], late[n][0])) for n in order}


def critical(times: Mapping[str, Times]) -> tuple[str, ...]:
    """What cannot slip: the activities with the least slack, in order."""
    least = min((t.slack for t in times.values()), default=0)
    return tuple(name for name, t in times.items() if t.slack <= least + 1e-9)


def _known(activities: Iterable[Activity]) -> dict[str, Activity]:
    known: dict[str, Activity] = {}
    for one in activities:
        if one.name in known:
            raise BadInput(f"{visible(one.name)} is in the schedule twice; expected each name once")
        if not one.duration >= 0:
            raise BadInput(f"{visible(one.name)} takes {one.duration} days; expected 0 or more")
        known[one.name] = one
    return known


def _in_order(
    known: Mapping[str, Activity], into: Mapping[str, Sequence[Link]], out: Mapping[str, Sequence[Link]]
) -> list[str]:
    """Every name behind all that it waits on, otherwise as they came. Raises BadInput naming a ring."""
    missing = {name: len(into.get(name, ())) for name in known}
    found = [name for name in known if not missing[name]]
    for name in found:  # grows while it is read
        for link in out.get(name, ()):
            missing[link.after] -= 1
            if not missing[link.after]:
                found.append(link.after)
    if len(found) < len(known):
        raise BadInput(f"the schedule has a ring: {' waits on '.join(map(visible, _ring(into, missing)))}")
    return found


def _ring(into: Mapping[str, Sequence[Link]], missing: Mapping[str, int]) -> list[str]:
    """One ring among what could not be put in order, from a name to the same."""
    now = next(name for name, left in missing.items() if left)
    walked: list[str] = []
    while now not in walked:
        walked.append(now)
        now = next(link.before for link in into[now] if missing[link.before])
    return [*walked[walked.index(now) :], now]


def _early(
    one: Activity, into: Sequence[Link], early: Mapping[str, tuple[float, float]], start: float
) -> tuple[float, float]:
    at = start if one.not_before is None else max(start, one.not_before)
    for link in into:
        reached = _moved(one.days, early[link.before]["SF".index(link.kind[0])], link.lag)
        at = max(at, reached if link.kind[1] == "S" else one.days.backward(reached, one.duration)[0])
    return one.days.forward(at, one.duration)


def _late(
    one: Activity, out: Sequence[Link], late: Mapping[str, tuple[float, float]], end: float
) -> tuple[float, float]:
    at = end
    for link in out:
        reached = _moved(one.days, late[link.after]["SF".index(link.kind[1])], -link.lag)
        at = min(at, reached if link.kind[0] == "F" else one.days.forward(reached, one.duration)[1])
    return one.days.backward(at, one.duration)


def _moved(days: Days, at: float, lag: float) -> float:
    """A time so many days later, or earlier."""
    if not lag:
        return at
    moved: float = days.forward(at, lag)[1] if lag > 0 else days.backward(at, -lag)[0]
    return moved
