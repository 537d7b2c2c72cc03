"""
A drawing that was saved in a drawing program: whose it is, what differs from what was taken, what its part would be.

Nothing is recorded by looking. A file is a part's *drawing* when its bytes are, or those of the clean copy that it
would be mended to; else it belongs to the part whose drawing was taken from a file of that name, else to the part whose
number its name reads as. The verdict is that of the part as it would be recorded, with the set that it was last signed
with; signatures no longer count then, unless nothing that they name has changed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

from sqlmodel import Session

from ledger.acts.base import newest_part
from ledger.clean_copy import CLEAN
from ledger.domain.canonical import sha256
from ledger.domain.errors import BadInput, FitupError, Unreadable, visible
from ledger.domain.name_patterns import ALONE, read_file_names
from ledger.domain.names import same_name
from ledger.domain.plural import counted
from ledger.domain.record import Part, TakenProfile
from ledger.domain.taking import Reading
from ledger.domain.todo import todo_of, todos
from ledger.domain.verdict import Verdict
from ledger.drawings.differences import in_few_words
from ledger.drawings.files import SUFFIX, Drawing, Refused, weighed
from ledger.drawings.folder import Planned, TakenPart, drawings_there, names_of_job, recorded
from ledger.drawings.taking import Drawn, agreed_layers, profile_taken
from ledger.intake import read_regular
from ledger.store import facts as read
from ledger.store.tables import PartFact, ProfileFact

if TYPE_CHECKING:
    from ledger.drawings.taking import Do
    from ledger.judge.verdicts import Judging
    from ledger.store.journal import Store

State = Literal["changed", "same shape", "taken", "new", "refused", "gone", "folder gone", "folder back"]
TAKES: Final = ("changed", "same shape")


@dataclass(frozen=True, slots=True)
class Saved:
    """
    One file as it was found. `sha256` is of its bytes, `number` its part; `changes` what differs, `verdict` in words
    what the part would be, `go` whether that is GO but for signatures. `why` says what keeps it from being read or
    taken.
    """

    path: str
    state: State
    number: str = ""
    revision: str = ""
    sha256: str = ""
    changes: tuple[str, ...] = ()
    go: bool | None = None
    verdict: str = ""
    why: str = ""

    @property
    def file(self) -> str:
        """The name of the file alone."""
        return Path(self.path).name

    @property
    def can_be_taken(self) -> bool:
        """Whether it would become the drawing of a part that is there."""
        return self.state in TAKES and not self.why

    @property
    def words(self) -> str:
        """In one line."""
        of = {
            "changed": f"changed: {', '.join(self.changes)}",
            "same shape": f"saved again: the same shape as {self.number} has, in other bytes",
            "taken": f"is the drawing of {self.number}",
            "new": "is no part's drawing yet",
            "refused": f"cannot be taken: {self.why}",
            "gone": f"is gone; {self.number} keeps the drawing it has" if self.number else "is gone",
            "folder gone": f"cannot be listed: {self.why}; looked for once a second",
            "folder back": "is back",
        }[self.state]
        behind = [self.verdict] if self.verdict else []
        behind += [self.why] if self.why and self.state in TAKES else []
        shown = self.path if self.state.startswith("folder") else self.file
        return "; ".join([f"{shown} {of}", *behind])

    def to_json(self) -> dict[str, Any]:
        """Plain values for programs."""
        return {**asdict(self), "file": self.file, "can_be_taken": self.can_be_taken, "words": self.words}


@dataclass
class Known:
    """What a job knows of its drawings' files, read once for a look."""

    facts: Session

    @cached_property
    def by_bytes(self) -> Mapping[str, str]:
        """Digest of a drawing's bytes: number."""
        return drawings_there(self.facts)

    @cached_property
    def by_file(self) -> Mapping[str, tuple[str, ...]]:
        """Name of the file that a drawing was taken from, also of one that was mended: the numbers."""
        of = set(self.by_bytes.values())
        found: dict[str, set[str]] = {}
        for row in read.rows(self.facts, ProfileFact):
            if row.number in of and self.by_bytes.get(row.dxf) == row.number:
                stem = row.file_name.removesuffix(CLEAN)
                names = {row.file_name} if stem == row.file_name else {f"{stem}{SUFFIX}"}
                for name in names:
                    found.setdefault(name.casefold(), set()).add(row.number)
        return {name: tuple(sorted(numbers)) for name, numbers in found.items()}

    def number_of(self, file: str) -> str:
        """The part that a file of this name belongs to; empty for none. Raises BadInput where it may be several."""
        numbers = self.by_file.get(file.casefold(), ())
        spoken = self._spoken(file)
        if len(numbers) == 1 or spoken in numbers:
            return spoken if spoken in numbers else numbers[0]
        if numbers:
            raise BadInput(
                f"drawings of {', '.join(map(visible, numbers))} have this name: fitup take PART FILE"
            )
        return spoken if read.rows(self.facts, PartFact, number=spoken) else ""

    def _spoken(self, file: str) -> str:
        names = read_file_names(names_of_job(self.facts) or ALONE)
        try:
            return same_name(names.fields(Path(file).stem).get("number", ""))
        except BadInput:
            return ""


