"""
What can be read from an open job: verdicts, parts, connections, papers, the journal. Nothing here changes it.

`ledger.job` builds on this class and adds everything that writes.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from sqlmodel import Session, select

from ledger import history
from ledger.acts.base import make, newest_part, person_named
from ledger.acts.connections import Against, RecordClearance, connection_named
from ledger.acts.undo import last_of
from ledger.custody import follow
from ledger.domain.connection import Connection
from ledger.domain.errors import BadInput, visible
from ledger.domain.gate import PermitMade, Policy
from ledger.domain.readings import apart_from_warmth
from ledger.domain.record import Part
from ledger.handouts import Issued
from ledger.standards.expansion import heat_between
from ledger.standards.instruments import Own, measured
from ledger.store import facts as read
from ledger.store.instruments import calibrations, own_instruments
from ledger.store.replay import seal_of, sealed_rows
from ledger.store.sealed import Sealed, read_body
from ledger.store.signers import KeyLine, key_lines
from ledger.store.tables import (
    ConnectionFact,
    InstrumentFact,
    JournalRow,
    PartFact,
    PersonFact,
)
from ledger.table_entry import Preview, dimension_table, preview

if TYPE_CHECKING:
    from ledger.packet.figures import Figures
    from ledger.views import ConnectionView


@dataclass(frozen=True, slots=True)
class Written:
    """One entry of the journal, for reading."""

    seq: int
    at: str
    by: str
    kind: str
    hash: str
    signed: bool
    act: dict[str, Any]
    set_back_from: str = ""  # the later time of the entry before: the clock was set back between


@dataclass(frozen=True, slots=True)
class Revised:
    """One revision of a part in the list of them: its letter, whether it is locked, why it was begun."""

    revision: str
    locked: bool
    reason: str


class ReadJob(Issued):
    """The reading half of a job."""

    def part(self, number: str) -> Part:
        """The newest revision of a part. Raises UnknownName."""
        with self.store.reading() as facts:
            return read.part(facts, newest_part(facts, number))

    @staticmethod
    def figures(part: Part) -> Figures:
        """What follows from a part's drawing and record: mass, area, cut length, pierces."""
        from ledger.packet.figures import figures

        return figures(part)

    def parts(self) -> tuple[Part, ...]:
        """The newest revision of every part, by number."""
        with self.store.reading() as facts:
            newest = {r.number: r for r in sorted(read.rows(facts, PartFact), key=lambda r: r.place)}
            return tuple(read.part(facts, newest[n]) for n in sorted(newest))

    def agreed_layers(
        self, number: str, vendor: str = "", stated: Mapping[str, str] | None = None
    ) -> tuple[str, dict[str, str]]:
        """
        The vendor a part's drawing is meant for, and what was agreed there that layers are for; `stated` comes first.

        Where no vendor is named it is that of the drawing before. Raises UnknownName.
        """
        with self.store.reading() as facts:
            taken = read.part(facts, newest_part(facts, number)).taken
            vendor = vendor or (taken.vendor if taken else "")
            return vendor, {**read.layer_roles(facts, vendor), **(stated or {})}

    def bend_data(self) -> tuple[dict[str, Any], ...]:
        """What vendors bend with, as stated, by vendor, material and thickness."""
        with self.store.reading() as facts:
            return tuple(row.model_dump() for row in read.bend_data(facts))

    def connections(self) -> tuple[Connection, ...]:
        """Every connection, by name."""
        with self.store.reading() as facts:
            return tuple(read.connection(facts, row) for row in read.rows(facts, ConnectionFact))

    def connection_view(self, name: str) -> ConnectionView:
        """A connection with its fit, its placed outlines and what its checks find. Raises UnknownName."""
        from ledger.views import connection_view

        with self.store.reading() as facts, self._kept():
            found = read.connection(facts, connection_named(facts, name))
            return connection_view(self._bench_of(facts, found, kept=True), found)

    def revisions(self, number: str) -> tuple[Revised, ...]:
        """Every revision of a part, oldest first. Raises UnknownName."""
        with self.store.reading() as facts:
            newest_part(facts, number)
            found = sorted(read.rows(facts, PartFact, number=number), key=lambda r: r.place)
            return tuple(Revised(r.revision, r.locked, r.reason) for r in found)

    def permits(self, number: str) -> tuple[PermitMade, ...]:
        """What was accepted in writing for the newest revision, in force or not. Raises UnknownName."""
        with self.store.reading() as facts:
            bench = self._bench(facts, (number,))
            return tuple(bench.permits(bench.part(newest_part(facts, number))))

    def policy(self) -> Policy:
        """Which roles must sign and which warnings stop."""
        with self.store.reading() as facts:
            return read.policy(facts)

    def people(self) -> tuple[tuple[str, tuple[str, ...], str], ...]:
        """Everyone enrolled: name, roles, public key."""
        with self.store.reading() as facts:
            return tuple((p.name, tuple(json.loads(p.roles)), p.key) for p in read.rows(facts, PersonFact))

    def keys(self, name: str) -> tuple[KeyLine, ...]:
        """Every key of a person, oldest first, with what no longer counts of each. Raises UnknownName."""
        with self.store.reading() as facts:
            return key_lines(facts, person_named(facts, name).name)

    def keys_that_went(self) -> tuple[KeyLine, ...]:
        """The keys, of whomever, that the last entry has retired."""
        with self.store.reading() as facts:
            last = seal_of(facts)[0]
            names = sorted(p.name for p in read.rows(facts, PersonFact))
            return tuple(k for name in names for k in key_lines(facts, name) if k.retired == last)

    def last_of(self, by: str) -> Written:
        """The newest entry of this person that can be taken back. Raises BadInput where there is none."""
        with self.store.reading() as facts:
            return _written(facts.get_one(JournalRow, last_of(facts, by)))

    def changes_since(self, number: str, person: str, together: Sequence[str] = ()) -> history.Since:
        """What changed of a part since this person last signed it, in any role. Raises UnknownName."""
        with self.store.reading() as facts:
            return history.since(facts, follow, number, person, together)

    def changes_between(self, number: str, earlier: str = "", later: str = "") -> history.Between:
        """What changed between two revisions: the newest and the one before, unless named. Raises UnknownName."""
        with self.store.reading() as facts:
            return history.between(facts, follow, number, earlier, later)

    def changes_told(self, number: str) -> history.Story:
        """Every step between revisions, and what changed since each person last signed. Raises UnknownName."""
        with self.store.reading() as facts:
            return history.story(facts, follow, number)

    def news(self, since: int) -> tuple[int, tuple[Written, ...]]:
        """The newest entry's number, and the entries behind `since` that this open job has not written itself."""
        with self.store.reading() as facts:
            seq, _head = seal_of(facts)
            rows = (
                facts.exec(select(JournalRow).where(JournalRow.seq > since)).all() if seq > since > 0 else ()
            )
            return seq, tuple(_written(r) for r in rows if r.hash not in self.store.mine)

    def journal(self) -> Iterator[Written]:
        """Every entry, oldest first."""
        with self.store.reading() as facts:
            before = ""
            for row in sealed_rows(facts):
                found = _written(row)
                yield replace(found, set_back_from=before) if found.at < before else found
                before = found.at

    def own_instruments(self) -> Own:
        """What the job's own instruments are good for, by plain name."""
        with self.store.reading() as facts:
            return own_instruments(facts)

    @property
    def day(self) -> str:
        """Today, as YYYY-MM-DD in UTC."""
        return self._today()

    def instruments(self) -> tuple[InstrumentFact, ...]:
        """The newest calibration of every instrument of the job's own, by name."""
        with self.store.reading() as facts:
            newest = {row.name: row for row in calibrations(facts)}
            return tuple(newest[name] for name in sorted(newest))

    def preview_table(self, data: bytes) -> Preview:
        """What a table of dimensions or clearances would record, row by row. Raises BadInput."""
        with self.store.reading() as facts:
            return preview(facts, data, partial(self._measured, facts))

    def dimension_table(self, number: str = "") -> bytes:
        """The key dimensions of a part, or of every part, as a table to edit and enter again. Raises UnknownName."""
        with self.store.reading() as facts:
            return dimension_table(facts, number)

    def _measured(
        self, facts: Session, connection: str, name: str, written: str, warm: str = ""
    ) -> RecordClearance:
        """
        A reading of a clearance against the interfaces that its verdict looks at, at 20 °C where it says how
        warm it was.

        Raises BadInput, UnknownName.
        """
        found = read.connection(facts, connection_named(facts, connection))
        plies = self._bench_of(facts, found).connection_case(found, "").plies
        line, at = apart_from_warmth(written)
        if at and warm and at != warm:
            raise BadInput(f"the reading says {at} and --at says {visible(warm)}: say once how warm it was")
        heat = heat_between(warm or at, {p.part.number: p.part.material for p in plies})
        reading = measured(line, own=own_instruments(facts), heat=heat)
        against = tuple(
            Against(part=p.part.number, revision=p.part.revision, interface=p.interface) for p in plies
        )
        return make(
            RecordClearance,
            connection=connection,
            name=name,
            value=reading.value.written,
            uncertainty=reading.uncertainty.written,
            instrument=reading.instrument,
            day=self._today(),
            against=against,
            how=reading.how,
        )

    @staticmethod
    def _ident(facts: Session) -> str:
        first = read.first_body(facts)
        if first is None:
            raise BadInput("this job has no entries: it was not started by fitup")
        return read_body(first).job


def _written(row: Sealed | JournalRow) -> Written:
    body = read_body(row.body)
    kind: str = body.act["kind"]
    return Written(row.seq, body.at, body.by, kind, row.hash, bool(row.signature), body.act)
