"""Acts about questions: asked, answered, what they block and wait for, and until when they are to be decided."""

from __future__ import annotations

import json
from typing import Literal

from sqlmodel import Session, select

from ledger.acts.base import (
    Act,
    Day,
    Entry,
    Name,
    Text,
    open_part,
    put,
)
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.store.questions import links_known
from ledger.store.rows import row_with, the_row
from ledger.store.tables import (
    OF_PART,
    QuestionFact,
)


class AskQuestion(Act):
    """Something still to be decided about a part; it stops the part until it is answered."""

    concerns = OF_PART
    kind: Literal["ask_question"] = "ask_question"
    number: Name
    ident: Name
    text: Text
    holds_up: tuple[Name, ...] = ()
    depends_on: tuple[Name, ...] = ()
    needed_by: Day = ""

    def check(self, facts: Session) -> None:
        self.rules(facts)
        links_known(facts, self._row())

    def rules(self, facts: Session) -> None:
        open_part(facts, self.number)
        if not self.text:
            raise BadInput("an empty question: say what is to be decided")
        if row_with(facts, QuestionFact, self.number, self.ident):
            raise BadInput(f"{visible(self.number)} has a question {visible(self.ident)} already")

    def apply(self, facts: Session, entry: Entry) -> None:
        put(facts, self._row())

    def _row(self) -> QuestionFact:
        linked = {
            "holds_up": json.dumps(list(self.holds_up)),
            "depends_on": json.dumps(list(self.depends_on)),
        }
        return QuestionFact(
            number=self.number, ident=self.ident, text=self.text, needed_by=self.needed_by, **linked
        )


class AnswerQuestion(Act):
    """The answer to an open question."""

    concerns = OF_PART
    kind: Literal["answer_question"] = "answer_question"
    number: Name
    ident: Name
    answer: Text

    def rules(self, facts: Session) -> None:
        open_part(facts, self.number)
        if not self.answer:
            raise BadInput("an empty answer: say what was decided")
        question_named(facts, self.number, self.ident)

    def apply(self, facts: Session, entry: Entry) -> None:
        old = the_row(facts, QuestionFact, self.number, self.ident)
        put(facts, QuestionFact(**{**old.model_dump(), "answer": self.answer}))


def question_named(facts: Session, number: str, ident: str) -> QuestionFact:
    """A question of a part. Raises UnknownName."""
    found = row_with(facts, QuestionFact, number, ident)
    if found is None:
        known = facts.exec(select(QuestionFact.ident).where(QuestionFact.number == number)).all()
        raise UnknownName("question", ident, known)
    return found


class LinkQuestion(Act):
    """What a question blocks besides its own part, what it depends on and its day, replaced."""

    concerns = OF_PART
    kind: Literal["link_question"] = "link_question"
    number: Name
    ident: Name
    holds_up: tuple[Name, ...] = ()
    depends_on: tuple[Name, ...] = ()
    needed_by: Day = ""

    def check(self, facts: Session) -> None:
        self.rules(facts)
        links_known(facts, self._row(facts))

    def rules(self, facts: Session) -> None:
        open_part(facts, self.number)
        question_named(facts, self.number, self.ident)

    def apply(self, facts: Session, entry: Entry) -> None:
        put(facts, self._row(facts))

    def _row(self, facts: Session) -> QuestionFact:
        old = question_named(facts, self.number, self.ident)
        linked = {
            "holds_up": json.dumps(list(self.holds_up)),
            "depends_on": json.dumps(list(self.depends_on)),
        }
        return QuestionFact(**{**old.model_dump(), **linked, "needed_by": self.needed_by})
