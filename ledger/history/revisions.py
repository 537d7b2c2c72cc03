"""
What changed of a part: between two revisions, and since a person last signed it.

A revision is looked at as it stood when it was locked, the newest one as it stands now. What somebody signed is looked
at as it stood just after that signature. *Together* are the parts that count at their newest revisions: those that were
signed together, unless somebody asks about another set.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from sqlmodel import Session

from ledger.acts import read_act
from ledger.acts.base import newest_part, person_named
from ledger.acts.replay import applied
from ledger.acts.undo import undoable
from ledger.acts.vouching import Vouching
from ledger.domain.errors import FitupError, NoEntry, UnknownName
from ledger.domain.formula import Formula, names_in
from ledger.domain.gate import with_changes
from ledger.domain.sealed import Sealed, read_body, read_row
from ledger.domain.verdict import Verdict
from ledger.history.changes import Change, PlyState, State, changes
from ledger.judge.bench import Bench
from ledger.store import facts as read
from ledger.store.as_of import facts_at
from ledger.store.replay import Apply, entries_in
from ledger.store.tables import OF_PART, JournalRow, LockFact, PartFact, PersonFact, SignatureFact

_FEW = 3  # changes that are named in one line


@dataclass(frozen=True, slots=True)
class Since:
    """What changed of a part since a person last signed it. `seq` is 0 where that never was."""

    number: str
    person: str
    seq: int = 0
    at: str = ""
    role: str = ""
    revision: str = ""
    changes: tuple[Change, ...] = ()

    @property
    def signed_before(self) -> bool:
        """Whether the person ever signed any revision of the part."""
        return self.seq > 0

    @property
    def words(self) -> str:
        """In one line: when it was, and how much changed since."""
        if not self.signed_before:
            return f"{self.person} never signed {self.number} before"
        count = f"{len(self.changes)} changed since" if self.changes else "nothing changed since"
        return f"{self.person} signed {self.number} {self.revision} as {self.role} on {self.at[:10]}: {count}"

    @property
    def briefly(self) -> str:
        """What changed, by name alone, such as "thickness, hole H4, 2 more"; empty where nothing did."""
        named = list(dict.fromkeys(f"{c.what} {c.name}".strip() for c in self.changes))
        more = [f"{len(named) - _FEW} more"] if len(named) > _FEW else []
        return ", ".join([*named[:_FEW], *more])

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {
            "part": self.number,
            "person": self.person,
            "signed_before": self.signed_before,
            "entry": self.seq,
            "at": self.at,
            "role": self.role,
            "revision": self.revision,
            "words": self.words,
            "changes": [c.to_json() for c in self.changes],
        }


@dataclass(frozen=True, slots=True)
class Between:
    """What changed of a part from one revision to another. `earlier` is empty where there is none before."""

    number: str
    earlier: str
    later: str
    changes: tuple[Change, ...] = ()

    @property
    def words(self) -> str:
        """In one line: which two, and how much differs."""
        if not self.earlier:
            return f"{self.number} {self.later} is the first revision: there is none before it"
        return f"{self.number} {self.earlier} to {self.later}: {len(self.changes)} changed"

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {
            "part": self.number,
            "from": self.earlier,
            "to": self.later,
            "words": self.words,
            "changes": [c.to_json() for c in self.changes],
        }


@dataclass(frozen=True, slots=True)
class Story:
    """Every step from revision to revision, newest first, and what changed since each person last signed."""

    steps: tuple[Between, ...]
    since: tuple[Since, ...]


@dataclass(frozen=True, slots=True)
class _Look:
    """When to look, and which parts count at their newest revisions. `seq` None is now."""

    seq: int | None
    together: tuple[str, ...]


def since(
    facts: Session, apply: Apply, number: str, person: str, together: Sequence[str] = (), *, role: str = ""
) -> Since:
    """What changed since that person last signed the part, in that role or in any. Raises UnknownName."""
    newest_part(facts, number)
    person_named(facts, person)
    last = _last_signature(facts, number, person, role)
    if last is None:
        return Since(number, person)
    then, now = _looks(facts, last, together)
    states = _states(facts, apply, number, (then, now))
    return _told(facts, last, changes(states[then], states[now]))


def between(facts: Session, apply: Apply, number: str, earlier: str, later: str) -> Between:
    """What changed from one revision to another; the newest and the one before it, unless named. Raises UnknownName."""
    letters = _letters(facts, number)
    later = later or letters[-1]
    for letter in filter(None, (earlier, later)):
        if letter not in letters:
            raise UnknownName(f"revision of {number}", letter, letters)
    before = letters[: letters.index(later)]
    earlier = earlier or (before[-1] if before else "")
    if not earlier:
        return Between(number, "", later)
    looks = tuple(_revision_look(facts, number, letter) for letter in (earlier, later))
    states = _states(facts, apply, number, looks)
    return Between(number, earlier, later, changes(states[looks[0]], states[looks[1]]))


def story(facts: Session, apply: Apply, number: str) -> Story:
    """Everything that changed of a part, in one run over the journal. Raises UnknownName."""
    letters = _letters(facts, number)
    looks = {letter: _revision_look(facts, number, letter) for letter in letters}
    people = [p.name for p in read.rows(facts, PersonFact)]
    last = {name: _last_signature(facts, number, name) for name in people}
    signed = {name: _looks(facts, row) for name, row in last.items() if row}
    expected = (*looks.values(), *(look for pair in signed.values() for look in pair))
    states = _states(facts, apply, number, expected)
    steps = [Between(number, "", letters[0])]
    for a, b in pairwise(letters):
        steps.append(Between(number, a, b, changes(states[looks[a]], states[looks[b]])))
    told = []
    for name, row in last.items():
        if row is None:
            told.append(Since(number, name))
        else:
            then, now = signed[name]
            told.append(_told(facts, row, changes(states[then], states[now])))
    return Story(tuple(reversed(steps)), tuple(told))


def told_changes(facts: Session, bench: Bench, verdict: Verdict) -> Verdict:
    """The verdict with what changed since each signature that no longer names what is there, from the journal."""
    told = {}
    for role, person in bench.signed_before(verdict).items():
        try:
            told[role] = since(facts, applied, verdict.part, person, bench.together, role=role).briefly
        except FitupError:  # what cannot be followed is for verify; the verdict stands without it
            continue
    return with_changes(verdict, told)


def _letters(facts: Session, number: str) -> list[str]:
    newest_part(facts, number)
    rows = sorted(read.rows(facts, PartFact, number=number), key=lambda r: r.place)
    return [r.revision for r in rows]


def _revision_look(facts: Session, number: str, letter: str) -> _Look:
    lock = facts.get(LockFact, (number, letter))
    return _Look(lock.seq if lock else None, (number,))


def _last_signature(facts: Session, number: str, person: str, role: str = "") -> SignatureFact | None:
    rows = read.rows(facts, SignatureFact, number=number, person=person)
    found = filter(Vouching(facts).of, (r for r in rows if not role or r.role == role or r.self_check))
    return max(found, key=lambda r: r.seq, default=None)


def _looks(facts: Session, last: SignatureFact, together: Sequence[str] = ()) -> tuple[_Look, _Look]:
    """Then and now; without a set of its own, now is looked at with the parts that were signed together then."""
    signed = tuple(r.number for r in read.rows(facts, SignatureFact, seq=last.seq))
    return _Look(last.seq, signed), _Look(None, tuple(together) or signed)


def _told(facts: Session, last: SignatureFact, found: tuple[Change, ...]) -> Since:
    row = facts.get_one(JournalRow, last.seq)
    at = read_body(row.body).at
    return Since(last.number, last.person, last.seq, at, last.role, last.revision, found)


def _states(facts: Session, apply: Apply, number: str, looks: Iterable[_Look]) -> dict[_Look, State]:
    """The part at each of these looks; the journal is followed once, and not at all where only now is required."""
    looks = set(looks)
    found = {look: _state(facts, number, look.together) for look in looks if look.seq is None}
    past = {look.seq for look in looks if look.seq is not None}
    for seq, then in facts_at(facts, apply, past, _concerning(facts, number)) if past else ():
        found.update({k: _state(then, number, k.together) for k in looks if k.seq == seq})
    return found


def _reads(act: dict[str, Any]) -> bool:
    try:
        read_act(act)
    except (FitupError, ValueError, TypeError):
        return False
    return True


def _concerning(facts: Session, number: str) -> Callable[[Sealed], bool]:
    """
    Which entries a part's states need: those of itself, of its twin and of whatever it was ever connected with.

    Parts from whose dimensions one of these was ever calculated come along, and parts that were locked together,
    because a lock is one entry. What is of no part alone always counts.
    """
    acts = [act for act in (body.act for _row, body in entries_in(facts)) if _reads(act)]
    expected = {number}
    for act in acts:
        named = [p["part"] for p in act["plies"]] if act["kind"] == "record_connection" else []
        expected.update(named if number in named else ())
        expected.update(filter(None, [act.get("opposite_of")]) if act.get("number") == number else ())
    joined = [{p["number"] for p in act["parts"]} for act in acts if act["kind"] == "lock"]
    joined += [_calculated_over(act) for act in acts if act["kind"] == "calculate_dimension"]
    while more := set().union(*(together for together in joined if together & expected)) - expected:
        expected |= more

    def concerns(row: Sealed) -> bool:
        try:
            about = parts_of(read_row(row).act)
        except (NoEntry, KeyError, TypeError):
            return False
        return not about or bool(about & expected)

    return concerns


def _calculated_over(act: dict[str, Any]) -> set[str]:
    return {
        act["number"],
        *(ref.part for ref in names_in(Formula.from_json(act["formula"]).tree) if ref.part),
    }


def parts_of(act: dict[str, Any]) -> set[str]:
    """The parts that an entry is about alone; none for what concerns the job, its people or a connection."""
    if undoable().get(act["kind"]) == OF_PART:
        return {act["number"]}
    if act["kind"] == "undo" and act["about"] == "part":
        return {act["name"]}
    return {p["number"] for p in act["parts"]} if act["kind"] == "lock" else set()


def _state(facts: Session, number: str, together: tuple[str, ...]) -> State:
    bench = Bench(facts, together, "")
    part, connections = bench.cases(number)
    plies = (
        (m.connection, tuple(PlyState(p.ply, p.part, p.interface) for p in m.plies)) for m in connections
    )
    return State(part.part, bench.policy, tuple(plies), part.twin)
