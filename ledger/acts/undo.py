"""
Undoing an act by a counter-act: the rows that it touched are again what they were before.

Nothing leaves the journal. The counter-act names the entry that it undoes, the rows that go and the rows that come
back, so that replay only applies it. Only unsigned acts about a part, a connection, a vendor or the policy can be
undone, each person's own newest first; not where someone else has built on them, and nothing of a locked revision.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from typing import Any, Literal, Self

from pydantic import BaseModel, ConfigDict
from sqlmodel import Session, select

from ledger.acts.base import Act, Entry, Name, put
from ledger.acts.bodies import restored
from ledger.acts.release import LockedPart
from ledger.domain.errors import BadInput, visible
from ledger.store.replay import sealed_rows
from ledger.store.scratch import scratch
from ledger.store.sealed import Body, Sealed, read_body
from ledger.store.tables import (
    BendDataFact,
    BendFact,
    BoltFact,
    ClearanceFact,
    ConnectionFact,
    DimensionFact,
    DistanceFact,
    Fact,
    FrozenInterfaceFact,
    GroupFact,
    GroupReferenceFact,
    InstrumentFact,
    JobFact,
    JournalRow,
    MeasuredHoleFact,
    OperationFact,
    PartFact,
    PlyFact,
    PointFact,
    ProfileFact,
    QuestionFact,
    ReadingFact,
)

About = Literal["part", "connection", "vendor", "job", "instrument"]
Rows = dict[tuple[str, str], dict[str, Any]]  # by table and key

_TABLES: dict[About, dict[type[Fact], str]] = {
    "part": dict.fromkeys(
        (
            PartFact,
            ProfileFact,
            MeasuredHoleFact,
            PointFact,
            DistanceFact,
            OperationFact,
            BendFact,
            GroupFact,
            GroupReferenceFact,
            DimensionFact,
            QuestionFact,
        ),
        "number",
    ),
    "connection": {
        ConnectionFact: "name",
        PlyFact: "connection",
        BoltFact: "connection",
        ClearanceFact: "connection",
        ReadingFact: "connection",
        FrozenInterfaceFact: "connection",
    },
    "vendor": {BendDataFact: "vendor"},
    "job": {JobFact: "ident"},
    "instrument": {InstrumentFact: "name"},
}
NAMED: dict[str, tuple[About, str]] = {
    **dict.fromkeys(
        (
            "record_part",
            "change_part",
            "new_revision",
            "take_profile",
            "record_hole",
            "record_point",
            "record_distance",
            "remove_distance",
            "record_operation",
            "record_bend",
            "remove_bend",
            "refer_group",
            "name_group",
            "record_dimension",
            "calculate_dimension",
            "remove_of_part",
            "ask_question",
            "answer_question",
            "link_question",
        ),
        ("part", "number"),
    ),
    **dict.fromkeys(("record_connection", "remove_connection"), ("connection", "name")),
    **dict.fromkeys(
        ("record_bolt", "require_clearance", "remove_clearance", "record_clearance", "freeze_interface"),
        ("connection", "connection"),
    ),
    "record_bend_data": ("vendor", "vendor"),
    "set_policy": ("job", ""),
    "record_instrument": ("instrument", "name"),
}


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
        entry = facts.get(JournalRow, seq)
        if entry is None:
            raise BadInput(f"there is no entry {seq} to undo")
        act = read_body(entry.body).act
        about, name = _about(facts, act)
        before, now = _rows_before(facts, seq, about, name), _rows(facts, about, name)
        return cls(
            undoes=seq,
            about=about,
            name=name,
            gone=tuple(_fields(now, (k for k in now if before.get(k) != now[k]))),
            back=tuple(_fields(before, (k for k in before if before[k] != now.get(k)))),
        )

    def check(self, facts: Session) -> None:
        newest = last_of(facts, read_body(facts.get_one(JournalRow, self.undoes).body).by)
        if newest != self.undoes:
            raise BadInput(f"entry {self.undoes} cannot be undone before entry {newest}, the newest")
        for row in _later(facts, self.undoes):
            body = read_body(row.body)
            if body.act.get("undoes") != self.undoes and _concerns(body.act, self.about, self.name):
                raise BadInput(
                    f"{visible(body.by)} has recorded something about {visible(self.name)} since (entry {row.seq}): "
                    "change it by a new entry instead"
                )
        if self != type(self).of(facts, self.undoes):
            raise BadInput(f"that is not what entry {self.undoes} changed; look again")

    def apply(self, facts: Session, entry: Entry) -> None:
        known = {str(t.__tablename__): t for t in _TABLES[self.about]}
        for field in (*self.gone, *self.back):
            self._guard(facts, known[field.table], field.row)
        for field in self.gone:
            table = known[field.table]
            facts.delete(facts.get_one(table, _key(table, field.row)))
        facts.flush()
        for field in self.back:
            put(facts, known[field.table](**field.row))

    def _guard(self, facts: Session, table: type[Fact], row: dict[str, Any]) -> None:
        """Only what this act is about; never a locked revision, never who the job is."""
        if self.about == "job":
            now = facts.get_one(JobFact, row["ident"])
            if any(row[name] != getattr(now, name) for name in ("ident", "firm")):
                raise BadInput("a job's identity cannot be undone")
            return
        if row[_TABLES[self.about][table]] != self.name:
            raise BadInput(f"a row of another {self.about} in a counter-act")
        if "revision" in row:
            standing = facts.get(PartFact, (row["number"], row["revision"]))
            if row.get("locked") or (standing is not None and standing.locked):
                raise BadInput(
                    f"{visible(self.name)} revision {row['revision']} is locked: nothing in it can be undone"
                )


def last_of(facts: Session, by: str) -> int:
    """The newest entry of this person that can be undone. Raises BadInput where there is none."""
    undone: set[int] = set()
    newest_first = select(JournalRow).order_by(JournalRow.seq.desc())  # type: ignore[attr-defined]  # a column at run time
    for row in facts.exec(newest_first):
        body = read_body(row.body)
        act = body.act
        if act["kind"] == "undo":
            undone.add(act["undoes"])
        elif act["kind"] in NAMED and body.by == by and row.seq not in undone:
            return row.seq
    raise BadInput(f"{visible(by)} has recorded nothing that can be undone")


def _about(facts: Session, act: dict[str, Any]) -> tuple[About, str]:
    if act["kind"] not in NAMED:
        raise BadInput(f"an entry of kind {act['kind']} cannot be undone")
    about, field = NAMED[act["kind"]]
    return about, act[field] if field else facts.exec(select(JobFact.ident)).one()


def _concerns(act: dict[str, Any], about: About, name: str) -> bool:
    if act["kind"] == "lock":
        return about == "part" and any(p["number"] == name for p in act["parts"])
    if act["kind"] == "undo":
        return bool((act["about"], act["name"]) == (about, name))
    if act["kind"] == "open_job":
        return about == "job"
    meant, field = NAMED.get(act["kind"], ("", ""))
    return meant == about and (not field or act[field] == name)


def _later(facts: Session, seq: int) -> Iterator[JournalRow]:
    """Entries behind this one that have not been taken back themselves."""
    rows = facts.exec(select(JournalRow).where(JournalRow.seq > seq)).all()
    acts = [read_body(r.body).act for r in rows]
    undone = {a["undoes"] for a in acts if a["kind"] == "undo"}
    for row, act in zip(rows, acts, strict=True):
        if row.seq not in undone and act["kind"] != "undo":
            yield row


def _rows_before(facts: Session, seq: int, about: About, name: str) -> Rows:
    """What the acts before an entry add up to for one part, connection or policy, in a database of their own."""
    from ledger.acts import read_act

    with scratch() as memory, Session(memory) as before:
        for row in sealed_rows(facts):
            body = read_body(row.body)
            if row.seq < seq and _concerns(body.act, about, name):
                _apply(before, row, body, read_act(body.act), name)
        return _rows(before, about, name)


def _apply(before: Session, row: Sealed, body: Body, act: Act, name: str) -> None:
    if body.act["kind"] == "lock":  # of a set, only this part is here
        for locked in (p for p in body.act["parts"] if p["number"] == name):
            restored(LockedPart, locked).freeze(before)
        return
    act.apply(before, Entry(row.seq, row.hash, body.by, body.at))


def _rows(facts: Session, about: About, name: str) -> Rows:
    return {
        (str(table.__tablename__), json.dumps(_key(table, fields))): fields
        for table, column in _TABLES[about].items()
        for row in facts.exec(select(table).where(getattr(table, column) == name))
        for fields in (row.model_dump(),)
    }


def _key(table: type[Fact], row: dict[str, Any]) -> tuple[Any, ...]:
    return tuple(row[c.name] for c in table.__table__.primary_key.columns)  # type: ignore[attr-defined]  # SQLModel hides its table


def _fields(rows: Rows, keys: Iterable[tuple[str, str]]) -> Iterator[RowField]:
    for table, key in keys:
        yield RowField(table=table, row=rows[table, key])
