"""
Outcomes of checks kept outside the job, so that after a change only what the change concerns is looked at again.

An outcome is kept under the check's name, the program build, and a digest of its argument. The same argument gives the
same outcome, so nothing here goes stale. Screens and reports are shown kept outcomes; signing and locking judge afresh.
The file lies in the user's cache folder and may be lost or damaged at any time: what cannot be read is looked at again.
A check that crashed is never kept.

Its first line names the job and the build; every further one is an outcome with a short digest of itself, and is only
ever added, so that two workstations on one machine do not disturb each other. What grows too long is replaced.
"""

from __future__ import annotations

import hashlib
import json
import logging
import os
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
from typing import Any, cast

from ledger.cases.surroundings import OfConnection, OfPart
from ledger.checks._frame import Check
from ledger.domain.finding import Finding
from ledger.domain.gate import Outcome, State
from ledger.judge.build import build
from ledger.judge.summaries import cache_folder

_LOG = logging.getLogger(__name__)
_FORM = 2
_MOST_BYTES = 200_000_000
_MOST = 500_000  # outcomes
_SEAL = 12
_PLAIN: dict[str, list[Any]] = {"ran": ["ran", "", []], "none": ["does not apply", "", []]}

Kept = dict[str, dict[str, Any]]  # by case, then by check


@dataclass
class Outcomes:
    """What is kept of one job. `looked` and `found` count how often a check was run and how often it was spared."""

    job: str
    looked: int = 0
    found: int = 0
    _kept: Kept | None = field(default=None, repr=False)
    _used: set[str] = field(default_factory=set, repr=False)
    _fresh: list[str] = field(default_factory=list, repr=False)
    _whole: bool = field(default=False, repr=False)
    _one: Lock = field(default_factory=Lock, repr=False)

    def of(self, rule: Check, argument: OfPart | OfConnection, key: str, subject: str) -> Outcome:
        """The outcome of a check of an argument with this digest: as kept, else looked at and kept."""
        kept = self._all()
        self._used.add(key)
        packed = kept.get(key, {}).get(rule.name)
        if packed is not None and (outcome := _unpacked(packed, rule, subject)) is not None:
            self.found += 1
            return outcome
        self.looked += 1
        outcome = rule.run(argument, subject)
        if outcome.state != "error":
            packed = _packed(outcome)
            kept.setdefault(key, {})[rule.name] = packed
            self._fresh.append(_line(key, rule.name, packed))
        return outcome

    def save(self) -> None:
        """Write what is new; what does not get written is looked at again another time."""
        with self._one:
            fresh, self._fresh = self._fresh, []
            if not fresh or self._kept is None:
                return
            try:
                if self._whole and sum(map(len, self._kept.values())) <= _MOST:
                    _add(self.job, fresh)
                else:
                    self._write_anew()
            except OSError as fault:
                _LOG.debug("outcomes are not kept in %s: %s", _file(self.job), fault)

    def _write_anew(self) -> None:
        """The whole file, with what was used in this sitting where all of it is too much."""
        kept = dict(self._kept or {})
        if sum(map(len, kept.values())) > _MOST:
            kept = {key: kept[key] for key in self._used if key in kept}
        path = _file(self.job)
        waiting = path.with_suffix(f".{os.getpid()}")
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        lines = [
            _line(key, name, packed) for key, by_check in kept.items() for name, packed in by_check.items()
        ]
        waiting.write_text("\n".join((_head(self.job), *lines, "")))
        waiting.replace(path)
        self._whole = True

    def _all(self) -> Kept:
        with self._one:
            if self._kept is None:
                found = _read(self.job)
                self._whole, self._kept = found is not None, found or {}
            return self._kept


def _read(job: str) -> Kept | None:
    """What is kept of a job by this program; None where the file is another job's or build's, or none."""
    path = _file(job)
    kept: Kept = {}
    try:
        if path.stat().st_size > _MOST_BYTES:
            return None
        head, *lines = path.read_text(errors="replace").split("\n")
    except OSError as fault:
        _LOG.debug("no kept outcomes in %s: %s", path, fault)
        return None
    if head != _head(job):
        return None
    for line in lines:
        seal, text = line[:_SEAL], line[_SEAL:]
        if text and _seal(text) == seal:
            key, name, packed = json.loads(text)
            kept.setdefault(key, {})[name] = packed
    return kept


def _add(job: str, lines: list[str]) -> None:
    """Lines behind the others, in one go."""
    path = os.open(_file(job), os.O_WRONLY | os.O_APPEND)
    try:
        os.write(path, ("\n".join((*lines, ""))).encode())
    finally:
        os.close(path)


def _head(job: str) -> str:
    return json.dumps({"form": _FORM, "job": job, "build": build()})


def _line(key: str, name: str, packed: Any) -> str:
    text = json.dumps([key, name, packed], separators=(",", ":"))
    return _seal(text) + text


def _seal(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:_SEAL]


def _packed(outcome: Outcome) -> Any:
    whole = [outcome.state, outcome.reason, [f.to_json() for f in outcome.findings]]
    if outcome.undrawn:
        return [*whole, outcome.undrawn]
    return next((name for name, plain in _PLAIN.items() if plain == whole), whole)


def _unpacked(packed: Any, rule: Check, subject: str) -> Outcome | None:
    """The outcome that was kept; None for anything that is none."""
    try:
        state, reason, findings, *undrawn = _PLAIN[packed] if isinstance(packed, str) else packed
        found = tuple(Finding.from_json(f) for f in findings)
    except (ValueError, TypeError, KeyError):
        return None
    if state not in ("ran", "not run", "does not apply") or not {f.code for f in found} <= set(rule.codes):
        return None
    return Outcome(
        rule.name, subject, cast("State", state), found, str(reason), undrawn="".join(map(str, undrawn))
    )


def _file(job: str) -> Path:
    name = hashlib.sha256(job.encode()).hexdigest()[:24]
    return cache_folder() / f"outcomes-{name}.jsonl"
