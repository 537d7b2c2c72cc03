"""
What can be read from an open shop: verdicts, parts, mates, papers, the journal. Nothing here changes it.

`ledger.shop` builds on this class and adds everything that writes.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from sqlmodel import Session, select

from ledger import papers, past, release
from ledger.acts.base import make, newest_part, person_named
from ledger.acts.mates import Against, RecordClearance, mate_named
from ledger.acts.taking_back import last_of
from ledger.cases import Bench
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.first import Step, first_steps
from ledger.domain.gate import PermitMade, Policy, Verdict, with_lock_unsigned
from ledger.domain.mated import Mate
from ledger.domain.readings import apart_from_warmth
from ledger.domain.record import Part
from ledger.keeping import Kept, follow
from ledger.outcomes import Outcomes
from ledger.shelf import Shelf
from ledger.standards.expansion import heat_between
from ledger.standards.instruments import Own, measured
from ledger.store import facts as read
from ledger.store.facts import PartLine
from ledger.store.instruments import calibrations, own_instruments
from ledger.store.questions import waits_between
from ledger.store.replay import head_of, sealed_rows
from ledger.store.sealed import Sealed, read_body
from ledger.store.signers import KeyLine, key_lines
from ledger.store.tables import (
    InstrumentFact,
    JournalRow,
    LockFact,
    MateFact,
    PacketFact,
    PartFact,
    PersonFact,
)
from ledger.table_entry import Preview, dimension_table, preview

if TYPE_CHECKING:
    from ledger.packet.figures import Figures
    from ledger.views import MateView


_WHOLE = 6  # where more than one part in so many is judged, each table is read at once


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


@dataclass(frozen=True, slots=True)
class Listed:
    """Every part as a line; `head` is seq:hash of the journal then, `people` are (name, roles)."""

    head: str
    day: str
    lines: tuple[PartLine, ...]
    people: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class Stands:
    """How a part stands: the journal's head (seq:hash) it was judged at, the set it was judged in, the verdict."""

    head: str
    together: tuple[str, ...]
    verdict: Verdict


