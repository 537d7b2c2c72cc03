"""
Verdicts of an earlier sitting, remembered outside the job so that a long list can be shown at once.

A *summary* is what a list shows of a verdict. It is *current* only for the seal of the journal, the program build
and the day it was judged at; anything else is told apart and judged again. A remembered verdict never feeds signing
or locking, which judge afresh. The file lies in the user's cache folder; losing it costs time only, so a fault in
reading it means nothing is remembered, and a fault in writing it is a debug line.
"""

from __future__ import annotations

import hashlib
import json
import logging
import os
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ledger.domain.gate import Verdict

_LOG = logging.getLogger(__name__)
_FORM = 2
_MOST_BYTES = 50_000_000


@dataclass(frozen=True, slots=True)
class Summary:
    """
    What a list shows of a verdict: how many stops and warnings, and in few words what it waits on.

    `together` is the set it was judged in.
    """

    number: str
    revision: str
    go: bool
    stops: int
    warnings: int
    waits: str = ""
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
    """What a list shows of this verdict."""
    return Summary(
        verdict.part,
        verdict.revision,
        verdict.go,
        len(verdict.stops),
        len(verdict.warnings),
        waits,
        tuple(together),
    )


def remembered(job: str) -> Kept | None:
    """What is remembered of this job; None where nothing is, or the file is damaged or another job's."""
    path = _file(job)
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise ValueError("too large")  # noqa: TRY301 - one way out for every kind of damage
        sealed = json.loads(path.read_bytes())
        if sealed["digest"] != _digest(sealed["kept"]):
            raise ValueError("its digest is another one")  # noqa: TRY301 - as above
        kept = json.loads(sealed["kept"])
        if (kept["form"], kept["job"]) != (_FORM, job):
            raise ValueError("of another job or another form")  # noqa: TRY301 - as above
        found = [Summary(**{**row, "together": tuple(row["together"])}) for row in kept["summaries"]]
        return Kept(Stamp(**kept["stamp"]), {s.number: s for s in found})
    except FileNotFoundError:
        return None
    except (OSError, ValueError, TypeError, KeyError, RecursionError) as fault:
        _LOG.debug("remembered verdicts in %s are left aside: %s", path, fault)
        return None


def remember(job: str, kept: Kept) -> None:
    """Write what was judged; the file is whole or as it was."""
    path = _file(job)
    stamp = {"seal": kept.stamp.seal, "build": kept.stamp.build, "day": kept.stamp.day}
    rows = [asdict(s) for s in kept.summaries.values()]
    text = json.dumps({"form": _FORM, "job": job, "stamp": stamp, "summaries": rows})
    waiting = path.with_suffix(f".{os.getpid()}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        waiting.write_text(json.dumps({"digest": _digest(text), "kept": text}))
        waiting.replace(path)
    except OSError as fault:
        _LOG.debug("verdicts are not remembered in %s: %s", path, fault)


def cache_folder() -> Path:
    """Where it is remembered: FITUP_CACHE, else the user's cache folder."""
    stated = os.environ.get("FITUP_CACHE")
    if stated:
        return Path(stated)
    base = os.environ.get("XDG_CACHE_HOME")
    return (Path(base) if base else Path.home() / ".cache") / "fitup"


def _file(job: str) -> Path:
    name = hashlib.sha256(job.encode()).hexdigest()[:24]
    return cache_folder() / f"verdicts-{name}.json"


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
