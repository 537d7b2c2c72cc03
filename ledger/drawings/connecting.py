"""
The connections that the drawings of a job speak of, and those of them that somebody marks recorded in one go.

Proposals are numbered from 1, best first; one that is recorded keeps its number, so that numbers stay as they were
shown while the drawings do. *Marks* name proposals: `1,3..5`, `2b` with the choice, `all` for every one that is
proposed and leaves nothing to choose.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from string import ascii_lowercase
from typing import Any, Final

from sqlmodel import Session

from ledger.acts.base import Act, make, newest_part
from ledger.acts.connections import RecordConnection
from ledger.acts.parts import NameGroup
from ledger.domain.errors import BadInput, visible
from ledger.domain.names import LONGEST_NAME
from ledger.store import facts as read
from ledger.store.tables import ConnectionFact, PlyFact
from ledger.suggestion.patterns import Plate
from ledger.suggestion.proposals import Choice, Proposal, proposals
from ledger.suggestion.words import choices, headline, reasons

Do = Callable[[Act], int]
ALL: Final = "all"
_MARK: Final = re.compile(r"(\d{1,5})(?:\.\.(\d{1,5})|([a-l]))?")


@dataclass(frozen=True, slots=True)
class Numbered:
    """A proposal with its number, and the connection that these two parts have already."""

    number: int
    proposal: Proposal
    connection: str = ""

    @property
    def headline(self) -> str:
        """The two parts, the fastener, the joint, how many holes, and how sure."""
        return headline(self.proposal)

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why it is proposed, and what to know of it, a line each."""
        return tuple(reasons(self.proposal))

    @property
    def choices(self) -> tuple[str, ...]:
        """The holes, a line for each way, with its letter where there are several."""
        return tuple(choices(self.proposal))

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON; lengths in mm."""
        of = self.proposal
        return {
            "number": self.number,
            "connection": self.connection or None,
            "parts": [of.a, of.b],
            "fastener": of.fastener,
            "joint": of.joint,
            "sure": of.sure,
            "proposed": of.proposed,
            "chance": of.chance,
            "margin_mm": of.margin_mm,
            "choices": [
                {"holes": [list(c.holes_a), list(c.holes_b)], "turned_over": c.turned_over}
                for c in of.choices
            ],
            "more_choices": of.more_choices,
            "headline": self.headline,
            "reasons": list(self.reasons),
        }


def numbered(facts: Session) -> tuple[Numbered, ...]:
    """Every proposal of the job as it stands: what is proposed, then what is possible, then versions of one part."""
    plates = []
    for line in read.part_lines(facts):
        part = read.part(facts, newest_part(facts, line.number))
        if part.taken is not None:
            plates.append(Plate(part.number, part.taken.profile))
    known = _connected(facts)
    found = proposals(plates)
    return tuple(Numbered(k, p, known.get(frozenset((p.a, p.b)), "")) for k, p in enumerate(found, start=1))


def _connected(facts: Session) -> dict[frozenset[str], str]:
    plies: dict[str, set[str]] = {}
    for row in read.rows(facts, PlyFact):
        plies.setdefault(row.connection, set()).add(row.part)
    bolted = [c.name for c in read.rows(facts, ConnectionFact) if c.kind == "bolted"]
    found: dict[frozenset[str], str] = {}
    for name in bolted:
        for one in plies.get(name, ()):
            for other in plies[name] - {one}:
                found.setdefault(frozenset((one, other)), name)
    return found


def marked(some: Sequence[Numbered], marks: str) -> list[tuple[Numbered, Choice]]:
    """The proposals that are meant, each with its choice. Raises BadInput for a mark that names none, or no choice."""
    if marks.strip().lower() == ALL:
        return [
            (n, n.proposal.choices[0])
            for n in some
            if n.proposal.proposed and not n.connection and len(n.proposal.choices) == 1
        ]
    by_number = {n.number: n for n in some}
    found: dict[int, tuple[Numbered, Choice]] = {}
    for mark in marks.split(","):
        read_mark = _MARK.fullmatch(mark.strip().lower())
        if read_mark is None:
            raise BadInput(
                f"read {visible(mark)!r}; expected numbers of proposals, such as 1,3..5, 2b, or all"
            )
        first, last = int(read_mark[1]), int(read_mark[2] or read_mark[1])
        if last < first or first not in by_number or last not in by_number:
            raise BadInput(f"read {visible(mark.strip())}; expected proposals from 1 to {len(some)}")
        for number in range(first, last + 1):
            found[number] = (by_number[number], _chosen(by_number[number], read_mark[3] or ""))
    return list(found.values())


def _chosen(one: Numbered, letter: str) -> Choice:
    of, name = one.proposal, f"proposal {one.number}"
    if one.connection:
        raise BadInput(f"{name} is recorded already, as {visible(one.connection)}: leave it out")
    if of.more_choices:
        raise BadInput(
            f"{name} can be laid in {len(of.choices) + of.more_choices} ways; name the holes with fitup group"
        )
    letters = ascii_lowercase[: len(of.choices)]
    if len(of.choices) == 1 and not letter:
        return of.choices[0]
    if not letter or letter not in letters:
        asked = (
            f"{one.number}{letters[0]} to {one.number}{letters[-1]}" if len(letters) > 1 else str(one.number)
        )
        raise BadInput(f"{name} has {len(letters)} ways to lay {of.a} on {of.b}; expected {asked}")
    return of.choices[letters.index(letter)]


def record_marked(facts: Session, do: Do, marks: str) -> tuple[str, ...]:
    """Record the proposals that are marked; the names of their connections. Raises BadInput and records nothing."""
    return record_all(facts, do, marked(numbered(facts), marks))


def record_all(facts: Session, do: Do, some: Sequence[tuple[Numbered, Choice]]) -> tuple[str, ...]:
    """Name the hole groups and record the connections; their names. Raises BadInput and records nothing."""
    return tuple(_recorded(facts, do, one.proposal, choice) for one, choice in some)


def _recorded(facts: Session, do: Do, of: Proposal, choice: Choice) -> str:
    groups = [
        _group(facts, do, number, labels, other)
        for number, labels, other in ((of.a, choice.holes_a, of.b), (of.b, choice.holes_b, of.a))
    ]
    half = (LONGEST_NAME - 6) // 2
    name = _free(f"{of.a[:half]}-{of.b[:half]}", {c.name for c in read.rows(facts, ConnectionFact)})
    plies = tuple({"part": part, "group": group} for part, group in zip((of.a, of.b), groups, strict=True))
    fields = {
        "joint": of.joint,
        "fastener": of.fastener,
        "turned_over": "yes" if choice.turned_over else "no",
    }
    do(make(RecordConnection, name=name, connection_kind="bolted", plies=plies, **fields))
    return name


def _group(facts: Session, do: Do, number: str, labels: tuple[str, ...], other: str) -> str:
    """The group of just these holes, named for the other part where there is none yet."""
    part = read.part(facts, newest_part(facts, number))
    same = [g.name for g in part.groups if set(g.labels) == set(labels)]
    if same:
        return same[0]
    name = _free(other[: LONGEST_NAME - 6], {g.name for g in part.groups})
    do(make(NameGroup, number=number, name=name, labels=tuple(sorted(labels, key=_place))))
    return name


def _place(label: str) -> tuple[str, int]:
    head = label.rstrip("0123456789")
    return head, int(label[len(head) :] or 0)


def _free(name: str, taken: set[str]) -> str:
    """The name, with a number behind it where it is taken."""
    count = 2
    free = name
    while free in taken:
        free, count = f"{name} {count}", count + 1
    return free
