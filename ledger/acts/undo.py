"""
Undoing an act by a counter-act: the rows that it touched are again what they were before.

Nothing leaves the journal. The counter-act names the entry that it undoes, the rows that go and the rows that come
back, and replay asks whether they are those. Only unsigned acts about a part, a connection, a vendor or an
instrument can be undone, each person's own newest first; not where someone else has built on them, and nothing of a
locked revision.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Literal, Self

from pydantic import BaseModel, ConfigDict
from sqlmodel import Session, select

from ledger.acts.base import Act, Entry, Name, put
from ledger.acts.bodies import restored
from ledger.acts.release import LockedPart
from ledger.domain.canonical import canonical
from ledger.domain.errors import BadInput, FitupError, visible
from ledger.domain.sealed import Body
from ledger.store.entries import body_of, entries, read_between, read_naming
from ledger.store.rows import row_with
from ledger.store.scratch import in_memory, scratch
from ledger.store.tables import FACTS, About, Concern, Fact, PartFact

Rows = dict[tuple[str, str], dict[str, Any]]  # by table and key


@cache
def undoable() -> dict[str, Concern]:
    """The kinds of acts that can be undone: what each is about, and the field that names it."""
    from ledger.acts import ACTS

    return {kind: cls.concerns for (kind, _), cls in ACTS.items() if cls.concerns}


@cache
def _tables(about: About) -> dict[type[Fact], str]:
    """The tables with what is known of such a thing, and the column that names it."""
    return {t: t.concerns[1] for t in FACTS if t.concerns and t.concerns[0] == about}


class RowField(BaseModel):
    """One row of a fact table; of a row that goes, the whole row too, so that the entry can be read alone."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    table: Name
    row: dict[str, Any]


class Undo(Act):
    """The counter-act of one entry."""

    kind: Literal["undo"] = "undo"
    undoes: int
    about: About
    name: Name
    gone: tuple[RowField, ...]
    back: tuple[RowField, ...]

    @classmethod
    def of(cls, facts: Session, seq: int) -> Self:
        """The counter-act of an entry, as the facts stand now. Raises BadInput where there is none."""
        entry = body_of(facts, seq)
        if entry is None:
            raise BadInput(f"there is no entry {seq} to undo")
        about, name = _about(entry.act)
        gone, back = _changed(facts, seq, about, name)
        return cls(undoes=seq, about=about, name=name, gone=tuple(_fields(gone)), back=tuple(_fields(back)))

    def rules(self, facts: Session) -> None:
        """It takes back what its entry changed, which is the newest of that person, and nobody has built on it."""
        known = subjects(facts, self.about, self.name)
        by = known.by.get(self.undoes)
        if by is None or (self.about, self.name) != _named(facts, self.undoes):
            raise BadInput(f"there is no entry {self.undoes} about {visible(self.name)} that can be undone")
        newest = newest_of(facts, by)
        if newest != self.undoes:
            raise BadInput(f"entry {self.undoes} cannot be undone before entry {newest}, the newest")
        for seq in known.about.get((self.about, self.name), ()):
            if seq > self.undoes and seq not in known.undone and seq not in known.counter:
                who = known.by.get(seq, "a lock")
                raise BadInput(
                    f"{visible(who)} has recorded something about {visible(self.name)} since (entry {seq}): "
                    "change it by a new entry instead"
                )
        gone, back = _changed(facts, self.undoes, self.about, self.name)
        if not (_says(self.gone, gone) and _says(self.back, back)):
            raise BadInput(f"that is not what entry {self.undoes} changed; look again")

    def apply(self, facts: Session, entry: Entry) -> None:
        known = {str(t.__tablename__): t for t in _tables(self.about)}
        for one in (*self.gone, *self.back):
            self._guard(facts, known[one.table], one.row)
        for one in self.gone:
            table = known[one.table]
            facts.delete(facts.get_one(table, _key(table, one.row)))
        facts.flush()
        for one in self.back:
            put(facts, known[one.table](**one.row))

    def _guard(self, facts: Session, table: type[Fact], row: dict[str, Any]) -> None:
        """Only what this act is about; never a locked revision."""
        if row[_tables(self.about)[table]] != self.name:
            raise BadInput(f"a row of another {self.about} in a counter-act")
        if "revision" in row:
            standing = row_with(facts, PartFact, row["number"], row["revision"])
            if row.get("locked") or (standing is not None and standing.locked):
                raise BadInput(
                    f"{visible(self.name)} revision {row['revision']} is locked: nothing in it can be undone"
                )


@dataclass
class Subjects:
    """Which entries are about what, as far as the journal was read: to be asked for what has a counter-act."""

    read_to: int = 0
    about: dict[tuple[About, str], list[int]] = field(default_factory=dict)
    by: dict[int, str] = field(default_factory=dict)  # entries that can be undone, oldest first
    undone: set[int] = field(default_factory=set)
    counter: set[int] = field(default_factory=set)

    def newest_of(self, by: str) -> int:
        """The newest entry of this person that can be undone, 0 where there is none."""
        return next((s for s in reversed(self.by) if self.by[s] == by and s not in self.undone), 0)

    def take(self, seq: int, body: Body) -> None:
        """Read one entry more."""
        from ledger.acts import read_act

        act = body.act
        try:
            read_act(act)
        except (FitupError, ValueError, TypeError):
            return  # set aside
        for key in _concerned(act):
            self.about.setdefault(key, []).append(seq)
        if act["kind"] == "undo":
            self.undone.add(act["undoes"])
            self.counter.add(seq)
        elif act["kind"] in undoable():
            self.by[seq] = body.by


