"""
Giving and withdrawing permits: which finding, and between which revisions, as it is told now.

A finding of a connection is told at each of its parts, and one permit covers it at all of them: it names every part at
the revision that was looked at. What is signed is only that; with another revision of any of them it is asked again.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session

from ledger.acts.permits import Permit, WithdrawPermit
from ledger.domain.amounts import read_amount
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.finding import Finding
from ledger.domain.moment import day
from ledger.domain.quantity import plain
from ledger.domain.verdict import Outcome, revisions_text
from ledger.judge.bench import Bench
from ledger.judge.verdicts import Judging
from ledger.release.signer import Signer

Telling = tuple[
    str, tuple[tuple[str, str], ...]
]  # a connection with (number, revision) of each part; or one part


@dataclass(frozen=True, slots=True)
class ToPermit:
    """A finding as permits would name it: for each connection that tells it, or for the part that it is about."""

    finding: Finding
    tellings: tuple[Telling, ...]

    @property
    def parts(self) -> tuple[tuple[str, str], ...]:
        """Every part that it would be covered at, each with its revision."""
        return tuple(sorted({part for _, parts in self.tellings for part in parts}))

    @property
    def text(self) -> str:
        """These parts in words."""
        return revisions_text(self.parts)


def to_permit(bench: Bench, number: str, code: str, place: str) -> ToPermit:
    """
    What a permit of this finding would cover: as the part was last signed, else by itself, else with open partners.

    Raises UnknownName where it is told in none of these.
    """
    told: dict[str, None] = {}
    for laid in _laid(bench, number):
        verdict, outcomes = laid.judged(number)
        for finding in (*verdict.stops, *verdict.warnings):
            if (finding.code, finding.where) == (code, place):
                own = ("", ((number, verdict.revision),))
                return ToPermit(finding, _uncovered(laid, own, finding, outcomes) or (own,))
            told[f"{finding.code} at {finding.where}"] = None
    raise UnknownName("finding", f"{code} at {place}" if place else code, sorted(told))


def would_cover(judging: Judging, number: str, code: str, place: str) -> ToPermit:
    """The same, of a part by itself or with its set. Raises UnknownName."""
    with judging.store.reading() as facts, judging.kept():
        return to_permit(judging.bench(facts, (number,), kept=True), number, code, place)


def permit(
    signer: Signer, write: Session, bench: Bench, number: str, seen: ToPermit | None, **fields: str
) -> ToPermit:
    """
    Accept one finding in writing (`code`, `place`, `reason`, `until`, `up_to`); what is covered.

    Raises BadInput where it is told otherwise than in what was `seen`, where what is found is beyond `up_to` already,
    or has no value to hold it to.
    """
    found = to_permit(bench, number, fields["code"], fields["place"])
    if seen is not None and seen.tellings != found.tellings:
        raise BadInput(f"{fields['code']} is now told of {found.text}, not of {seen.text}: look again")
    give(signer, write, bench, found, **fields)
    return found


def _laid(bench: Bench, number: str) -> Iterator[Bench]:
    """The ways in which faces show the part, each once."""
    seen = set()
    connections = bench.records.connections_of(number)
    for laid in (bench.as_last_signed(number), bench, *(bench.as_judged(c) for c in connections)):
        if laid.together not in seen:
            seen.add(laid.together)
            yield laid


def _uncovered(
    bench: Bench, own: Telling, finding: Finding, outcomes: tuple[Outcome, ...]
) -> tuple[Telling, ...]:
    """The tellings of a finding that no permit covers yet, each once: two connections may tell the same of a third."""
    ((number, _),) = own[1]
    permits = tuple(bench.permits(bench.part(bench.records.newest(number))))
    found: dict[Telling, None] = {}
    for told in outcomes:
        same = [f for f in told.findings if (f.code, f.where) == (finding.code, finding.where)]
        if same and not all(any(p.covers(f, told) for p in permits) for f in same):
            found[(told.subject, told.plies) if told.plies else own] = None
    return tuple(found)


def give(signer: Signer, write: Session, bench: Bench, found: ToPermit, **fields: str) -> None:
    """Write signed permits of what was found, one for each telling. Raises BadInput."""
    above = _reaches(found.finding, bench.today, fields.get("until", ""), fields.get("up_to", ""))
    for connection, parts in found.tellings:
        named = tuple({"number": number, "revision": revision} for number, revision in parts)
        whose: dict[str, Any] = {"connection": connection, "parts": named}
        signer.append(write, signer.act(bench.facts, Permit, above=above, **whose, **fields))


def withdraw(signer: Signer, write: Session, facts: Session, permit: int, reason: str) -> None:
    """Write that the permit of this entry no longer holds, for all the parts that it names. Raises BadInput."""
    fields: dict[str, Any] = {"permit": permit, "reason": reason}
    signer.append(write, signer.act(facts, WithdrawPermit, **fields))


def _reaches(finding: Finding, today: str, until: str, up_to: str) -> bool:
    """Whether what is permitted lies above its bound. Raises BadInput for bounds that do not cover what is found."""
    if until and day(until).isoformat() < today:
        raise BadInput(f"a permit until {until} is over already: it is {today} in UTC")
    if not up_to:
        return False
    if not finding.value:
        raise BadInput(
            f"{finding.code} has no value that a permit could hold it to: give it a last day instead"
        )
    if not finding.no_worse_than(plain(read_amount(up_to).mm), above=finding.above):
        raise BadInput(
            f"a permit up to {visible(up_to)} does not cover what is found: {finding.measured}, limit {finding.limit}"
        )
    return finding.above
