"""
Open questions and how they hang together: what each holds up, what it depends on, and rings of waiting.

A question holds up its own part, and further parts and connections that it names. It *depends on* another question
("Q2", or "BASE/Q2" of another part), a part to be locked, or a clearance to be measured ("CONNECTION/NAME"). What it
depends on is *open* while there is no answer, no lock, no reading.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from sqlmodel import Session, select

from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.record import Question
from ledger.store.tables import (
    ClearanceFact,
    ConnectionFact,
    Fact,
    PartFact,
    PlyFact,
    QuestionFact,
    ReadingFact,
)


@dataclass(frozen=True, slots=True)
class Waited:
    """What is waited for: a question or a clearance with its owner, or a part."""

    kind: Literal["question", "part", "clearance"]
    owner: str
    name: str = ""

    @property
    def key(self) -> tuple[str, str]:
        """The stop that goes with it, by code and place; a part stands for all its stops."""
        if self.kind == "question":
            return "question_open", f"{self.owner}:{self.name}"
        return ("not_measured", f"{self.owner}/{self.name}") if self.kind == "clearance" else ("", self.owner)


def questions_of(facts: Session, number: str) -> tuple[Question, ...]:
    """The questions about a part, by their short names."""
    return tuple(_question(facts, row) for row in _rows(facts, number=number))


def blocking(facts: Session, number: str) -> tuple[tuple[str, Question], ...]:
    """Open questions about other parts that block this one, or a connection it is in."""
    connections = set(facts.exec(select(PlyFact.connection).where(PlyFact.part == number)).all())
    mine = connections | {number}
    found = (
        row
        for row in _rows(facts, linked=True)
        if row.number != number and mine & set(json.loads(row.holds_up))
    )
    return tuple((row.number, _question(facts, row)) for row in found if not row.answer)


def waited_for(facts: Session, number: str, text: str) -> Waited:
    """What the words of a question about a part mean. Raises UnknownName."""
    if _there(facts, QuestionFact, (number, text)):
        return Waited("question", number, text)
    owner, _, name = text.rpartition("/")
    if owner and _there(facts, QuestionFact, (owner, name)):
        return Waited("question", owner, name)
    if facts.exec(select(PartFact).where(PartFact.number == text)).first():
        return Waited("part", text)
    if owner and _there(facts, ClearanceFact, (owner, name)):
        return Waited("clearance", owner, name)
    known = [f"{q.number}/{q.ident}" for q in _rows(facts)]
    known += [q.ident for q in _rows(facts, number=number)]
    known += sorted(set(facts.exec(select(PartFact.number)).all()))
    known += [f"{c.connection}/{c.name}" for c in facts.exec(select(ClearanceFact)).all()]
    raise UnknownName("question, part or clearance", text, tuple(dict.fromkeys(known)))


def links_known(facts: Session, row: QuestionFact) -> None:
    """Refuse what a question cannot block or wait for. Raises UnknownName, BadInput for a ring, with its names."""
    holds_up, depends_on = json.loads(row.holds_up), json.loads(row.depends_on)
    if holds_up:
        known = {*facts.exec(select(PartFact.number)).all(), *facts.exec(select(ConnectionFact.name)).all()}
        for name in holds_up:
            if name not in known:
                raise UnknownName("part or connection", name, sorted(known))
    if depends_on:  # what depends on nothing is in no ring
        meant = [waited_for(facts, row.number, text) for text in depends_on]
        _no_ring(facts, (row.number, row.ident), meant, holds_up={row.number, *holds_up})


def waits_between(facts: Session) -> dict[tuple[str, str], tuple[tuple[str, str], ...]]:
    """For every open question, as code and place, what it still depends on."""
    found = {}
    for row in _rows(facts, linked=True):
        if not row.answer:
            keys = tuple(w.key for _, w in _open(facts, row))
            if keys:
                found["question_open", f"{row.number}:{row.ident}"] = keys
    return found


def _no_ring(
    facts: Session, start: tuple[str, str], depends_on: Iterable[Waited], holds_up: set[str]
) -> None:
    """A walk along what is waited for that never comes back to the start."""
    rows = {(r.number, r.ident): r for r in _rows(facts) if not r.answer and (r.number, r.ident) != start}
    todo: list[tuple[Waited, tuple[str, ...]]] = [(w, (_named(*start),)) for w in depends_on]
    seen: set[Waited] = set()
    while todo:
        now, trail = todo.pop()
        if now in seen:
            continue
        seen.add(now)
        here = (*trail, now.owner if now.kind == "part" else _named(now.owner, now.name))
        if now == Waited("question", *start) or (now.kind == "part" and now.owner in holds_up):
            ring = " -> ".join(here if now.kind == "question" else (*here, _named(*start)))
            raise BadInput(f"it would depend on itself: {ring}")
        if now.kind == "question" and (row := rows.get((now.owner, now.name))):
            todo.extend((waited_for(facts, row.number, t), here) for t in _kept(facts, row))
        elif now.kind == "part":
            stops = (r for r in rows.values() if now.owner in (r.number, *json.loads(r.holds_up)))
            todo.extend((Waited("question", r.number, r.ident), here) for r in stops)


def _question(facts: Session, row: QuestionFact) -> Question:
    holds_up, depends_on = (tuple(json.loads(text)) for text in (row.holds_up, row.depends_on))
    waiting = () if row.answer or not depends_on else tuple(text for text, _ in _open(facts, row))
    return Question(row.ident, row.text, row.answer, holds_up, depends_on, row.needed_by, waiting)


def _open(facts: Session, row: QuestionFact) -> Iterator[tuple[str, Waited]]:
    """What a question still depends on; what is gone is not waited for."""
    for text in _kept(facts, row):
        waited = waited_for(facts, row.number, text)
        if waited.kind == "question":
            is_open = not facts.get_one(QuestionFact, (waited.owner, waited.name)).answer
        elif waited.kind == "part":
            found = facts.exec(select(PartFact).where(PartFact.number == waited.owner)).all()
            is_open = not max(found, key=lambda p: p.place).locked
        else:
            read = select(ReadingFact).where(
                ReadingFact.connection == waited.owner, ReadingFact.name == waited.name
            )
            is_open = facts.exec(read).first() is None
        if is_open:
            yield text, waited


def _kept(facts: Session, row: QuestionFact) -> Iterator[str]:
    for text in json.loads(row.depends_on):
        try:
            waited_for(facts, row.number, text)
        except UnknownName:
            continue
        yield text


def _rows(facts: Session, *, number: str = "", linked: bool = False) -> list[QuestionFact]:
    query = select(QuestionFact)
    if number:
        query = query.where(QuestionFact.number == number)
    if linked:
        query = query.where((QuestionFact.holds_up != "[]") | (QuestionFact.depends_on != "[]"))
    return sorted(facts.exec(query).all(), key=lambda r: (r.number, r.ident))


def _there(facts: Session, table: type[Fact], key: tuple[str, str]) -> bool:
    return facts.get(table, key) is not None


def _named(owner: str, name: str) -> str:
    return f"{name} of {owner}"
