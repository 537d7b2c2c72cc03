"""
The one door: every verb that a face can call.

A *job* is one journal with its facts. Everything that changes it goes through `do` (an unsigned act) or through
`sign`, `permit` and `lock`; everything else only reads (`ledger.queries`). Faces hold no rules and no database.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any, Self

from sqlmodel import Session

from ledger import keys, release
from ledger.acts.base import Act, make, name_text, newest_part, open_part, person_named
from ledger.acts.bends import RecordBend, ReferGroup, lines_of
from ledger.acts.connections import FreezeInterface, connection_named
from ledger.acts.counts import counted_again
from ledger.acts.parts import ChangePart, NameGroup, RecordPart, TakeProfile
from ledger.acts.release import EnrolPerson
from ledger.acts.undo import Undo
from ledger.clean_copy import CLEAN, KEPT, Choices, Mended, as_taken, mended
from ledger.compare import Look, look
from ledger.custody import bring_in, follow, require_whole
from ledger.domain.connection import Reading
from ledger.domain.digest import interface
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.finding import Finding
from ledger.domain.gate import Verdict
from ledger.outcomes import Outcomes
from ledger.queries import ReadJob
from ledger.release import LockMade, Passphrase, Sitting
from ledger.standards.gauges import thickness_text
from ledger.startup import PROGRAM, begin, made_ready, new_job
from ledger.store import facts as read
from ledger.store.faults import tried_again
from ledger.store.journal import Clock, Store, now
from ledger.store.place import connect
from ledger.store.sealed import new_key
from ledger.store.signers import keys_in_force
from ledger.store.tables import JobFact, PartFact
from ledger.table_entry import Preview, preview, to_record


class Job(ReadJob):
    """An open job. `ask` is called with a person's name when a passphrase is needed, once a sitting."""

    def __init__(self, place: str, ask: Passphrase, clock: Clock = now) -> None:
        self.store = Store(connect(place), follow, PROGRAM, clock)
        self.sitting = Sitting(ask)
        try:
            self.only_reads = made_ready(self.store)
            with self.store.reading() as facts:
                job = facts.get_one(JobFact, self._ident(facts))
                self.ident, self.firm = job.ident, job.firm
            self.outcomes = Outcomes(self.ident)
        except BaseException:
            self.close()
            raise

    @staticmethod
    def start(place: str, firm: str, ask: Passphrase, clock: Clock = now) -> Job:
        """A new job in a new file, or an empty database. Raises BadInput where there is one already."""
        begin(place, firm, clock)
        return Job(place, ask, clock)

    @staticmethod
    def bring_in(place: str, source: Path, ask: Passphrase, clock: Clock = now) -> Job:
        """A new job from an exported one, with the same seal. Raises Tampered, and leaves nothing."""
        new_job(place, clock, lambda store: bring_in(source, store))
        return Job(place, ask, clock)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

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
            return self._do(facts, made(facts, self._today()), by)

    @tried_again
    def undo(self, seq: int, *, by: str) -> None:
        """Take one's own newest entry back, by a counter-act (`last_of` tells which). Raises BadInput."""
        with self._writing() as facts:
            self._do(facts, Undo.of(facts, seq), by)

    @tried_again
    def enrol(self, name: str, roles: Sequence[str], passphrase: str, *, by: str = "") -> str:
        """Enrol a person with a new key; the public half. Raises BadInput."""
        with self._writing() as facts:
            draft = make(EnrolPerson, name=name, key="0" * 64, roles=tuple(roles))
            draft.check(facts)
            with new_key(passphrase) as key:
                self._do(facts, draft.model_copy(update={"key": key}), by or draft.name)
                self.store.commit(facts)
        return key

    @tried_again
    def change_key(
        self, name: str, *, retires: str = "", new: str | None = None, until: int = 0, reason: str, by: str
    ) -> str:
        """
        Retire a key of a person (named by its first figures) from an entry on, add one (`new` is its passphrase), or
        both; signed by `by`. The public half of the new key. Raises BadInput, UnknownName.
        """
        signer = self._signer(by)
        with self._writing() as facts:
            return keys.change(signer, facts, name, retires=retires, new=new, until=until, reason=reason)

    @tried_again
    def write_part(self, number: str, fields: Mapping[str, Any], *, by: str) -> None:
        """
        Record a part, or change the named fields of its open revision. Raises BadInput.

        A thickness by gauge number is kept as the length that it means in the part's material.
        """
        with self._writing() as facts:
            rows = read.rows(facts, PartFact, number=number)
            newest = max(rows, key=lambda r: r.place, default=None)
            fields = {**fields, **_thickness(fields, newest)}
            if newest is None:
                self._do(facts, make(RecordPart, number=number, **fields), by)
                return
            old = newest.model_dump(exclude={"revision", "place", "reason", "locked"})
            self._do(facts, make(ChangePart, **{**counted_again(old, fields), **fields}), by)

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
        from ledger.fit.likeness import likeness_of
        from ledger.profile.labels import carry_labels
        from ledger.profile.read import READER_VERSION, geometry_bytes, geometry_digest

        vendor, stated = self.agreed_layers(number, vendor, roles or {})
        seen = look(file_name, data, unit=unit, roles=stated)
        with self._writing() as facts:
            old = read.part(facts, newest_part(facts, number))
            profile = replace(seen.profile, findings=(*seen.profile.findings, *said))
            lost: tuple[str, ...] = ()
            if old.taken:
                profile, told = carry_labels(profile, old.taken.profile)
                profile = replace(profile, findings=(*profile.findings, *told))
                kept = {h.label for h in profile.holes}
                lost = tuple(h.label for h in old.taken.profile.holes if h.label not in kept)
            act = make(
                TakeProfile,
                number=number,
                file_name=Path(file_name).name,
                dxf=seen.sha256,
                geometry_file=self.store.keep(facts, geometry_bytes(profile)),
                geometry=geometry_digest(profile),
                unit=profile.unit_used,
                unit_stated=unit is not None,
                reader=READER_VERSION,
                lost_labels=lost,
                vendor=vendor,
                likeness=figures.written if (figures := likeness_of(profile)) else "",
                roles=stated,
            )
            self.store.keep(facts, data)
            self._do(facts, act, by)
        return replace(seen, profile=profile)

    def mend(self, number: str, choices: Choices, *, by: str) -> Mended:
        """
        Write a clean copy of the drawing a part has, and take it. Raises BadInput for what a copy cannot decide.

        Of concentric circles the smallest is cut where the hole is said to be finished afterwards.
        """
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
        connection, name = name_text(connection), name_text(name)
        with self._writing() as facts:
            self._do(facts, self._measured(facts, connection, name, written, warm), by)
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
        with self._writing() as facts:
            found = preview(facts, data, partial(self._measured, facts))
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
        signer = self._signer(person)
        with self._writing() as facts:
            return release.sign(signer, self._bench(facts, numbers), role, again)

    @tried_again
    def set_policy(
        self,
        *,
        roles: Sequence[str] | None = None,
        raised: Sequence[str] | None = None,
        odds: str | None = None,
        by: str,
    ) -> int:
        """
        Set which roles must sign, which warnings stop and which odds holes need; None leaves it.

        Raises BadInput, UnknownName.
        """
        with self._writing() as facts:
            return self._do(facts, release.policy(facts, roles, raised, odds), by)

    @tried_again
    def permit(self, number: str, person: str, **fields: str) -> None:
        """
        Accept one finding of the open revision in writing (`code`, `place`, `reason`, `until`, `up_to`).

        Raises BadInput, also where what is found is beyond `up_to` already, or has no value to hold it to.
        """
        signer = self._signer(person)
        with self._writing() as facts:
            bench = self._bench(facts, (number,))
            verdict = bench.verdict(number)
            found = {(f.code, f.where): f for f in (*verdict.stops, *verdict.warnings)}
            above = release.permit_covers(found, bench.today, **fields)
            release.permit(signer, facts, number=number, revision=verdict.revision, above=above, **fields)

    @tried_again
    def lock(self, numbers: Sequence[str], person: str, out: Path) -> LockMade:
        """
        Lock a set and write its packet and folder into `out`. Raises NotReleasable, BadInput; and leaves nothing.

        The whole job is verified before. Raises Tampered where it does not hold together.
        """
        signer = self._signer(person)
        try:
            out.mkdir(parents=True, exist_ok=True)
        except OSError as fault:
            raise BadInput(
                f"cannot write to {visible(str(out))}: {fault.strerror}; nothing was locked"
            ) from fault
        staged: Sequence[Any] = ()
        try:
            with self._writing() as facts:
                require_whole(facts)
                released, staged = release.lock(signer, self._bench(facts, numbers), out)
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

    def _signer(self, name: str) -> release.Signer:
        """The person with an opened key: asked for before the job is held, so that no workstation waits on typing."""
        with self.store.reading() as facts:
            person = person_named(facts, name)
            held = keys_in_force(facts, person.name)
        return release.Signer(self.store, self.ident, person, *self.sitting.key(person.name, held))

    def _do(self, facts: Session, act: Act, by: str) -> int:
        act.check(facts)
        body = act.model_dump(mode="json")
        return self.store.append(facts, job=self.ident, by=name_text(by), act=body).seq

    def _writing(self) -> Any:
        if self.only_reads:
            raise BadInput(self.only_reads)
        return self.store.writing()


def _thickness(fields: Mapping[str, Any], old: PartFact | None) -> dict[str, str]:
    """The thickness that is written, a gauge as a length. Raises BadInput for a gauge without a material."""
    if not fields.get("thickness"):
        return {}
    stuff = fields.get("material", old.material if old else "")
    return {"thickness": thickness_text(fields["thickness"], stuff)}
