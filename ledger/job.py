"""
The one door: every verb that a face can call.

A *job* is one journal with its facts. Everything that changes it goes through `do` (an unsigned act) or through
`sign`, `permit`, `withdraw_permit` and `lock`; everything else only reads. Faces hold no rules and no database.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from sqlmodel import Session

from ledger.acts import act_named
from ledger.acts.base import Act, make, newest_part, open_part, person_named
from ledger.acts.bends import RecordBend, ReferGroup, lines_of
from ledger.acts.connections import FreezeInterface, connection_named
from ledger.acts.dimensions import dimension_act, dimension_edited
from ledger.acts.instruments import RecordInstrument
from ledger.acts.parts import NameGroup
from ledger.acts.people import ChangeRoles
from ledger.acts.release import SetPolicy, keepers, people_now
from ledger.acts.replay import applied, follow
from ledger.acts.survey import distance_act, point_act
from ledger.acts.undo import Undo, last_of
from ledger.domain.calibration import Calibration
from ledger.domain.connection import Connection, Reading
from ledger.domain.digest import interface
from ledger.domain.errors import BadInput, Tampered, UnknownName, visible
from ledger.domain.finding import Finding, Why
from ledger.domain.gate import PermitMade, Policy, Verdict
from ledger.domain.key_line import KeyLine
from ledger.domain.names import name_text
from ledger.domain.next_steps import Step
from ledger.domain.program import PROGRAM
from ledger.domain.record import Part
from ledger.domain.vendor import Vendor
from ledger.history import entries as history
from ledger.judge.part_list import Listed, listed
from ledger.judge.snapshots import SnapshotFile
from ledger.release import custody
from ledger.release.opening import begin, made_ready, new_job
from ledger.release.signer import Passphrase, Signer, Sitting
from ledger.standards.instruments import Own
from ledger.store import facts as read
from ledger.store import transfer
from ledger.store.agreement import disagreements
from ledger.store.exact import as_written
from ledger.store.faults import tried_again
from ledger.store.filling import Filled
from ledger.store.instruments import calibrations, own_instruments
from ledger.store.journal import Clock, Store, now
from ledger.store.place import connect
from ledger.store.replay import require_followed, seal_of, stopped_at
from ledger.store.signers import key_lines, keys_in_force
from ledger.store.tables import (
    ConnectionFact,
    JobFact,
    JournalRow,
    PartFact,
    PersonFact,
)

if TYPE_CHECKING:
    from ledger.assembly.stack_up import Spread
    from ledger.clean_copy import Choices, Mended
    from ledger.comparison.look import Look
    from ledger.domain.taking import Asked
    from ledger.drawings.connecting import Numbered
    from ledger.drawings.files import Drawing, Known, Refused
    from ledger.drawings.folder import TakenFolder, TakenPart
    from ledger.fit.pattern import Fit, Wrong
    from ledger.history.entries import Revised, Written
    from ledger.history.revisions import Between, Since, Story
    from ledger.judge.assembly import RingView
    from ledger.judge.summaries import Kept, Stamp, Summary
    from ledger.judge.verdicts import Judging, Stands
    from ledger.judge.views import ConnectionView
    from ledger.papers.figures import Figures
    from ledger.papers.template import Template
    from ledger.release.custody import Standing
    from ledger.release.guard import Folder
    from ledger.release.packets import PacketStanding
    from ledger.release.permits import ToPermit
    from ledger.release.signing import LockMade
    from ledger.store.facts import PartLine
    from ledger.survey.answer import SurveyOfPart
    from ledger.tables.entry import Preview, Row
    from ledger.words.answers import Answer

__all__ = [  # the job, and the types of its answers for the faces to name
    "Answer",
    "Between",
    "ConnectionView",
    "Fit",
    "Folder",
    "Job",
    "Kept",
    "Listed",
    "Look",
    "Numbered",
    "PacketStanding",
    "PartLine",
    "Preview",
    "Revised",
    "RingView",
    "Row",
    "Since",
    "Stamp",
    "Standing",
    "Summary",
    "SurveyOfPart",
    "TakenFolder",
    "TakenPart",
    "Template",
    "ToPermit",
    "Written",
    "Wrong",
]


class Job:
    """An open job. `ask` is called with a person's name when a passphrase is needed, once a sitting."""

    def __init__(self, place: str, ask: Passphrase, clock: Clock = now) -> None:
        self.store = Store(connect(place), follow, PROGRAM, clock)
        self.sitting = Sitting(ask)
        self.left_out: tuple[str, ...] = ()
        try:
            self.only_reads = made_ready(self.store)
            with self.store.reading() as facts:
                stopped = stopped_at(facts)
                self.stopped = stopped is not None
                self.only_reads = stopped.message if stopped else self.only_reads
                job = self._opened(facts)
                self.ident, self.firm = job.ident, job.firm
            self.store.replayed.snapshots = SnapshotFile(self.ident)
        except BaseException:
            self.close()
            raise

    @staticmethod
    def start(place: str, firm: str, ask: Passphrase, clock: Clock = now) -> Job:
        """A new job in a new file, or an empty database. Raises BadInput where there is one already."""
        begin(place, firm, clock)
        return Job(place, ask, clock)

    @staticmethod
    def bring_in(
        place: str, source: Path, ask: Passphrase, clock: Clock = now, rest: Path | None = None
    ) -> Job:
        """
        A new job from an exported one, with the same seal. Raises Tampered, and leaves nothing.

        With `rest`, of one that does not hold together, the entries before the first that does not; the others are
        written to that file. What was left out stands in `left_out` of the job.
        """
        filled: list[Filled] = []
        new_job(place, clock, lambda store: filled.append(custody.bring_in(source, store, rest)))
        job = Job(place, ask, clock)
        job.left_out = filled[0].left_out
        return job

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @cached_property
    def judging(self) -> Judging:
        """The parts of this job, judged; what checks look with is loaded when it is first asked for."""
        from ledger.history.revisions import told_changes
        from ledger.judge.outcomes import Outcomes
        from ledger.judge.verdicts import Judging

        return Judging(self.store, Outcomes(self.ident), told_changes)

    def close(self) -> None:
        """Let go of the database."""
        self.store.close()

    @tried_again
    def do(self, act: Act, *, by: str) -> int:
        """Check an act against the facts, write it and apply it; its number. Raises BadInput and changes nothing."""
        if act.signed:
            raise BadInput("a signed act goes through sign, permit or lock")
        with self._writing() as facts:
            return self._do(facts, act, by)

    @tried_again
    def do_made(self, made: Callable[[Session, str], Act], *, by: str) -> int:
        """`do` for an act that is made from the facts as they stand, and the day. Raises BadInput."""
        with self._writing() as facts:
            return self._do(facts, made(facts, self.store.today(facts)), by)

    def enter(self, kind: str, /, *, by: str, **fields: Any) -> int:
        """`do` for an act by the name of its class, `RecordHole`, with these fields. Raises BadInput."""
        return self.do(make(act_named(kind), **fields), by=by)

    def record_dimension(self, *, by: str, edited: bool = False, **fields: Any) -> int:
        """
        Record a dimension as it was written: plain, calculated or read off an instrument; its entry.

        Where it is `edited`, limits, what it is measured on and its marks stay as they were if None. Raises BadInput.
        """
        return self.do_made(partial(dimension_edited if edited else dimension_act, **fields), by=by)

    def record_point(self, *, by: str, **fields: Any) -> int:
        """Record a point of a structure; what is not named stays as it was. Raises BadInput."""
        return self.do_made(partial(point_act, **fields), by=by)

    def record_distance(self, *, by: str, **fields: Any) -> int:
        """Record the readings between two points, `1532 1533 mm tape`. Raises BadInput, UnknownName."""
        return self.do_made(partial(distance_act, **fields), by=by)

    def record_instrument(self, *, by: str, **fields: Any) -> int:
        """Record an instrument of the job's own with a calibration, which is not after today. Raises BadInput."""
        return self.do_made(lambda _facts, day: make(RecordInstrument, day=day, **fields), by=by)

    @tried_again
    def undo(self, seq: int, *, by: str) -> None:
        """Take one's own newest entry back, by a counter-act (`last_of` tells which). Raises BadInput."""
        with self._writing() as facts:
            self._do(facts, Undo.of(facts, seq), by)

    @tried_again
    def enroll(self, name: str, roles: Sequence[str], passphrase: str, *, by: str = "") -> str:
        """
        Enroll a person with a new key; the public half. The first person founds the job and is its keeper; any other
        is enrolled by a keeper, who signs: `by`, or the only keeper there is. Raises BadInput, UnknownName.
        """
        from ledger.release import people

        signer = self._signer(by or self._only_keeper()) if self.people() else None
        with self._writing() as facts:
            key = people.enroll(facts, (self.store, self.ident), signer, (name, tuple(roles)), passphrase)
        if signer is None:
            self.sitting.opened(key, name, passphrase)
        return key

    @tried_again
    def change_roles(self, name: str, roles: Sequence[str], reason: str, *, by: str = "") -> int:
        """
        Give a person other roles; with none they are retired, with their keys. Signed by a keeper: `by`, or the only
        one. Raises BadInput, UnknownName.
        """
        signer = self._signer(by or self._only_keeper())
        with self._writing() as facts:
            fields: dict[str, Any] = {"name": name, "roles": tuple(roles), "reason": reason}
            return signer.append(facts, signer.act(facts, ChangeRoles, **fields)).seq

    @tried_again
    def change_key(
        self, name: str, *, retires: str = "", new: str | None = None, until: int = 0, reason: str, by: str
    ) -> str:
        """
        Retire a key of a person (named by its first figures) from an entry on, add one (`new` is its passphrase), or
        both; signed by `by`. The public half of the new key. Raises BadInput, UnknownName.
        """
        from ledger.release import keys

        signer = self._signer(by)
        with self._signing("no key was changed") as (write, facts):
            return keys.change(
                signer, write, facts, name, retires=retires, new=new, until=until, reason=reason
            )

    @tried_again
    def write_part(self, number: str, fields: Mapping[str, Any], *, by: str) -> None:
        """
        Record a part, or change the named fields of its open revision. Raises BadInput.

        A thickness by gauge number is kept as the length that it means in the part's material.
        """
        from ledger.acts.part_record import part_recorded

        with self._writing() as facts:
            self._do(facts, part_recorded(facts, number, fields), by)

    @tried_again
    def take_profile(
        self,
        number: str,
        file_name: str,
        data: bytes,
        *,
        unit: str | None = None,
        roles: Mapping[str, str] | None = None,
        vendor: str = "",
        by: str,
        said: tuple[Finding, ...] = (),
    ) -> Look:
        """
        Take a part's profile from exact bytes; labels follow holes from the one before. Raises Unreadable, BadInput.

        `roles` says what layers are for. What was said before for the vendor (of the drawing before, where none is
        named) counts where `roles` does not say otherwise. `said` is what these bytes no longer tell of the file that
        they were made of.
        """
        from ledger.comparison.look import look
        from ledger.drawings.taking import Drawn, profile_taken

        vendor, stated = self.agreed_layers(number, vendor, roles or {})
        seen = look(file_name, data, unit=unit, roles=stated)
        drawing = Drawn(file_name, data, seen.profile, unit, stated, vendor, said)
        with self._writing() as facts:
            act, profile = profile_taken(facts, partial(self.store.keep, facts), number, drawing)
            self._do(facts, act, by)
        return replace(seen, profile=profile)

    def take_drawings(self, paths: Sequence[str], asked: Asked, *, by: str) -> TakenFolder:
        """
        Take every drawing of folders and files as a part, all in one go: what was recorded, skipped and refused.

        Raises BadInput for what is wrong with the request, or where a refusal is to refuse everything; Unreadable.
        """
        from ledger.drawings.files import found, read_drawings
        from ledger.drawings.folder import drawings_there

        with self.store.reading() as facts:
            roles = {**read.layer_roles(facts, asked.reading.vendor), **asked.reading.roles}
            there = drawings_there(facts)
        asked = replace(asked, reading=replace(asked.reading, roles=roles))
        where = found(paths)
        files = read_drawings(where.paths, asked.reading, there)
        taken = self._take_read(files, asked, by=by)
        return replace(taken, others=where.others, folders=where.folders)

    @tried_again
    def _take_read(self, files: Sequence[Drawing | Known | Refused], asked: Asked, *, by: str) -> TakenFolder:
        from ledger.drawings.folder import take_all

        with self._writing() as facts:
            return take_all(
                facts, lambda act: self._do(facts, act, by), partial(self.store.keep, facts), files, asked
            )

    def suggest(self) -> tuple[Numbered, ...]:
        """The connections that the drawings speak of, best first, numbered from 1."""
        from ledger.drawings.connecting import numbered

        with self.store.reading() as facts:
            return numbered(facts)

    @tried_again
    def record_suggested(self, marks: str, *, by: str) -> tuple[str, ...]:
        """Record the proposals that are marked (`1,3..5`, `2b`, `all`) in one go; their names. Raises BadInput."""
        from ledger.drawings.connecting import marked, numbered, record_all

        with self._writing() as facts:
            return record_all(facts, lambda act: self._do(facts, act, by), marked(numbered(facts), marks))

    def mend(self, number: str, choices: Choices, *, by: str) -> Mended:
        """
        Write a clean copy of the drawing a part has, and take it. Raises BadInput for what a copy cannot decide.

        Of concentric circles the smallest is cut where the hole is said to be finished afterwards.
        """
        from ledger.clean_copy import CLEAN, KEPT, as_taken, mended

        with self.store.reading() as facts:
            part = read.part(facts, newest_part(facts, number))
            if part.taken is None:
                raise BadInput(f"{visible(number)} has no drawing yet: take its DXF file")
            data = read.kept_file(facts, part.taken.dxf_sha256)
        made = mended(data, as_taken(part, choices), before=part.taken.profile)
        if made.guessed:
            raise BadInput(
                "this drawing was read by guessing at what is missing: write the copy to a file, look at it, take that"
            )
        stem = part.taken.file_name.removesuffix(CLEAN).removesuffix(".dxf").removesuffix(".DXF")
        unit = made.profile.unit_used if choices.unit else None  # what the user said of it still counts
        said = tuple(f for f in made.fixed if f.code in KEPT)
        self.take_profile(
            number, f"{stem}{CLEAN}", made.data, unit=unit, vendor=part.taken.vendor, by=by, said=said
        )
        return made

    @tried_again
    def name_group(
        self, number: str, name: str, labels: Sequence[str] = (), reference: str = "", *, by: str
    ) -> int:
        """Name a hole group, say what it is placed from, or both in one go. Raises UnknownName, BadInput."""
        with self._writing() as facts:
            entry = 0
            if labels or not reference:
                act: Act = make(NameGroup, number=number, name=name, labels=tuple(labels))
                entry = self._do(facts, act, by)
            if reference:
                entry = self._do(facts, make(ReferGroup, number=number, name=name, reference=reference), by)
        return entry

    @tried_again
    def bend(self, number: str, labels: Sequence[str], *, by: str, **fields: str) -> int:
        """Record what is done at bend lines of a part's drawing. Raises UnknownName, BadInput."""
        with self._writing() as facts:
            lines = lines_of(facts, open_part(facts, number), tuple(labels))
            return self._do(
                facts, make(RecordBend, number=number, labels=tuple(labels), lines=lines, **fields), by
            )

    @tried_again
    def measure(self, connection: str, name: str, written: str, *, warm: str = "", by: str) -> Reading:
        """
        Record a clearance as one line, `1.8 ±0.1 mm feeler`, against what counts now; as it was recorded.

        `warm` (30C) is how warm the parts were; the line may say so itself, `at 30C`. Raises BadInput.
        """
        from ledger.judge.readings import reading_of

        connection, name = name_text(connection), name_text(name)
        with self._writing() as facts:
            self._do(facts, reading_of(self.judging, facts, connection, name, written, warm=warm), by)
            made = next(
                c
                for c in read.connection(facts, connection_named(facts, connection)).clearances
                if c.name == name
            )
        if made.reading is None:
            raise BadInput(f"the reading of {visible(name)} was recorded and is not there: verify the job")
        return made.reading

    @tried_again
    def enter_table(
        self, data: bytes, *, by: str, only_good: bool = False, seen: Preview | None = None
    ) -> Preview:
        """
        Record a table of dimensions or clearances in one go: all of it, or its good rows where that is asked for.

        Raises BadInput and records nothing where a row is wrong, or reads otherwise than in the preview that was seen.
        """
        from ledger.judge.readings import reading_of
        from ledger.tables.entry import preview, to_record

        with self._writing() as facts:
            found = preview(facts, data, partial(reading_of, self.judging, facts))
            if seen is not None and seen.rows != found.rows:
                raise BadInput("nothing was recorded: the job changed since the preview; look again")
            for act in to_record(found, only_good=only_good):
                self._do(facts, act, by)
        return found

    @tried_again
    def freeze(self, connection: str, number: str, *, by: str) -> None:
        """Freeze the interface that a part shows to a connection. Raises UnknownName."""
        with self._writing() as facts:
            found = read.connection(facts, connection_named(facts, connection))
            ply = next((p for p in found.plies if p.part == number), None)
            if ply is None:
                raise UnknownName(f"ply of {connection}", number, [p.part for p in found.plies])
            part = read.part(facts, newest_part(facts, number))
            self._do(
                facts,
                make(
                    FreezeInterface, connection=connection, part=number, interface=interface(part, ply, found)
                ),
                by,
            )

    @tried_again
    def sign(
        self, numbers: Sequence[str], role: str, person: str, again: Mapping[str, str]
    ) -> tuple[Verdict, ...]:
        """One signature for a set. Raises NotReleasable, BadInput, UnknownName."""
        from ledger.release import signing

        signer = self._signer(person)
        with self._signing("nothing was signed") as (write, facts):
            return signing.sign(signer, write, self.judging.bench(facts, numbers), role, again)

    @tried_again
    def set_policy(
        self,
        *,
        roles: Sequence[str] | None = None,
        raised: Sequence[str] | None = None,
        odds: str | None = None,
        permits: Sequence[str] | None = None,
        by: str = "",
    ) -> int:
        """
        Set which roles must sign, which warnings stop, which odds holes need and which roles may permit; None leaves
        it. Signed by a keeper: `by`, or the only one. Raises BadInput, UnknownName.
        """
        from ledger.release import signing

        signer = self._signer(by or self._only_keeper())
        with self._writing() as facts:
            fields = signing.policy(facts, roles, raised, odds, permits)
            return signer.append(facts, signer.act(facts, SetPolicy, **fields)).seq

    @tried_again
    def permit(self, number: str, person: str, *, seen: ToPermit | None = None, **fields: str) -> ToPermit:
        """
        Accept one finding of the open revision in writing (`code`, `place`, `reason`, `until`, `up_to`).

        A finding of a connection is accepted at every part of it at once; what is covered is given back, and with
        `seen` it must be that. Raises BadInput, also where what is found is beyond `up_to` already, or has no value to
        hold it to.
        """
        from ledger.release.permits import give, to_permit

        signer = self._signer(person)
        with self._signing("nothing was permitted") as (write, facts):
            bench = self.judging.bench(facts, (number,))
            found = to_permit(bench, number, fields["code"], fields["place"])
            if seen is not None and seen.tellings != found.tellings:
                raise BadInput(
                    f"{fields['code']} is now told of {found.text}, not of {seen.text}: look again"
                )
            give(signer, write, bench, found, **fields)
        return found

    @tried_again
    def withdraw_permit(self, permit: int, person: str, reason: str) -> None:
        """Withdraw the permit of this entry, for every part that it names. Raises BadInput."""
        from ledger.release.permits import withdraw

        signer = self._signer(person)
        with self._signing("nothing was withdrawn") as (write, facts):
            withdraw(signer, write, facts, permit, reason)

    @tried_again
    def lock(self, numbers: Sequence[str], person: str, out: Path) -> LockMade:
        """
        Lock a set and write its packet and folder into `out`. Raises NotReleasable, BadInput; and leaves nothing.

        The whole job is verified before. Raises Tampered where it does not hold together.
        """
        from ledger.release import signing

        signer = self._signer(person)
        try:
            out.mkdir(parents=True, exist_ok=True)
        except OSError as fault:
            raise BadInput(
                f"cannot write to {visible(str(out))}: {fault.strerror}; nothing was locked"
            ) from fault
        staged: Sequence[Any] = ()
        try:
            with self._writing() as write:
                custody.require_whole(write)
                with self.store.replayed.facts(write) as facts:
                    released, staged = signing.lock(signer, write, self.judging.bench(facts, numbers), out)
        except BaseException:
            for waiting in staged:
                waiting.discard()
            raise
        try:
            for waiting in staged:
                waiting.commit()
        except BadInput as fault:
            for waiting in staged:
                waiting.discard()
            raise BadInput(f"locked, but {fault}; fetch the kept files with: fitup packet") from fault
        return released

    def verdicts(self, numbers: Sequence[str]) -> tuple[Verdict, ...]:
        """
        Judge these parts as a set. A locked revision's verdict is read from its lock. Raises UnknownName.

        Where a change has left a role open that was signed before, it is said what changed.
        """
        return self.judging.verdicts(numbers)

    def listed(self) -> Listed:
        """Every part as a line, with the seal, the day and the people that verdicts of now depend on."""
        return listed(self.store)

    def remembered(self) -> Kept | None:
        """Verdicts that an earlier sitting left outside the job for its list; None where none can be believed."""
        from ledger.judge.summaries import remembered

        return remembered(self.ident)

    def remember(self, stamp: Stamp, found: Mapping[str, Summary]) -> None:
        """Leave these for the next sitting: what a list shows of verdicts, all judged at one stamp."""
        from ledger.judge.summaries import Kept, remember

        remember(self.ident, Kept(stamp, found))

    def each_verdict(self, numbers: Sequence[str], *, changes: bool = False) -> Iterator[Stands]:
        """
        Each part judged with those it was last signed together with, else by itself, in one reading.

        With `changes` it is said what changed since a signature, for which the journal is read: for few parts. Raises
        UnknownName.
        """
        return self.judging.each_verdict(numbers, changes=changes)

    def why(self, number: str, code: str) -> Why:
        """The findings of one code at a part with everything known of them. Raises UnknownName."""
        return self.judging.why(number, code)

    def first_steps(self) -> tuple[Step, ...]:
        """What to decide, measure or mend first, because it frees the most parts."""
        return self.judging.first_steps()

    def re_entry_required(self, numbers: Sequence[str]) -> tuple[str, ...]:
        """The key dimensions one person alone may type again when checking; empty where no re-entry is asked."""
        from ledger.release import signing

        with self.store.reading() as facts:
            if read.policy(facts).people > 1:
                return ()
            return signing.re_entry_required(read.part(facts, newest_part(facts, n)) for n in numbers)

    def packet(self, number: str, revision: str = "") -> tuple[str, bytes, dict[str, bytes]]:
        """
        The kept packet of a locked revision: name, bytes, and its DXF files by name.

        Raises UnknownName; Tampered where its lock does not count, or what was kept is another lock's packet.
        """
        from ledger.papers import handouts

        with self._handing_out() as facts:
            return handouts.packet(facts, number, revision)

    def picture(self, name: str, kind: str = "svg") -> bytes:
        """A part, or the plies of a connection as they go together, as svg or png. Raises UnknownName, BadInput."""
        from ledger.papers import of_part

        with self.store.reading() as facts:
            return of_part.picture(facts, self.judging.bench(facts, ()), name, kind)

    def survey(self, number: str) -> SurveyOfPart:
        """What the distances of a part say: its points, which reading is off. Raises UnknownName, BadInput."""
        from ledger.survey.answer import survey_of

        return survey_of(self.part(number))

    def points_drawing(self, number: str) -> bytes:
        """The measured holes and points of a part as a DXF to draw over. Raises UnknownName, BadInput."""
        from ledger.profile.points import points_dxf
        from ledger.survey.places import measured_points

        return points_dxf(measured_points(self.part(number)))

    def template(
        self,
        number: str,
        paper: str = "A4",
        *,
        margin: str = "10 mm",
        overlap: str = "10 mm",
        turned_over: bool = False,
        many: bool = False,
    ) -> Template:
        """
        A part at full size on sheets of paper, as PDF: A4, A3, letter, tabloid or `roll 24 in`. `many` is asked for
        past 40 sheets. Raises UnknownName, BadInput.
        """
        from ledger.papers.template import template
        from ledger.papers.tiles import read_sheets

        sheets = read_sheets(paper, margin, overlap)
        return template(self.part(number), sheets, owner=self.firm, turned_over=turned_over, many=many)

    def sheet(self, number: str, paper: str = "A4") -> bytes:
        """
        The vendor sheet as PDF: of a locked revision the one in its packet, else a preview on `paper`, marked so.

        Raises UnknownName, BadInput, Tampered.
        """
        from ledger.papers import handouts

        with self._handing_out() as facts:
            return handouts.sheet(facts, self.judging, number, paper)

    def record(self, number: str, revision: str = "") -> bytes:
        """
        The job record of a locked revision, as the lock made and kept it; it never leaves with a packet.

        Raises UnknownName, Tampered.
        """
        from ledger.papers import of_part

        with self._handing_out() as facts:
            return of_part.kept_record(facts, number, revision)

    def report(self) -> bytes:
        """The whole job as one HTML file that needs nothing else: judged afresh, now."""
        from ledger.papers import handouts

        with self.store.replaying() as facts:
            return handouts.report(facts, self.judging)

    def stands(self, data: bytes) -> custody.Standing:
        """Whether these exact bytes are a locked revision, and a current one."""
        with self.store.replaying() as facts:
            return custody.standing(facts, data)

    def look_into(self, data: bytes) -> PacketStanding:
        """A packet by itself and beside this job: current, superseded, disowned, or foreign. Raises Unreadable."""
        from ledger.release.packets import beside

        with self.store.replaying() as facts:
            return beside(facts, self.ident, data)

    def altered(self) -> tuple[Finding, ...]:
        """Every row of the fact tables that is not as the journal says; nothing is signed or handed out then."""
        if self.only_reads:
            return ()
        with self.store.replaying() as facts:
            return tuple(disagreements(facts))

    def guard(self, folder: Path) -> Folder:
        """Every DXF in a folder: is it, byte for byte, a locked and current revision? Raises Unreadable."""
        from ledger.release.guard import guard

        with self.store.replaying() as facts:
            return guard(facts, folder)

    def seal(self) -> tuple[int, str]:
        """The journal's last entry: its number and its hash."""
        with self.store.reading(beside=False) as facts:
            return seal_of(facts)

    def holds(self, seal: str) -> bool:
        """Whether this job's journal has the row that a packet or sheet names as its seal (seq:hash)."""
        with self.store.reading(beside=False) as facts:
            return custody.holds(facts, seal)

    def verify(self) -> tuple[Finding, ...]:
        """Everything in the job that does not hold together."""
        with self.store.reading(beside=False) as facts:
            return tuple(custody.all_problems(facts))

    def export(self, out: Path) -> str:
        """
        The journal as JSON lines and every kept file, as a new folder or (a name that ends .zip) one file; the seal.

        Raises BadInput and leaves nothing.
        """
        with self.store.reading(beside=False) as facts:
            return transfer.export(facts, out)

    def backup(self, out: Path) -> str:
        """A copy of the job's file, taken while others work in it; its seal. Raises BadInput and leaves nothing."""
        return transfer.backup(self.store.engine, out)

    def part(self, number: str) -> Part:
        """The newest revision of a part. Raises UnknownName."""
        with self.store.reading() as facts:
            return read.part(facts, newest_part(facts, number))

    @staticmethod
    def figures(part: Part) -> Figures:
        """What follows from a part's drawing and record: mass, area, cut length, pierces."""
        from ledger.papers.figures import figures

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
            return tuple(as_written(row) for row in read.bend_data(facts))

    def vendors(self) -> tuple[Vendor, ...]:
        """Every vendor that is recorded, by name."""
        from ledger.store.vendors import vendors

        with self.store.reading() as facts:
            return vendors(facts)

    def connections(self) -> tuple[Connection, ...]:
        """Every connection, by name."""
        with self.store.reading() as facts:
            return tuple(read.connection(facts, row) for row in read.rows(facts, ConnectionFact))

    def assembly(self) -> tuple[RingView, ...]:
        """Every ring of bolted parts, as it goes together as a whole with the open revisions where there are any."""
        from ledger.judge.assembly import rings_of_job

        with self.store.reading() as facts, self.judging.kept():
            still_open = [line.number for line in read.part_lines(facts) if not line.locked]
            return tuple(rings_of_job(self.judging.bench(facts, still_open, kept=True, whole=True)))

    def dimension_across(self, start: str, end: str, along: str = "") -> Spread:
        """
        From a place of one part to a place of another (`BASE:S1`) as they go together: value, range, contributions.

        Raises BadInput, UnknownName.
        """
        from ledger.judge.assembly import dimension_across

        with self.store.reading() as facts:
            still_open = [line.number for line in read.part_lines(facts) if not line.locked]
            return dimension_across(self.judging.bench(facts, still_open), start, end, along)

    def connection_view(self, name: str) -> ConnectionView:
        """A connection with its fit, its placed outlines and what its checks find. Raises UnknownName."""
        from ledger.judge.views import connection_view

        with self.store.reading() as facts, self.judging.kept():
            found = read.connection(facts, connection_named(facts, name))
            return connection_view(self.judging.bench_of(facts, found, kept=True), found)

    def answers(
        self, *, part: str = "", connection: str = "", name: str = "", bolts: bool = False
    ) -> tuple[Answer, ...]:
        """
        Whether what was touched fits, and with how much margin; nothing else is looked at.

        Of a `part` its connections, or with a `name` that key dimension; of a `connection` itself, with a `name` that
        clearance, with `bolts` its bolts. Raises UnknownName.
        """
        from ledger.judge import answers

        with self.store.reading() as facts, self.judging.kept():
            if part:
                bench = self.judging.bench(facts, (part,), kept=True)
                return (answers.of_dimension(bench, part, name),) if name else answers.of_part(bench, part)
            found = read.connection(facts, connection_named(facts, connection))
            bench = self.judging.bench_of(facts, found, kept=True)
            if name:
                return (answers.of_clearance(bench, found, name),)
            return (answers.of_bolts(bench, found) if bolts else answers.of_connection(bench, found),)

    def revisions(self, number: str) -> tuple[history.Revised, ...]:
        """Every revision of a part, oldest first. Raises UnknownName."""
        with self.store.reading() as facts:
            return history.revisions(facts, number)

    def permits(self, number: str) -> tuple[PermitMade, ...]:
        """What was accepted in writing for the newest revision, in force or not. Raises UnknownName."""
        with self.store.reading() as facts:
            bench = self.judging.bench(facts, (number,))
            return tuple(bench.permits(bench.part(newest_part(facts, number))))

    def to_permit(self, number: str, code: str, place: str) -> ToPermit:
        """What a permit of this finding would cover. Raises UnknownName."""
        from ledger.release.permits import to_permit

        with self.store.reading() as facts, self.judging.kept():
            return to_permit(self.judging.bench(facts, (number,), kept=True), number, code, place)

    def policy(self) -> Policy:
        """Which roles must sign and which warnings stop."""
        with self.store.reading() as facts:
            return read.policy(facts)

    def people(self) -> tuple[tuple[str, tuple[str, ...], str], ...]:
        """Everyone enrolled: name, roles, public key."""
        with self.store.reading() as facts:
            return tuple((p.name, tuple(json.loads(p.roles)), p.key) for p in read.rows(facts, PersonFact))

    def root(self) -> str:
        """The job's root: the public key of the person who founded it; empty while nobody is enrolled."""
        with self.store.reading() as facts:
            return facts.get_one(JobFact, self.ident).root

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

    def last_of(self, by: str) -> history.Written:
        """The newest entry of this person that can be taken back. Raises BadInput where there is none."""
        with self.store.reading() as facts:
            return history.entry_of(facts.get_one(JournalRow, last_of(facts, by)))

    def changes_since(self, number: str, person: str, together: Sequence[str] = ()) -> Since:
        """What changed of a part since this person last signed it, in any role. Raises UnknownName."""
        from ledger.history.revisions import since

        with self.store.reading() as facts:
            return since(facts, applied, number, person, together)

    def changes_between(self, number: str, earlier: str = "", later: str = "") -> Between:
        """What changed between two revisions: the newest and the one before, unless named. Raises UnknownName."""
        from ledger.history.revisions import between

        with self.store.reading() as facts:
            return between(facts, applied, number, earlier, later)

    def changes_told(self, number: str) -> Story:
        """Every step between revisions, and what changed since each person last signed. Raises UnknownName."""
        from ledger.history.revisions import story

        with self.store.reading() as facts:
            return story(facts, applied, number)

    def news(self, since: int) -> tuple[int, tuple[history.Written, ...]]:
        """The newest entry's number, and the entries behind `since` that this open job has not written itself."""
        with self.store.reading() as facts:
            return history.news(facts, since, self.store.mine)

    def journal(self) -> Iterator[history.Written]:
        """Every entry, oldest first."""
        with self.store.reading() as facts:
            yield from history.entries(facts)

    def own_instruments(self) -> Own:
        """What the job's own instruments are good for, by plain name."""
        with self.store.reading() as facts:
            return own_instruments(facts)

    @property
    def day(self) -> str:
        """Today, as YYYY-MM-DD in UTC."""
        with self.store.reading() as facts:
            return self.store.today(facts)

    def instruments(self) -> tuple[Calibration, ...]:
        """The newest calibration of every instrument of the job's own, by name."""
        with self.store.reading() as facts:
            newest = {row.name: row for row in calibrations(facts)}
            return tuple(Calibration(**as_written(newest[name])) for name in sorted(newest))

    def preview_table(self, data: bytes) -> Preview:
        """What a table of dimensions or clearances would record, row by row. Raises BadInput."""
        from ledger.judge.readings import reading_of
        from ledger.tables.entry import preview

        with self.store.reading() as facts:
            return preview(facts, data, partial(reading_of, self.judging, facts))

    def dimension_table(self, number: str = "") -> bytes:
        """The key dimensions of a part, or of every part, as a table to edit and enter again. Raises UnknownName."""
        from ledger.tables.entry import dimension_table

        with self.store.reading() as facts:
            return dimension_table(facts, number)

    def _only_keeper(self) -> str:
        """The one person who may sign what a keeper signs. Raises BadInput where there are several."""
        with self.store.reading() as facts:
            names = [p.name for p in keepers(people_now(facts))]
        if len(names) != 1:
            raise BadInput(
                f"this is signed by a keeper of the job: name one, {', '.join(map(visible, names))}"
            )
        return names[0]

    def _signer(self, name: str) -> Signer:
        """The person with an opened key: asked for before the job is held, so that no workstation waits on typing."""
        with self.store.replaying() as facts:
            person = person_named(facts, name)
            held = keys_in_force(facts, person.name)
        return Signer(self.store, self.ident, person.name, *self.sitting.key(person.name, held))

    def _do(self, facts: Session, act: Act, by: str) -> int:
        act.check(facts)
        body = act.model_dump(mode="json")
        return self.store.append(facts, job=self.ident, by=name_text(by), act=body).seq

    @staticmethod
    def _opened(facts: Session) -> JobFact:
        found = read.rows(facts, JobFact)
        if not found:
            require_followed(facts)
            if seal_of(facts)[0]:
                raise Tampered(
                    "the job's own row is gone from its tables; fitup verify says all that is wrong"
                )
            raise BadInput("this job has no entries: it was not started by fitup")
        return found[0]

    @contextmanager
    def _handing_out(self) -> Iterator[Session]:
        """What the journal says. Raises Tampered where the fact tables, if they are this program's, say otherwise."""
        with self.store.replaying() as facts:
            if not self.only_reads:
                custody.require_agreement(facts, "nothing is handed out")
            yield facts

    @contextmanager
    def _signing(self, undone: str) -> Iterator[tuple[Session, Session]]:
        """
        A session to write in, and what the journal says, to judge by. Raises Tampered where the fact tables say
        something else; `undone` is what was not done then.
        """
        with self._writing() as write, self.store.replayed.facts(write) as facts:
            custody.require_agreement(facts, undone)
            yield write, facts

    def _writing(self) -> Any:
        if self.stopped:
            raise Tampered(self.only_reads)
        if self.only_reads:
            raise BadInput(self.only_reads)
        return self.store.writing()
