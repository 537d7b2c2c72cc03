"""The act that says what a question blocks, what it waits for, and until when it is to be decided."""

from __future__ import annotations

import json
from typing import Literal

from sqlmodel import Session

from ledger.acts.base import Act, Entry, Name, open_part, put
from ledger.acts.parts import Day, question_named
from ledger.store.questions import links_known
from ledger.store.tables import QuestionFact


class LinkQuestion(Act):
    """What a question blocks besides its own part, what it waits for and its day, written anew."""

    kind: Literal["link_question"] = "link_question"
    number: Name
    ident: Name
    blocks: tuple[Name, ...] = ()
    waits: tuple[Name, ...] = ()
    due: Day = ""

    def check(self, facts: Session) -> None:
        open_part(facts, self.number)
        links_known(facts, self._row(facts))

    def apply(self, facts: Session, entry: Entry) -> None:
        put(facts, self._row(facts))

    def _row(self, facts: Session) -> QuestionFact:
        old = question_named(facts, self.number, self.ident)
        linked = {"blocks": json.dumps(list(self.blocks)), "waits": json.dumps(list(self.waits))}
        return QuestionFact(**{**old.model_dump(), **linked, "due": self.due})
