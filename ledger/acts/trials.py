"""What came of laying a printed template on what is there."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator
from sqlmodel import Session

from ledger.acts.base import Act, Entry, Name, Text, one_of, open_part, put
from ledger.domain.errors import BadInput, visible
from ledger.domain.record import TRIED
from ledger.store.facts import rows
from ledger.store.rows import row_with
from ledger.store.tables import OF_PART, PartFact, ProfileFact, TrialFact


class RecordTrial(Act):
    """A paper template of the drawing that a part has was tried: by whom and when, its entry says."""

    concerns = OF_PART
    kind: Literal["record_trial"] = "record_trial"
    number: Name
    result: Annotated[str, AfterValidator(one_of("result of a trial", TRIED))]
    note: Text = ""

    def rules(self, facts: Session) -> None:
        part = open_part(facts, self.number)
        if _drawn(facts, part) is None:
            raise BadInput(
                f"{visible(self.number)} has no drawing, so no template of it was printed: take its drawing first"
            )
        if self.result == "does not fit" and not self.note:
            raise BadInput("a template that does not fit needs a note: say where, such as S2 is 4 mm off")

    def apply(self, facts: Session, entry: Entry) -> None:
        part = open_part(facts, self.number)
        drawn = _drawn(facts, part)
        key = {"number": part.number, "revision": part.revision}
        place = 1 + max((t.place for t in rows(facts, TrialFact, **key)), default=0)
        said = {"result": self.result, "note": self.note, "by": entry.by, "day": entry.at[:10]}
        put(facts, TrialFact(**key, place=place, geometry=drawn.geometry if drawn else "", **said))


def _drawn(facts: Session, part: PartFact) -> ProfileFact | None:
    return row_with(facts, ProfileFact, part.number, part.revision)