class ReadShop(Kept):
    """The reading half of a shop. `outcomes` keeps what checks said, for everything but signing and locking."""

    outcomes: Outcomes

    def verdicts(self, numbers: Sequence[str]) -> tuple[Verdict, ...]:
        """Judge these parts as a set. A locked revision's verdict is read from its lock. Raises UnknownName."""
        with self.store.reading() as facts, self._kept():
            bench = self._bench(facts, numbers, kept=True)
            return tuple(self._verdict(facts, bench, number) for number in bench.together)

    def listed(self) -> Listed:
        """Every part as a line, with the head, the day and the people that verdicts of now depend on."""
        with self.store.reading() as facts:
            seq, head = head_of(facts)
            people = tuple((p.name, tuple(json.loads(p.roles))) for p in read.rows(facts, PersonFact))
            return Listed(f"{seq}:{head}", self._today(), read.part_lines(facts), people)

    def each_verdict(self, numbers: Sequence[str]) -> Iterator[Stands]:
        """
        Each part judged with those it was last signed together with, else by itself, in one reading.

        Records are read once for all of them. Raises UnknownName.
        """
        with self.store.reading() as facts, self._kept():
            seq, head = head_of(facts)
            whole = len(numbers) * _WHOLE >= read.how_many_parts(facts)
            bench = self._bench(facts, (), kept=True, whole=whole)
            for number in numbers:
                laid = bench.as_last_signed(number)
                yield Stands(f"{seq}:{head}", laid.together, self._verdict(facts, laid, number))

    def first_steps(self) -> tuple[Step, ...]:
        """What to decide, measure or mend first, because it frees the most parts."""
        with self.store.reading() as facts:
            numbers = [line.number for line in read.part_lines(facts) if not line.locked]
            waits = waits_between(facts)
        return first_steps((found.verdict for found in self.each_verdict(numbers)), waits)

    def re_entry_wanted(self, numbers: Sequence[str]) -> tuple[str, ...]:
        """The key dimensions one person alone may type again when checking; empty where no re-entry is asked."""
        with self.store.reading() as facts:
            if read.policy(facts).people > 1:
                return ()
            return release.re_entry_wanted(read.part(facts, newest_part(facts, n)) for n in numbers)

    def packet(self, number: str, revision: str = "") -> tuple[str, bytes, dict[str, bytes]]:
        """The kept packet of a locked revision: name, bytes, and its DXF files by name. Raises UnknownName."""
        with self.store.reading() as facts:
            locks = read.rows(facts, LockFact, number=number)
            found = [k for k in locks if k.revision == revision or not revision]
            if not found:
                raise UnknownName(
                    "locked revision",
                    f"{number} {revision}".strip(),
                    [f"{k.number} {k.revision}" for k in read.rows(facts, LockFact)],
                )
            newest = max(found, key=lambda k: k.seq)
            kept = facts.get_one(PacketFact, newest.seq)
            together = [k for k in read.rows(facts, LockFact, seq=newest.seq) if k.dxf]
            return (
                kept.file_name,
                read.blob(facts, kept.sha256),
                {k.dxf_name: read.blob(facts, k.dxf) for k in together},
            )

    def picture(self, name: str, kind: str = "svg") -> bytes:
        """A part, or the plies of a mate as they go together, as svg or png. Raises UnknownName, BadInput."""
        with self.store.reading() as facts:
            return papers.picture(facts, self._bench(facts, ()), name, kind)

    def sheet(self, number: str, paper: str = "A4") -> bytes:
        """
        The vendor's sheet as PDF: of a locked revision the one in its packet, else a preview on `paper`, marked so.

        Raises UnknownName, BadInput, Tampered.
        """
        from ledger.packet.sheet import vendor_sheet

        with self.store.reading() as facts:
            newest = read.part(facts, newest_part(facts, number))
            if newest.locked:
                return papers.kept_sheet(facts, newest)
            bench = self._bench(facts, (number,))
            verdict = self._verdict(facts, bench, number)
            part = bench.part(newest_part(facts, number))
            return vendor_sheet(part, papers.issue(facts, verdict, bench.policy), paper=paper)

    def record(self, number: str, revision: str = "") -> bytes:
        """
        The shop record of a locked revision, as the lock made and kept it; it never leaves with a packet.

        Raises UnknownName, Tampered.
        """
        with self.store.reading() as facts:
            return papers.kept_record(facts, number, revision)

    def report(self) -> bytes:
        """The whole shop as one HTML file that needs nothing else: judged afresh, now."""
        from ledger import shop_page

        with self.store.reading() as facts:
            bench = self._bench(facts, (), whole=True)
            return shop_page.report(facts, bench, self._verdict, self.store.clock())

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

    def foldings(self) -> tuple[dict[str, Any], ...]:
        """What vendors fold with, as stated, by vendor, material and thickness."""
        with self.store.reading() as facts:
            return tuple(row.model_dump() for row in read.foldings(facts))

    def mates(self) -> tuple[Mate, ...]:
        """Every mate, by name."""
        with self.store.reading() as facts:
            return tuple(read.mate(facts, row) for row in read.rows(facts, MateFact))

    def mate_view(self, name: str) -> MateView:
        """A mate with its fit, its placed outlines and what its checks find. Raises UnknownName."""
        from ledger.views import mate_view

        with self.store.reading() as facts, self._kept():
            found = read.mate(facts, mate_named(facts, name))
            return mate_view(self._bench(facts, (), kept=True), found)

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

    def last_of(self, by: str) -> Written:
        """The newest entry of this person that can be taken back. Raises BadInput where there is none."""
        with self.store.reading() as facts:
            return _written(facts.get_one(JournalRow, last_of(facts, by)))

    def changes_since(self, number: str, person: str, together: Sequence[str] = ()) -> past.Since:
        """What changed of a part since this person last signed it, in any role. Raises UnknownName."""
        with self.store.reading() as facts:
            return past.since(facts, follow, number, person, together)

    def changes_between(self, number: str, earlier: str = "", later: str = "") -> past.Between:
        """What changed between two revisions: the newest and the one before, unless named. Raises UnknownName."""
        with self.store.reading() as facts:
            return past.between(facts, follow, number, earlier, later)

    def changes_told(self, number: str) -> past.Story:
        """Every step between revisions, and what changed since each person last signed. Raises UnknownName."""
        with self.store.reading() as facts:
            return past.story(facts, follow, number)

    def news(self, since: int) -> tuple[int, tuple[Written, ...]]:
        """The newest entry's number, and the entries behind `since` that this open shop has not written itself."""
        with self.store.reading() as facts:
            seq, _head = head_of(facts)
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
        """What the shop's own instruments are good for, by plain name."""
        with self.store.reading() as facts:
            return own_instruments(facts)

    @property
    def day(self) -> str:
        """Today, as YYYY-MM-DD in UTC."""
        return self._today()

    def instruments(self) -> tuple[InstrumentFact, ...]:
        """The newest calibration of every instrument of the shop's own, by name."""
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
        self, facts: Session, mate: str, name: str, written: str, warm: str = ""
    ) -> RecordClearance:
        """
        A reading of a clearance against the faces that count now, at 20 °C where it says how warm the work was.

        Raises BadInput, UnknownName.
        """
        found = read.mate(facts, mate_named(facts, mate))
        plies = self._bench(facts, ()).mate_case(found, "").plies
        line, at = apart_from_warmth(written)
        if at and warm and at != warm:
            raise BadInput(f"the reading says {at} and --at says {visible(warm)}: say once how warm it was")
        heat = heat_between(warm or at, {p.part.number: p.part.material for p in plies})
        reading = measured(line, own=own_instruments(facts), heat=heat)
        against = tuple(Against(part=p.part.number, revision=p.part.revision, face=p.face) for p in plies)
        return make(
            RecordClearance,
            mate=mate,
            name=name,
            value=reading.value.written,
            uncertainty=reading.uncertainty.written,
            instrument=reading.instrument,
            day=self._today(),
            against=against,
            how=reading.how,
        )

    def _verdict(self, facts: Session, bench: Bench, number: str) -> Verdict:
        row = newest_part(facts, number)
        if not row.locked:
            return bench.verdict(number)
        if not bench.shelf.is_locked(row):
            return with_lock_unsigned(bench.verdict(number))
        lock = facts.get_one(LockFact, (number, row.revision))
        return Verdict.from_json(json.loads(read.blob(facts, lock.verdict)))

    def _bench(
        self, facts: Session, numbers: Sequence[str], *, kept: bool = False, whole: bool = False
    ) -> Bench:
        """The parts laid out for judging: every check looks, unless kept outcomes are asked for."""
        for number in numbers:
            newest_part(facts, number)
        together = tuple(dict.fromkeys(numbers))
        return Bench(facts, together, self._today(), Shelf(facts, whole), self.outcomes if kept else None)

    @contextmanager
    def _kept(self) -> Iterator[None]:
        """Afterwards what checks said is written down, whatever became of the rest."""
        try:
            yield
        finally:
            self.outcomes.save()

    def _today(self) -> str:
        return self.store.clock().date().isoformat()

    @staticmethod
    def _ident(facts: Session) -> str:
        first = read.first_body(facts)
        if first is None:
            raise BadInput("this shop has no entries: it was not started by fitup")
        return read_body(first).shop


def _written(row: Sealed | JournalRow) -> Written:
    body = read_body(row.body)
    kind: str = body.act["kind"]
    return Written(row.seq, body.at, body.by, kind, row.hash, bool(row.signature), body.act)
