"""
Verdicts of an earlier session, remembered outside the job so that a long list can be shown at once.

A *summary* is what a list shows of a verdict. It is *current* only for the seal of the journal, the program build
and the day it was judged at; anything else is told apart and judged again. A remembered verdict never feeds signing
or locking, which judge afresh.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Final

from ledger.domain.todo import todo_of, todos
from ledger.judge.cache import Cache

if TYPE_CHECKING:
    from ledger.domain.verdict import Verdict

_ROOM: Final = "verdicts"
_LIST: Final = "list"


@dataclass(frozen=True, slots=True)
class Summary:
    """
    What a list shows of a verdict: how many stops ask to fix, to wait and to sign, and in few words why.

    `together` is the set it was judged in.
    """

    number: str
    revision: str
    go: bool
    fix: int
    wait: int
    sign: int
    warnings: int
    why: str = ""
    together: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Stamp:
    """What a verdict depends on besides the part: the journal seal (seq:hash), the program build, the day."""

    seal: str
    build: str
    day: str


@dataclass(frozen=True, slots=True)
class Kept:
    """Summaries by number, all judged at one stamp."""

    stamp: Stamp
    summaries: Mapping[str, Summary]


def summary(verdict: Verdict, waits: str, together: Sequence[str] = ()) -> Summary:
    """What a list shows of this verdict: the worst that is to be fixed, else what it waits on."""
    count = todos(verdict.stops)
    worst = next((s.headline for s in verdict.stops if todo_of(s) == "fix" and not s.follows), "")
    return Summary(
        verdict.part,
        verdict.revision,
        verdict.go,
        count["fix"],
        count["wait"],
        count["sign"],
        len(verdict.warnings),
        worst or waits,
        tuple(together),
    )


def remembered(job: str) -> Kept | None:
    """What is remembered of this job; None where nothing is, or nothing that can be believed."""
    cache = Cache(job)
    kept = cache.read(_ROOM, _LIST)
    cache.close()
    try:
        found = [Summary(**{**row, "together": tuple(row["together"])}) for row in kept["summaries"]]
        return Kept(Stamp(**kept["stamp"]), {s.number: s for s in found})
    except (TypeError, KeyError):
        return None


def remember(job: str, kept: Kept) -> None:
    """Write what was judged, all of it or nothing."""
    rows = [asdict(s) for s in kept.summaries.values()]
    cache = Cache(job)
    cache.write(_ROOM, {_LIST: {"stamp": asdict(kept.stamp), "summaries": rows}})
    cache.close()
