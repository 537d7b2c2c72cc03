"""The list of parts, with what verdicts of now depend on; nothing is judged for it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ledger.store import facts as read
from ledger.store.facts import PartLine
from ledger.store.journal import Store
from ledger.store.replay import seal_of
from ledger.store.tables import PersonFact

if TYPE_CHECKING:
    from ledger.judge.summaries import Stamp


@dataclass(frozen=True, slots=True)
class Listed:
    """Every part as a line; `seal` is seq:hash of the journal then, `people` are (name, roles)."""

    seal: str
    day: str
    lines: tuple[PartLine, ...]
    people: tuple[tuple[str, tuple[str, ...]], ...]

    @property
    def stamp(self) -> Stamp:
        """What verdicts of this list depend on. The first one reads every file of the program."""
        from ledger.judge.build import build
        from ledger.judge.summaries import Stamp

        return Stamp(self.seal, build(), self.day)


def listed(store: Store) -> Listed:
    """Every part as a line, in one reading."""
    with store.reading() as facts:
        seq, seal = seal_of(facts)
        people = tuple((p.name, tuple(json.loads(p.roles))) for p in read.rows(facts, PersonFact))
        return Listed(f"{seq}:{seal}", store.today(facts), read.part_lines(facts), people)
