"""
What every act is: a small frozen model with its rules, one `check` and one `apply`.

`rules` and `rules_at` refuse what the facts, or the act's place in the journal, do not allow; they are asked when the
act is done and at every replay, and read nothing but facts and journal: no clock, no kept file, no list of known words.
`check` is asked only when the act is done, and may read those as well. `apply` writes facts. *Name* fields are
identifiers, *text* fields are prose; neither may hold what could be lost or acted on by a terminal or a database.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict, ValidationError
from sqlmodel import Session, SQLModel, select

from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.moment import day
from ledger.domain.names import name_text, prose
from ledger.store.rows import put_row, row_with, rows_with
from ledger.store.tables import Concern, PartFact, PersonFact

T = TypeVar("T", bound=SQLModel)
A = TypeVar("A", bound="Act")


@dataclass(frozen=True, slots=True)
class Entry:
    """Where an act stands in the journal, for facts that name it."""

    seq: int
    hash: str
    by: str
    at: str


class Act(BaseModel):
    """One recorded thing that someone did. What it `concerns`, and the field that names it, can be undone."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)
    signed: ClassVar[bool] = False
    concerns: ClassVar[Concern | None] = None
    kind: str
    version: int = 1

    def rules(self, facts: Session) -> None:
        """Refuse, with BadInput, what the facts do not allow; asked again at every replay."""

    def rules_at(self, facts: Session, entry: Entry) -> None:
        """Refuse, with BadInput, what is not allowed at this place in the journal; asked at every replay."""

    def check(self, facts: Session) -> None:
        """Refuse, with BadInput, an act that is about to be done: its rules, and what it is written in."""
        self.rules(facts)

    def apply(self, facts: Session, entry: Entry) -> None:
        """Write what this act adds to the facts."""
        raise NotImplementedError


Name = Annotated[str, AfterValidator(name_text)]
OptionalName = Annotated[str, AfterValidator(lambda v: name_text(v) if v else v)]
Text = Annotated[str, AfterValidator(prose)]
Day = Annotated[str, AfterValidator(lambda text: text and day(text).isoformat())]


def one_of(what: str, known: tuple[str, ...]) -> Callable[[str], str]:
    """A validator that wants one of the known words. Raises UnknownName."""

    def pick(value: str) -> str:
        if value not in known:
            raise UnknownName(what, value, known)
        return value

    return pick


def make(act: type[A], **fields: Any) -> A:
    """The act with these fields. Raises BadInput naming the field that is wrong."""
    try:
        return act(**fields)
    except ValidationError as fault:
        first = fault.errors()[0]
        where = ".".join(str(p) for p in first["loc"])
        raise BadInput(f"{where}: {_expected(first)}; read {visible(repr(first['input']))}") from fault


def _expected(error: Mapping[str, Any]) -> str:
    """What a field expected, in our words; what one of our own readers said of it as it is."""
    kind, told = str(error["type"]), error.get("ctx", {})
    bounds = {
        "greater_than": "expected more than {gt}",
        "greater_than_equal": "expected {ge} or more",
        "less_than": "expected less than {lt}",
        "less_than_equal": "expected {le} or less",
        "string_too_short": "expected at least {min_length} characters",
        "string_too_long": "expected at most {max_length} characters",
        "too_short": "expected at least {min_length}",
        "too_long": "expected at most {max_length}",
        "literal_error": "expected one of {expected}",
        "missing": "missing",
        "extra_forbidden": "not known here",
    }
    if kind in bounds:
        return bounds[kind].format(**told)
    if kind.startswith(("int", "float", "decimal")):
        return "expected a number"
    if kind.startswith("string"):
        return "expected words"
    return str(error["msg"]).removeprefix("Value error, ")


def open_part(facts: Session, number: str) -> PartFact:
    """The open revision of a part. Raises UnknownName, or BadInput where the newest one is locked."""
    part = newest_part(facts, number)
    if part.locked:
        raise BadInput(
            f"{visible(number)} revision {part.revision} is locked and never changes; "
            f"start a new one: fitup revise {visible(number)} --reason …"
        )
    return part


def newest_part(facts: Session, number: str) -> PartFact:
    """The newest revision of a part, open or locked. Raises UnknownName."""
    found = rows_with(facts, PartFact, by="place", number=number)
    if not found:
        raise UnknownName("part", number, sorted(set(facts.exec(select(PartFact.number)).all())))
    return found[-1]


def person_named(facts: Session, name: str) -> PersonFact:
    """An enrolled person. Raises UnknownName."""
    person = row_with(facts, PersonFact, name)
    if person is None:
        raise UnknownName("person", name, facts.exec(select(PersonFact.name)).all())
    return person


def put(facts: Session, row: SQLModel) -> None:
    """Write a row, or what it changes of the row with the same key."""
    put_row(facts, row)
