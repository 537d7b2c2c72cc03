"""Looking at a text of the job without recording it, recording it, and writing it over one that is there."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path as FilePath

from sqlmodel import Session

from ledger.domain.errors import BadInput, FitupError
from ledger.domain.readings import apart_from_warmth
from ledger.job_text.document import over
from ledger.job_text.kinds import Do, Tools
from ledger.job_text.recorded import Outcome, Reader
from ledger.job_text.statements import read_text
from ledger.job_text.written import Path, records, told_job
from ledger.judge.readings import record_reading
from ledger.judge.verdicts import Judging
from ledger.store.journal import Store


class _Looked(FitupError):
    """Everything was tried out; nothing of it stays."""


@dataclass(frozen=True, slots=True)
class Entering:
    """How a text is entered: `entered` does what a room makes of the facts, all or nothing; and what acts need."""

    entered: Callable[[Callable[[Session, Do], Outcome]], Outcome]
    store: Store
    judging: Judging

    def look(self, data: bytes, beside: FilePath, *, whole: bool) -> Outcome:
        """What a text would change; nothing is. Raises BadInput."""
        found: list[Outcome] = []

        def tried(facts: Session, do: Do) -> Outcome:
            found.append(self._reader(facts, do, data, beside, whole=whole).done())
            raise _Looked

        with suppress(_Looked):
            self.entered(tried)
        return found[-1]

    def record(self, data: bytes, beside: FilePath, *, whole: bool) -> Outcome:
        """Record what a text changes, all of it or nothing. Raises BadInput."""
        seen = self.look(data, beside, whole=whole)

        def recorded(facts: Session, do: Do) -> Outcome:
            reader = self._reader(facts, do, data, beside, whole=whole)
            reader.same = seen.same
            found = reader.done()
            if found.changes != seen.changes:
                raise BadInput("the job has changed meanwhile; look at the file again")
            return found

        return self.entered(recorded) if seen.changes else seen

    def _reader(self, facts: Session, do: Do, data: bytes, beside: FilePath, *, whole: bool) -> Reader:
        def measured(of: tuple[str, str], written: str) -> None:
            line, warm = apart_from_warmth(written)
            record_reading(facts, do, self.judging, of[0], name=of[1], written=line, warm=warm)

        tools = Tools(facts, self.store.today(facts), do, measured)
        return Reader(read_text(data), tools, self.store, beside, whole)


def text_over(facts: Session, old: bytes, same: frozenset[Path]) -> str:
    """The text of the job over one that is there: what means the same stays as it is written, comments too."""
    values, there = told_job(facts), read_text(old)
    said = records(there.values)
    for path in same:
        inside = values
        for name in path[:-1]:
            inside = inside[name]
        inside[path[-1]] = said[path]
    text = old.decode("utf-8-sig")
    made = over(text.replace("\r\n", "\n"), values)
    return made.replace("\n", "\r\n") if "\r\n" in text else made
