"""
Outcomes of checks kept outside the job, so that after a change only what the change concerns is looked at again.

An outcome is kept under the check's name and a digest of its argument, of which the program build is part. The same
argument gives the same outcome, so nothing here goes stale. Screens and reports are shown kept outcomes; signing and
locking judge afresh. A check that crashed is never kept.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from threading import Lock
from typing import Any, Final, cast

from ledger.cases.surroundings import OfConnection, OfPart
from ledger.checks._frame import Check
from ledger.domain.finding import Finding
from ledger.domain.verdict import Outcome, State
from ledger.judge.cache import Cache

_ROOM: Final = "outcome"
_PLAIN: dict[str, list[Any]] = {"ran": ["ran", "", []], "none": ["does not apply", "", []]}


@dataclass
class Outcomes:
    """What is kept of one job. `looked` and `found` count how often a check was run and how often it was spared."""

    job: str
    looked: int = 0
    found: int = 0
    _known: dict[str, Any] = field(default_factory=dict, repr=False)  # of this session
    _fresh: set[str] = field(default_factory=set, repr=False)
    _used: set[str] = field(default_factory=set, repr=False)
    _one: Lock = field(default_factory=Lock, repr=False)
    _cache: Cache = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self._cache = Cache(self.job)

    def of(self, rule: Check, argument: OfPart | OfConnection, digest: str, subject: str) -> Outcome:
        """The outcome of a check of an argument with this digest: as kept, else looked at and kept."""
        key = f"{rule.name} {digest}"
        packed = self._kept(key)
        if packed is not None and (outcome := _unpacked(packed, rule, subject)) is not None:
            self.found += 1
            return outcome
        self.looked += 1
        outcome = rule.run(argument, subject)
        if outcome.state != "error":
            with self._one:
                self._known[key] = _packed(outcome)
                self._fresh.add(key)
        return outcome

    def save(self) -> None:
        """Write what is new; what cannot be written now is written another time, or looked at again."""
        with self._one:
            if (self._fresh or self._used) and self._cache.write(
                _ROOM, {key: self._known[key] for key in self._fresh}, self._used
            ):
                self._fresh.clear()
                self._used.clear()
            self._cache.close()

    def _kept(self, key: str) -> Any:
        with self._one:
            if key not in self._known:
                found = self._cache.read(_ROOM, key)
                if found is None:
                    return None
                self._known[key] = found
                self._used.add(key)
            return self._known[key]


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