def subjects(facts: Session, about: About, name: str) -> Subjects:
    """
    What is known of one thing from the entries before the one that is being followed, or from all.

    Whoever follows the journal from its first entry reads each once; otherwise those are read that hold the name.
    """
    at = entries(facts)
    if at.from_the_first:
        return _all_subjects(facts)
    asked = (about, name, at.next, at.last and at.last[0])
    kept: tuple[object, Subjects] | None = at.known.get("subjects of one")
    if kept and kept[0] == asked:
        return kept[1]
    found = Subjects()
    for row, body in read_naming(facts, canonical(name), before=at.next):
        found.take(row.seq, body)
    at.known["subjects of one"] = (asked, found)
    return found


def newest_of(facts: Session, by: str) -> int:
    """The newest entry of this person that can be undone and is not, 0 where there is none; read from the end."""
    at = entries(facts)
    if at.from_the_first:
        return _all_subjects(facts).newest_of(by)
    seen = Subjects()
    pieces = (b'"by":' + canonical(by), b'"kind":"undo"')
    for row, body in read_naming(facts, *pieces, before=at.next, newest_first=True):
        seen.take(row.seq, body)
        if found := seen.newest_of(by):
            return found
    return 0


def _all_subjects(facts: Session) -> Subjects:
    at = entries(facts)
    found: Subjects = at.known.setdefault("subjects", Subjects())
    for row, body in read_between(facts, found.read_to, at.next):
        found.take(row.seq, body)
        found.read_to = row.seq
    return found


def last_of(facts: Session, by: str) -> int:
    """The newest entry of this person that can be undone. Raises BadInput where there is none."""
    found = newest_of(facts, by)
    if not found:
        raise BadInput(f"{visible(by)} has recorded nothing that can be undone")
    return found


def _about(act: dict[str, Any]) -> tuple[About, str]:
    if act["kind"] not in undoable():
        raise BadInput(f"an entry of kind {act['kind']} cannot be undone")
    about, name = undoable()[act["kind"]]
    return about, act[name]


def _named(facts: Session, seq: int) -> tuple[About, str] | None:
    entry = body_of(facts, seq)
    return _about(entry.act) if entry and entry.act["kind"] in undoable() else None


def _concerned(act: dict[str, Any]) -> Iterator[tuple[About, str]]:
    """What an entry is about."""
    if act["kind"] == "lock":
        for part in act["parts"]:
            yield "part", part["number"]
    elif act["kind"] == "undo":
        yield act["about"], act["name"]
    elif act["kind"] in undoable():
        yield _about(act)


def _rows_before(facts: Session, seq: int, about: About, name: str) -> Rows:
    """What the acts before an entry add up to for one part, connection or vendor, in a database of their own."""
    from ledger.acts import read_act

    with scratch() as memory, Session(memory, info=in_memory(memory)) as before:
        for at in subjects(facts, about, name).about.get((about, name), ()):
            body = body_of(facts, at)
            if at < seq and body is not None:
                _apply(before, at, body, read_act(body.act), name)
        return _rows(before, about, name)


def _apply(before: Session, seq: int, body: Body, act: Act, name: str) -> None:
    if body.act["kind"] == "lock":  # of a set, only this part is here
        for locked in (p for p in body.act["parts"] if p["number"] == name):
            restored(LockedPart, locked).freeze(before)
        return
    act.apply(before, Entry(seq, "", body.by, body.at))


def _rows(facts: Session, about: About, name: str) -> Rows:
    return {
        (str(table.__tablename__), json.dumps(_key(table, fields))): fields
        for table, column in _tables(about).items()
        for row in facts.exec(select(table).where(getattr(table, column) == name))
        for fields in (row.model_dump(),)
    }


def _key(table: type[Fact], row: dict[str, Any]) -> tuple[Any, ...]:
    return tuple(row[c.name] for c in table.__table__.primary_key.columns)  # type: ignore[attr-defined]  # SQLModel hides its table


def _changed(facts: Session, seq: int, about: About, name: str) -> tuple[Rows, Rows]:
    """What goes and what comes back when an entry is undone, as the facts stand now."""
    before, now = _rows_before(facts, seq, about, name), _rows(facts, about, name)
    gone = {k: row for k, row in now.items() if before.get(k) != row}
    return gone, {k: row for k, row in before.items() if now.get(k) != row}


def _says(fields: Iterable[RowField], rows: Rows) -> bool:
    """Whether a counter-act names just these rows; columns that came later are not in it."""
    left = dict(rows)
    for one in fields:
        keys = [k for k, row in left.items() if k[0] == one.table and row.items() >= one.row.items()]
        if not keys:
            return False
        del left[keys[0]]
    return not left


def _fields(rows: Rows) -> Iterator[RowField]:
    for (table, _key), row in rows.items():
        yield RowField(table=table, row=row)
