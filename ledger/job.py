"""
The one door: every verb that a face can call.

A *job* is one journal with its facts. Everything that changes it goes through `do` (an unsigned act) or through
`sign`, `permit`, `withdraw_permit` and `lock`; everything else only reads. Faces hold no rules and no database.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import replace
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Concatenate, ParamSpec, Self, TypeVar

from sqlmodel import Session

from ledger.acts import act_named
from ledger.acts.base import Act, make, newest_part, person_named
from ledger.acts.bends import bend_act
from ledger.acts.dimensions import dimension_act, dimension_edited
from ledger.acts.groups import name_group
from ledger.acts.instruments import RecordInstrument
from ledger.acts.interfaces import freeze_act
from ledger.acts.people import ChangeRoles
from ledger.acts.release import SetPolicy, Signed, only_keeper
from ledger.acts.replay import applied, follow
from ledger.acts.survey import distance_act, point_act
from ledger.acts.undo import Undo, last_of
from ledger.domain.calibration import Calibration
from ledger.domain.connection import Connection, Reading
from ledger.domain.errors import BadInput, Tampered
from ledger.domain.finding import Finding, Why
from ledger.domain.key_line import KeyLine
from ledger.domain.names import name_text
from ledger.domain.next_steps import Step
from ledger.domain.program import PROGRAM
from ledger.domain.record import Part
from ledger.domain.vendor import Vendor
from ledger.domain.verdict import PermitMade, Policy, Verdict
from ledger.history import entries as history
from ledger.judge.part_list import Listed, listed
from ledger.judge.snapshots import SnapshotFile
from ledger.release import custody
from ledger.release.opening import begin, made_ready, new_job, opened_job
from ledger.release.signer import Passphrase, Signer, Sitting
from ledger.standards.instruments import Own
from ledger.store import facts as read
from ledger.store import transfer
from ledger.store.agreement import disagreements
from ledger.store.exact import as_written
from ledger.store.faults import tried_again
from ledger.store.filling import Filled
from ledger.store.instruments import newest_calibrations, own_instruments
from ledger.store.journal import Clock, Store, now
from ledger.store.place import connect
from ledger.store.replay import seal_of, stopped_at
from ledger.store.signers import key_lines, keys_in_force, retired_last
from ledger.store.vendors import vendors

if TYPE_CHECKING:
    from threading import Event

    from ledger.assembly.stack_up import Spread
    from ledger.clean_copy import Choices, Mended
    from ledger.comparison.look import Look
    from ledger.domain.evidence import Evidence
    from ledger.domain.needed import HardwareList
    from ledger.domain.order import Order
    from ledger.domain.piece import Piece
    from ledger.domain.recall import Recall
    from ledger.domain.schedule import Schedule
    from ledger.domain.taking import Asked
    from ledger.drawings.connecting import Numbered
    from ledger.drawings.folder import TakenFolder, TakenPart
    from ledger.drawings.saved import Saved
    from ledger.fit.pattern import Fit, Wrong
    from ledger.history.entries import Revised, Written
    from ledger.history.revisions import Between, Since, Story
    from ledger.job_text.entering import Entering
    from ledger.job_text.recorded import Outcome
    from ledger.judge.assembly import BuildView, RingView
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
    from ledger.words.as_built import Inspected

__all__ = [  # the job, and the types of its answers for the faces to name
    "Answer", "Between", "BuildView", "ConnectionView", "Fit", "Folder", "Job", "Kept", "Listed", "Look",
    "Numbered", "Outcome", "PacketStanding", "PartLine", "Preview", "Revised", "RingView", "Row", "Saved", "Since",
    "Stamp", "Standing",
    "Summary", "SurveyOfPart", "TakenFolder", "TakenPart", "Template", "ToPermit", "Written", "Wrong",
]  # fmt: skip

P = ParamSpec("P")
T = TypeVar("T")
Do = Callable[[Act], int]


class Job:
    """An open job. `ask` is called with a person's name when a passphrase is needed, once a sitting."""

    def __init__(self, place: str, ask: Passphrase, clock: Clock = now) -> None:
        self.store = Store(connect(place), follow, PROGRAM, clock)
        self.place = place
        self.sitting = Sitting(ask)
        self.left_out: tuple[str, ...] = ()
        try:
            self.only_reads = made_ready(self.store)
            with self.store.reading() as facts:
                stopped = stopped_at(facts)
                self.stopped = stopped is not None
                self.only_reads = stopped.message if stopped else self.only_reads
                job = opened_job(facts)
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

    def undo(self, seq: int, *, by: str) -> None:
        """Take one's own newest entry back, by a counter-act (`last_of` tells which). Raises BadInput."""
        self._entered(by, lambda facts, do: do(Undo.of(facts, seq)))

    @tried_again
    def enroll(self, name: str, roles: Sequence[str], passphrase: str, *, by: str = "") -> str:
        """
        Enroll a person with a new key; the public half. The first person founds the job and is its keeper; any other
        is enrolled by a keeper, who signs: `by`, or the only keeper there is. Raises BadInput, UnknownName.
        """
        from ledger.release import people

        signer = self._signer(by or self._read(only_keeper)) if self.people() else None
        with self._writing() as facts:
            key = people.enroll(facts, (self.store, self.ident), signer, (name, tuple(roles)), passphrase)
        if signer is None:
            self.sitting.opened(key, name, passphrase)
        return key

    def change_roles(self, name: str, roles: Sequence[str], reason: str, *, by: str = "") -> int:
        """
        Give a person other roles; with none they are retired, with their keys. Signed by a keeper: `by`, or the only
        one. Raises BadInput, UnknownName.
        """
        fields = {"name": name, "roles": tuple(roles), "reason": reason}
        return self._kept_by(by, ChangeRoles, lambda _facts: fields)

    def change_key(
        self, name: str, *, retires: str = "", new: str | None = None, until: int = 0, reason: str, by: str
    ) -> str:
        """
        Retire a key of a person (named by its first figures) from an entry on, add one (`new` is its passphrase), or
        both; signed by `by`. The public half of the new key. Raises BadInput, UnknownName.
        """
        from ledger.release import keys

        change = partial(keys.change, name=name, retires=retires, new=new, until=until, reason=reason)
        return self._signed(by, "no key was changed", change)

    def write_part(self, number: str, fields: Mapping[str, Any], *, by: str) -> None:
        """Record a part, or change the named fields of its open revision. Raises BadInput."""
        from ledger.acts.part_record import part_recorded

        self._entered(by, lambda facts, do: do(part_recorded(facts, number, fields)))

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

        `roles` says what layers are for, before what was agreed with the vendor. `said` is what these bytes no longer
        tell of the file that they were made of.
        """
        from ledger.comparison.look import look
        from ledger.drawings.taking import Drawn, take_drawing

        vendor, stated = self.agreed_layers(number, vendor, roles)
        seen = look(file_name, data, unit=unit, roles=stated)
        drawing = Drawn(file_name, data, seen.profile, unit, stated, vendor, said)
        return replace(seen, profile=self._entered(by, take_drawing, self.store, number, drawing))

    def take_drawings(self, paths: Sequence[str], asked: Asked, *, by: str) -> TakenFolder:
        """
        Take every drawing of folders and files as a part, all in one go: what was recorded, skipped and refused.

        Raises BadInput for what is wrong with the request, or where a refusal is to refuse everything; Unreadable.
        """
        from ledger.drawings.files import Refused, found, read_drawings
        from ledger.drawings.folder import as_agreed, drawings_there, take_all
        from ledger.drawings.places import take_and_keep

        asked = self._read(as_agreed, asked)
        where = found(paths)
        files = read_drawings(where.paths, asked.reading, self._read(drawings_there))
        come = partial(take_all, store=self.store, files=files, asked=asked)
        folders = [p.parent for p, f in zip(where.paths, files, strict=True) if not isinstance(f, Refused)]
        taken = self._entered(by, take_and_keep, come, self.place, folders)
        return replace(taken, others=where.others, folders=where.folders)

    def drawing_folders(self) -> tuple[Path, ...]:
        """The folders that drawings were taken from; they need not be there any more."""
        from ledger.drawings.places import folders

        return self._read(folders, self.place)

    def saved_drawings(self, paths: Sequence[str | Path]) -> tuple[Saved, ...]:
        """These files, and the drawings in these folders, beside what was taken. Raises Unreadable, BadInput."""
        from ledger.drawings.files import found
        from ledger.drawings.saved import look_at

        return self._read(look_at, self.judging, found([str(p) for p in paths]).paths)

    def watch(self, folders: Sequence[Path], stop: Event) -> Iterator[Saved]:
        """What is saved in these folders, file by file, until `stop` is set; what was taken already is not told."""
        from ledger.drawings.saved import look_at
        from ledger.drawings.watch import saved_in

        return saved_in(folders, lambda paths: self._read(look_at, self.judging, paths), stop)

    def take_saved(self, some: Sequence[Saved], *, by: str) -> tuple[TakenPart, ...]:
        """Take drawings that were looked at as those of their parts, all or none. Raises BadInput."""
        from ledger.drawings.saved import take_saved

        return self._entered(by, take_saved, self.store, some)

    def suggest(self) -> tuple[Numbered, ...]:
        """The connections that the drawings speak of, best first, numbered from 1."""
        from ledger.drawings.connecting import numbered

        return self._read(numbered)

    def record_suggested(self, marks: str, *, by: str) -> tuple[str, ...]:
        """Record the proposals that are marked (`1,3..5`, `2b`, `all`) in one go; their names. Raises BadInput."""
        from ledger.drawings.connecting import record_marked

        return self._entered(by, record_marked, marks)

    def mend(self, number: str, choices: Choices, *, by: str) -> Mended:
        """
        Write a clean copy of the drawing a part has, and take it. Raises BadInput for what a copy cannot decide.

        Of concentric circles the smallest is cut where the hole is said to be finished afterwards.
        """
        from ledger.drawings.copies import clean_copy, drawing_of

        made = clean_copy(*self._read(drawing_of, number), choices)
        self.take_profile(
            number, made.file, made.copy.data, unit=made.unit, vendor=made.vendor, by=by, said=made.said
        )
        return made.copy

    def name_group(
        self, number: str, name: str, labels: Sequence[str] = (), reference: str = "", *, by: str
    ) -> int:
        """Name a hole group, say what it is placed from, or both in one go. Raises UnknownName, BadInput."""
        return self._entered(by, name_group, number, name, tuple(labels), reference)

    def bend(self, number: str, labels: Sequence[str], *, by: str, **fields: str) -> int:
        """Record what is done at bend lines of a part's drawing. Raises UnknownName, BadInput."""
        return self._entered(by, lambda facts, do: do(bend_act(facts, number, tuple(labels), **fields)))

    def measure(self, connection: str, name: str, written: str, *, warm: str = "", by: str) -> Reading:
        """
        Record a clearance as one line, `1.8 ±0.1 mm feeler`, against what counts now; as it was recorded.

        `warm` (30C) is how warm the parts were; the line may say so itself, `at 30C`. Raises BadInput.
        """
        from ledger.judge.readings import record_reading

        return self._entered(
            by,
            record_reading,
            self.judging,
            name_text(connection),
            name=name_text(name),
            written=written,
            warm=warm,
        )

    def enter_table(
        self, data: bytes, *, by: str, only_good: bool = False, seen: Preview | None = None
    ) -> Preview:
        """
        Record a table of dimensions or clearances in one go: all of it, or its good rows where that is asked for.

        Raises BadInput and records nothing where a row is wrong, or reads otherwise than in the preview that was seen.
        """
        from ledger.judge.readings import reading_of
        from ledger.tables.entry import record_table

        measured = partial(reading_of, self.judging)
        return self._entered(by, record_table, data, measured, only_good=only_good, seen=seen)

    def text(self, old: bytes = b"", beside: Path = Path(), *, by: str = "") -> str:
        """
        The job as text, what is meant and no signature (`ledger.job_text`); over an old text its comments stay, and
        what means the same stays as it is written. Raises BadInput where the old one cannot be read.
        """
        from ledger.job_text.document import new_text
        from ledger.job_text.entering import text_over
        from ledger.job_text.written import told_job

        if not old.strip():
            return self._read(lambda facts: new_text(told_job(facts)))
        return self._read(text_over, old, self.look_at_text(old, beside, by=by).same)

    def look_at_text(self, data: bytes, beside: Path, *, whole: bool = False, by: str) -> Outcome:
        """What a text of the job would change; drawings are looked for in `beside`. Raises BadInput with its line."""
        return self._entering(by).look(data, beside, whole=whole)

    def record_text(self, data: bytes, beside: Path, *, whole: bool = False, by: str) -> Outcome:
        """Record what a text of the job changes, all of it or nothing. Raises BadInput with its line."""
        return self._entering(by).record(data, beside, whole=whole)

    @staticmethod
    def text_schema() -> dict[str, Any]:
        """What a text of the job may hold, as a JSON schema."""
        from ledger.job_text.schema import schema

        return schema()

    def freeze(self, connection: str, number: str, *, by: str) -> None:
        """Freeze the interface that a part shows to a connection. Raises UnknownName."""
        self._entered(by, lambda facts, do: do(freeze_act(facts, connection, number)))

    def sign(
        self, numbers: Sequence[str], role: str, person: str, again: Mapping[str, str]
    ) -> tuple[Verdict, ...]:
        """One signature for a set. Raises NotReleasable, BadInput, UnknownName."""
        from ledger.release import signing

        return self._signed(
            person,
            "nothing was signed",
            lambda signer, write, facts: signing.sign(
                signer, write, self.judging.bench(facts, numbers), role, again
            ),
        )

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

        return self._kept_by(by, SetPolicy, lambda facts: signing.policy(facts, roles, raised, odds, permits))

    def permit(self, number: str, person: str, *, seen: ToPermit | None = None, **fields: str) -> ToPermit:
        """
        Accept one finding of the open revision in writing (`code`, `place`, `reason`, `until`, `up_to`), at every part
        of its connection at once; what is covered is given back, and with `seen` it must be that. Raises BadInput.
        """
        from ledger.release import permits

        return self._signed(
            person,
            "nothing was permitted",
            lambda signer, write, facts: permits.permit(
                signer, write, self.judging.bench(facts, (number,)), number, seen, **fields
            ),
        )

    def withdraw_permit(self, permit: int, person: str, reason: str) -> None:
        """Withdraw the permit of this entry, for every part that it names. Raises BadInput."""
        from ledger.release.permits import withdraw

        self._signed(person, "nothing was withdrawn", partial(withdraw, permit=permit, reason=reason))

    @tried_again
    def lock(self, numbers: Sequence[str], person: str, out: Path) -> LockMade:
        """
        Lock a set and write its packet and folder into `out`. Raises NotReleasable, BadInput; and leaves nothing.

        The whole job is verified before. Raises Tampered where it does not hold together.
        """
        from ledger.release.delivery import lock

        return lock(self._signer(person), self._writing, self.judging, numbers, out)

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

        return self._read(signing.re_entry_of, numbers)

    def packet(self, number: str, revision: str = "") -> tuple[str, bytes, dict[str, bytes]]:
        """
        The kept packet of a locked revision: name, bytes, and its DXF files by name.

        Raises UnknownName; Tampered where its lock does not count, or what was kept is another lock's packet.
        """
        from ledger.papers import handouts

        return self._handed_out(handouts.packet, number, revision)

    def picture(self, name: str, kind: str = "svg") -> bytes:
        """A part, or the plies of a connection as they go together, as svg or png. Raises UnknownName, BadInput."""
        from ledger.papers import handouts

        return self._read(handouts.picture, self.judging, name, kind)

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

        return self._handed_out(handouts.sheet, self.judging, number, paper)

    def record(self, number: str, revision: str = "") -> bytes:
        """
        The job record of a locked revision, as the lock made and kept it; it never leaves with a packet.

        Raises UnknownName, Tampered.
        """
        from ledger.papers import of_part

        return self._handed_out(of_part.kept_record, number, revision)

    def report(self) -> bytes:
        """The whole job as one HTML file that needs nothing else: judged afresh, now."""
        from ledger.papers import handouts

        return self._followed(handouts.report, self.judging)

    def stands(self, data: bytes) -> Standing:
        """Whether these exact bytes are a locked revision, and a current one."""
        return self._followed(custody.standing, data)

    def look_into(self, data: bytes) -> PacketStanding:
        """A packet by itself and beside this job: current, superseded, disowned, or foreign. Raises Unreadable."""
        from ledger.release.packets import beside

        return self._followed(beside, self.ident, data)

    def altered(self) -> tuple[Finding, ...]:
        """Every row of the fact tables that is not as the journal says; nothing is signed or handed out then."""
        return () if self.only_reads else tuple(self._followed(lambda facts: list(disagreements(facts))))

    def guard(self, folder: Path) -> Folder:
        """Every DXF in a folder: is it, byte for byte, a locked and current revision? Raises Unreadable."""
        from ledger.release.guard import guard

        return self._followed(guard, folder)

    def seal(self) -> tuple[int, str]:
        """The journal's last entry: its number and its hash."""
        return self._read_here(seal_of)

    def holds(self, seal: str) -> bool:
        """Whether this job's journal has the row that a packet or sheet names as its seal (seq:hash)."""
        return self._read_here(custody.holds, seal)

    def verify(self) -> tuple[Finding, ...]:
        """Everything in the job that does not hold together."""
        return self._read_here(lambda facts: tuple(custody.all_problems(facts)))

    def export(self, out: Path) -> str:
        """
        The journal as JSON lines and every kept file, as a new folder or (a name that ends .zip) one file; the seal.

        Raises BadInput and leaves nothing.
        """
        return self._read_here(transfer.export, out)

    def backup(self, out: Path) -> str:
        """A copy of the job's file, taken while others work in it; its seal. Raises BadInput and leaves nothing."""
        return transfer.backup(self.store.engine, out)

    def part(self, number: str) -> Part:
        """The newest revision of a part. Raises UnknownName."""
        return self._read(lambda facts: read.part(facts, newest_part(facts, number)))

    @staticmethod
    def figures(part: Part) -> Figures:
        """What follows from a part's drawing and record: mass, area, cut length, pierces."""
        from ledger.papers.figures import figures

        return figures(part)

    def parts(self) -> tuple[Part, ...]:
        """The newest revision of every part, by number."""
        return self._read(read.newest_parts)

    def agreed_layers(
        self, number: str, vendor: str = "", stated: Mapping[str, str] | None = None
    ) -> tuple[str, dict[str, str]]:
        """
        The vendor a part's drawing is meant for (where none is named that of the drawing before), and what was agreed
        there that layers are for; `stated` comes first. Raises UnknownName.
        """
        from ledger.drawings.taking import agreed_layers

        return self._read(agreed_layers, number, vendor, stated or {})

    def bend_data(self) -> tuple[dict[str, Any], ...]:
        """What vendors bend with, as stated, by vendor, material and thickness."""
        return self._read(lambda facts: tuple(as_written(row) for row in read.bend_data(facts)))

    def vendors(self) -> tuple[Vendor, ...]:
        """Every vendor that is recorded, by name."""
        return self._read(vendors)

    def hardware(self, spares_percent: int = 0) -> HardwareList:
        """The hardware of all connections, with so many spares in a hundred, less what is on hand. Raises BadInput."""
        from ledger.judge.hardware import hardware_list

        return hardware_list(self.judging, spares_percent)

    def hardware_paper(self, kind: str, spares_percent: int = 0, paper: str = "A4") -> bytes:
        """The hardware list as a file, `csv` or `pdf`. Raises BadInput."""
        from ledger.papers.hardware_list import hardware_paper

        return hardware_paper(self.hardware(spares_percent), kind, owner=self.firm, day=self.day, paper=paper)

    def record_order(self, *, by: str, **fields: Any) -> int:
        """Record what was sent to a vendor: `ident`, `vendor`, `parts` and how many of each. Raises BadInput."""
        from ledger.acts.orders import order_made

        return self.do_made(partial(order_made, **fields), by=by)

    def record_receipt(self, *, by: str, **fields: Any) -> int:
        """Record pieces that came back of an order: `ident`, `parts` and how many of each. Raises BadInput."""
        from ledger.acts.orders import receipt_made

        return self.do_made(partial(receipt_made, **fields), by=by)

    def keep_evidence(self, address: str, files: Mapping[str, bytes], *, by: str) -> None:
        """
        Keep files by name with `BASE`, `BASE/Q1`, `TURN-BASE/edge` (a reading) or `O1`: all or none. Raises BadInput.
        """
        from ledger.acts.evidence import keep_evidence

        self._entered(by, keep_evidence, self.store.keep, address, files)

    def evidence(self) -> tuple[Evidence, ...]:
        """Every file that is kept with something, by what it belongs to."""
        from ledger.store.evidence import evidence

        return self._read(evidence)

    def write_evidence(self, folder: Path, address: str = "") -> tuple[str, ...]:
        """Write what is kept, of one address or all, to a new folder; the names. Raises BadInput, Tampered."""
        from ledger.packet.build import stage_folder
        from ledger.store.evidence import evidence_files

        found = [one for one in self._read(evidence_files) if address in ("", one[0].address)]
        files = {f"{at:03}-{kept.file}": data for at, (kept, data) in enumerate(found, 1)}
        stage_folder(folder, files).commit()
        return tuple(files)

    def orders(self) -> tuple[Order, ...]:
        """Every order with what came back of it, the oldest first."""
        from ledger.store.orders import orders

        return self._read(orders)

    def write_order(self, ident: str, folder: Path, paper: str = "A4") -> tuple[str, ...]:
        """
        Write the drawings, sheets and papers of an order to a new folder, whole or not at all; their names.

        Raises UnknownName, BadInput, Tampered.
        """
        from ledger.packet.build import stage_folder
        from ledger.papers.order_papers import order_folder

        files = self._handed_out(order_folder, ident, paper)
        stage_folder(folder, files).commit()
        return tuple(files)

    def pieces(self) -> tuple[Piece, ...]:
        """Every piece that came back, with what was measured of it."""
        from ledger.store.pieces import pieces

        return self._read(pieces)

    def inspected(self, number: str) -> Inspected:
        """What the pieces of a part fit as built, and which piece goes where. Raises UnknownName."""
        from ledger.judge.as_built import inspected

        return inspected(self.judging, number)

    def inspection_sheet(self, number: str, aql: str = "", paper: str = "A4") -> bytes:
        """A sheet to measure the pieces of a part by, with boxes, as PDF. Raises UnknownName, BadInput."""
        from ledger.papers.inspection import inspection_sheet

        return inspection_sheet(self.judging, number, aql, paper)

    def recalls(self, most: int | None = None) -> tuple[Recall, ...] | None:
        """
        Locked parts that were GO and would not be now; nothing that is locked is altered.

        None where more than `most` are locked, and nothing was looked at.
        """
        from ledger.judge.recall import recalls

        return recalls(self.judging, most)

    def schedule(self) -> Schedule:
        """When each part must go out, and can be here, by the vendors' leads and working days. Raises BadInput."""
        from ledger.judge.schedule import schedule

        return self._read(lambda facts: schedule(facts, self.store.today(facts)))

    def connections(self) -> tuple[Connection, ...]:
        """Every connection, by name."""
        return self._read(read.connections)

    def assembly(self) -> tuple[RingView, ...]:
        """Every ring of bolted parts, as it goes together as a whole with the open revisions where there are any."""
        from ledger.judge.assembly import rings

        return rings(self.judging)

    def builds(self) -> tuple[BuildView, ...]:
        """Everything that hangs together by bolts: the order of tightening, what collides, what does not stand."""
        from ledger.judge.assembly import builds

        return builds(self.judging)

    def assembly_picture(self, kind: str, *, exploded: bool = False) -> bytes:
        """All bodies as they stand, as `png`, `svg` or `glb`. Raises BadInput."""
        from ledger.judge.assembly import meshes
        from ledger.papers.in_space import view

        return view(meshes(self.judging, exploded=exploded), kind)

    def dimension_across(self, start: str, end: str, along: str = "") -> Spread:
        """
        From a place of one part to a place of another (`BASE:S1`) as they go together: value, range, contributions.

        Raises BadInput, UnknownName.
        """
        from ledger.judge.assembly import across_open_parts

        return across_open_parts(self.judging, start, end, along)

    def connection_view(self, name: str) -> ConnectionView:
        """A connection with its fit, its placed outlines and what its checks find. Raises UnknownName."""
        from ledger.judge.views import view_of

        return view_of(self.judging, name)

    def answers(
        self, *, part: str = "", connection: str = "", name: str = "", bolts: bool = False
    ) -> tuple[Answer, ...]:
        """
        Whether what was touched fits, and with how much margin; nothing else is looked at.

        Of a `part` its connections, or with a `name` that key dimension; of a `connection` itself, with a `name` that
        clearance, with `bolts` its bolts. Raises UnknownName.
        """
        from ledger.judge.answers import of_touched

        return of_touched(self.judging, part, connection, name, bolts=bolts)

    def revisions(self, number: str) -> tuple[Revised, ...]:
        """Every revision of a part, oldest first. Raises UnknownName."""
        return self._read(history.revisions, number)

    def permits(self, number: str) -> tuple[PermitMade, ...]:
        """What was accepted in writing for the newest revision, in force or not. Raises UnknownName."""
        return self.judging.permits(number)

    def to_permit(self, number: str, code: str, place: str) -> ToPermit:
        """What a permit of this finding would cover. Raises UnknownName."""
        from ledger.release.permits import would_cover

        return would_cover(self.judging, number, code, place)

    def policy(self) -> Policy:
        """Which roles must sign and which warnings stop."""
        return self._read(read.policy)

    def people(self) -> tuple[tuple[str, tuple[str, ...], str], ...]:
        """Everyone enrolled: name, roles, public key."""
        return self._read(read.people)

    def root(self) -> str:
        """The job's root: the public key of the person who founded it; empty while nobody is enrolled."""
        return self._read(read.root)

    def keys(self, name: str) -> tuple[KeyLine, ...]:
        """Every key of a person, oldest first, with what no longer counts of each. Raises UnknownName."""
        return self._read(lambda facts: key_lines(facts, person_named(facts, name).name))

    def keys_that_went(self) -> tuple[KeyLine, ...]:
        """The keys, of whomever, that the last entry has retired."""
        return self._read(retired_last)

    def last_of(self, by: str) -> Written:
        """The newest entry of this person that can be taken back. Raises BadInput where there is none."""
        return self._read(lambda facts: history.entry_numbered(facts, last_of(facts, by)))

    def changes_since(self, number: str, person: str, together: Sequence[str] = ()) -> Since:
        """What changed of a part since this person last signed it, in any role. Raises UnknownName."""
        from ledger.history.revisions import since

        return self._read(since, applied, number, person, together)

    def changes_between(self, number: str, earlier: str = "", later: str = "") -> Between:
        """What changed between two revisions: the newest and the one before, unless named. Raises UnknownName."""
        from ledger.history.revisions import between

        return self._read(between, applied, number, earlier, later)

    def changes_told(self, number: str) -> Story:
        """Every step between revisions, and what changed since each person last signed. Raises UnknownName."""
        from ledger.history.revisions import story

        return self._read(story, applied, number)

    def news(self, since: int) -> tuple[int, tuple[Written, ...]]:
        """The newest entry's number, and the entries behind `since` that this open job has not written itself."""
        return self._read(history.news, since, self.store.mine)

    def journal(self) -> Iterator[Written]:
        """Every entry, oldest first."""
        with self.store.reading() as facts:
            yield from history.entries(facts)

    def own_instruments(self) -> Own:
        """What the job's own instruments are good for, by plain name."""
        return self._read(own_instruments)

    @property
    def day(self) -> str:
        """Today, as YYYY-MM-DD in UTC."""
        return self._read(self.store.today)

    def instruments(self) -> tuple[Calibration, ...]:
        """The newest calibration of every instrument of the job's own, by name."""
        return self._read(newest_calibrations)

    def preview_table(self, data: bytes) -> Preview:
        """What a table of dimensions or clearances would record, row by row. Raises BadInput."""
        from ledger.judge.readings import reading_of
        from ledger.tables.entry import preview

        return self._read(preview, data, partial(reading_of, self.judging))

    def dimension_table(self, number: str = "") -> bytes:
        """The key dimensions of a part, or of every part, as a table to edit and enter again. Raises UnknownName."""
        from ledger.tables.entry import dimension_table

        return self._read(dimension_table, number)

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

    def _read(self, room: Callable[Concatenate[Session, P], T], *args: P.args, **named: P.kwargs) -> T:
        """What a room finds in the facts."""
        with self.store.reading() as facts:
            return room(facts, *args, **named)

    def _read_here(self, room: Callable[Concatenate[Session, P], T], *args: P.args, **named: P.kwargs) -> T:
        """The same in the job's own tables, also where they are another program's."""
        with self.store.reading(beside=False) as facts:
            return room(facts, *args, **named)

    def _followed(self, room: Callable[Concatenate[Session, P], T], *args: P.args, **named: P.kwargs) -> T:
        """The same in what the journal says."""
        with self.store.replaying() as facts:
            return room(facts, *args, **named)

    def _handed_out(self, room: Callable[Concatenate[Session, P], T], *args: P.args, **named: P.kwargs) -> T:
        """The same. Raises Tampered where the fact tables, if they are this program's, say otherwise."""
        with self.store.replaying() as facts:
            if not self.only_reads:
                custody.require_agreement(facts, "nothing is handed out")
            return room(facts, *args, **named)

    @tried_again
    def _entered(
        self, by: str, room: Callable[Concatenate[Session, Do, P], T], /, *args: P.args, **named: P.kwargs
    ) -> T:
        """What a room makes of the facts by doing acts: all of them or none."""
        with self._writing() as facts:
            return room(facts, lambda act: self._do(facts, act, by), *args, **named)

    @tried_again
    def _signed(self, person: str, undone: str, work: Callable[[Signer, Session, Session], T]) -> T:
        """
        What a room signs: it gets a session to write in, and what the journal says, to judge by. Raises Tampered where
        the fact tables say something else; `undone` is what was not done then.
        """
        signer = self._signer(person)
        with self._writing() as write, self.store.replayed.facts(write) as facts:
            custody.require_agreement(facts, undone)
            return work(signer, write, facts)

    @tried_again
    def _kept_by(self, by: str, kind: type[Signed], fields: Callable[[Session], dict[str, Any]]) -> int:
        """An act signed by a keeper: the one who is named, or the only one. Raises BadInput where there are several."""
        signer = self._signer(by or self._read(only_keeper))
        with self._writing() as facts:
            return signer.append(facts, signer.act(facts, kind, **fields(facts))).seq

    def _entering(self, by: str) -> Entering:
        from ledger.job_text.entering import Entering

        return Entering(partial(self._entered, by), self.store, self.judging)

    def _writing(self) -> AbstractContextManager[Session]:
        if self.stopped:
            raise Tampered(self.only_reads)
        if self.only_reads:
            raise BadInput(self.only_reads)
        return self.store.writing()