def look_at(facts: Session, judging: Judging, paths: Sequence[Path]) -> tuple[Saved, ...]:
    """Each of these files beside what the job holds; nothing is recorded."""
    known = Known(facts)
    return tuple(_look(facts, judging, known, path) for path in paths)


def _look(facts: Session, judging: Judging, known: Known, path: Path) -> Saved:
    from ledger.profile.scan import MOST_BYTES

    try:
        data = read_regular(path, most=MOST_BYTES)
        digest = sha256(data)
        if digest in known.by_bytes:
            return Saved(str(path), "taken", known.by_bytes[digest], sha256=digest)
        number = known.number_of(path.name)
        if not number:
            return Saved(str(path), "new", sha256=digest)
        return _changed(facts, judging, known, Saved(str(path), "changed", number, sha256=digest), data)
    except FitupError as fault:
        return Saved(str(path), "refused", why=str(fault))


def _changed(facts: Session, judging: Judging, known: Known, seen: Saved, data: bytes) -> Saved:
    number = seen.number
    row = newest_part(facts, number)
    seen = replace(seen, revision=row.revision)
    if row.form == "site":
        return replace(
            seen, state="refused", why=f"{visible(number)} is existing structure and has no drawing"
        )
    reading, drawing = drawing_of(facts, number, seen.file, data)
    if drawing.copy and known.by_bytes.get(sha256(drawing.copy.data)) == number:
        return replace(seen, state="taken")
    old = read.part(facts, row)
    made = as_it_would_be(facts, old, drawing, reading)
    if old.taken is None or made.taken is None:
        changes: tuple[str, ...] = ("its first drawing",)
    else:
        changes = in_few_words(old.taken.profile, made.taken.profile)
        same = old.taken.geometry == made.taken.geometry
        if same and drawing.copy and old.taken.file_name.endswith(CLEAN):
            return replace(seen, state="taken")  # an older program wrote the same copy in another order
        seen = replace(seen, state="same shape" if same and not changes else "changed")
    if row.locked:
        why = f"{visible(number)} {row.revision} is locked: fitup revise {visible(number)} --reason …"
        return replace(seen, changes=changes or ("its lines",), why=why)
    found = judging.as_if(facts, made)
    return replace(
        seen, changes=changes or ("its lines",), go=nothing_to_do(found), verdict=verdict_words(found)
    )


def drawing_of(facts: Session, number: str, file: str, data: bytes) -> tuple[Reading, Drawing]:
    """A file read as the drawing before was, with its clean copy where that decides nothing. Raises Unreadable."""
    from ledger.profile.read import read_profile

    taken = read.part(facts, newest_part(facts, number)).taken
    vendor, roles = agreed_layers(facts, number, "", dict(taken.roles) if taken else {})
    copied = bool(
        taken and taken.file_name.endswith(CLEAN)
    )  # its unit is that of the copy, not what was said
    unit = taken.unit if taken and taken.unit_stated and not copied else None
    reading = Reading(unit, roles, vendor)
    found = weighed(file, data, read_profile(data, unit=unit, roles=roles), reading)
    if isinstance(found, Refused):
        raise Unreadable(found.why)
    return reading, found


def as_it_would_be(facts: Session, part: Part, drawing: Drawing, reading: Reading) -> Part:
    """The part with this drawing taken; nothing is kept."""
    copy = drawing.copy
    data, profile = (copy.data, copy.profile) if copy else (drawing.data, drawing.profile)
    drawn = Drawn(drawing.file, data, profile, reading.unit, reading.roles, reading.vendor)
    act, made = profile_taken(facts, sha256, part.number, drawn)
    taken = TakenProfile(
        made,
        act.file_name,
        act.dxf,
        act.geometry,
        act.unit,
        act.lost_labels,
        vendor=act.vendor,
        roles=tuple(sorted(act.roles.items())),
        unit_stated=act.unit_stated,
        kept_file=act.geometry_file,
    )
    return replace(part, taken=taken)


def nothing_to_do(verdict: Verdict) -> bool:
    """Whether nothing but signatures keeps it from GO."""
    count = todos(verdict.stops)
    return not count["fix"] and not count["wait"]


def verdict_words(verdict: Verdict) -> str:
    """What a part would be, in a few words: GO, or the first of what keeps it from that."""
    count = todos(verdict.stops)
    for todo in ("fix", "wait"):
        stops = [s for s in verdict.stops if todo_of(s) == todo and not s.follows]
        if stops:
            others = len(stops) - 1
            more = f" and {counted(others, 'other stop', 'other stops')}" if others else ""
            return f"would be NO-GO: {stops[0].headline}{more}"
    return "would be GO once signed" if count["sign"] else "would be GO"


def take_saved(facts: Session, do: Do, store: Store, some: Sequence[Saved]) -> tuple[TakenPart, ...]:
    """
    Take these drawings as those of their parts, all or none. Raises BadInput where a file is not as it was looked at.
    """
    from functools import partial

    taken = []
    for one in some:
        data = read_regular(one.path)
        if sha256(data) != one.sha256:
            raise BadInput(f"{visible(one.file)} has changed since it was looked at: look again")
        reading, drawing = drawing_of(facts, one.number, one.file, data)
        plan = Planned(one.number, drawing, {}, known=True)
        taken.append(recorded(facts, do, partial(store.keep, facts), plan, reading))
    return tuple(taken)
