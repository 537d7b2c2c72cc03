"""Acts about time: the day of the job, and which parts can be decided only when others are here."""

from __future__ import annotations

import json
from typing import Literal

from sqlmodel import Session

from ledger.acts.base import Act, Day, Entry, Name, newest_part, put
from ledger.domain.errors import BadInput, visible
from ledger.store.rows import row_with
from ledger.store.tables import JobDayFact, WaitFact


class RecordDay(Act):
    """The day by which everything must be here; nothing where there is none any more."""

    concerns = ("schedule", "of")
    kind: Literal["record_day"] = "record_day"
    of: Literal["job"] = "job"
    day: Day = ""

    def apply(self, facts: Session, entry: Entry) -> None:
        put(facts, JobDayFact(of=self.of, day=self.day))


class RecordWait(Act):
    """The parts that must be here before a part can be finished; recorded again, they replace those before."""

    concerns = ("part", "number")
    kind: Literal["record_wait"] = "record_wait"
    number: Name
    after: tuple[Name, ...] = ()

    def rules(self, facts: Session) -> None:
        for name in (self.number, *self.after):
            newest_part(facts, name)
        if len({*self.after}) != len(self.after):
            raise BadInput("a part is named twice; expected each once")
        trails: list[tuple[str, tuple[str, ...]]] = [(name, (self.number, name)) for name in self.after]
        seen: set[str] = set()
        while trails:
            now, trail = trails.pop()
            if now == self.number:
                raise BadInput(f"it would wait on itself: {' after '.join(map(visible, trail))}")
            if now not in seen:
                seen.add(now)
                row = row_with(facts, WaitFact, now)
                trails += [(name, (*trail, name)) for name in (json.loads(row.after) if row else ())]

    def apply(self, facts: Session, entry: Entry) -> None:
        put(facts, WaitFact(number=self.number, after=json.dumps(list(self.after))))
