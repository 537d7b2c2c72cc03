"""
What becomes of every drawing of a folder: a new part, the drawing of a part that has none, or a reason why neither.

Everything is decided before anything is recorded, and recorded in one go. What a file's name says comes first; what was
said for all of them fills what is left. A drawing that a part has already is *skipped*.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Literal

from sqlmodel import Session, select

from ledger.acts.base import make
from ledger.acts.file_names import RecordFileNames
from ledger.acts.part_record import part_recorded
from ledger.clean_copy import CLEAN, KEPT
from ledger.domain.canonical import sha256
from ledger.domain.errors import BadInput, visible
from ledger.domain.name_patterns import ALONE, FileNames, read_file_names
from ledger.domain.names import name_text
from ledger.domain.quantity import read_length
from ledger.domain.taking import Asked, Reading
from ledger.drawings.files import SUFFIX, Drawing, Known, Refused
from ledger.drawings.taking import Do, Drawn, Keep, profile_taken
from ledger.standards.gauges import thickness_text
from ledger.standards.letters import letter_order
from ledger.standards.materials import material, materials, same_material
from ledger.standards.table import plain_name
from ledger.store import facts as read
from ledger.store.exact import length
from ledger.store.journal import Store
from ledger.store.tables import FileNamesFact, PartFact, ProfileFact

How = Literal["taken", "mended", "undecided"]


@dataclass(frozen=True, slots=True)
class Planned:
    """One drawing and the part that it becomes or belongs to; `fields` are recorded with it."""

    number: str
    drawing: Drawing
    fields: Mapping[str, Any]
    known: bool


@dataclass(frozen=True, slots=True)
class TakenPart:
    """One part as it was recorded with its drawing."""

    number: str
    revision: str
    file: str
    how: How
    known: bool
    material: str
    thickness: str
    quantity: int | None
    holes: int
    fixed: tuple[str, ...] = ()
    undecided: str = ""


@dataclass(frozen=True, slots=True)
class TakenFolder:
    """What was recorded, which files were a part's drawing already, which were refused, and how names were read."""

    parts: tuple[TakenPart, ...]
    skipped: tuple[Known, ...]
    refused: tuple[Refused, ...]
    names: str
    others: int = 0
    folders: int = 0

    @property
    def whole(self) -> bool:
        """Whether every drawing is a part's now and nothing is left to decide."""
        return not self.refused and all(p.how != "undecided" for p in self.parts)


def as_agreed(facts: Session, asked: Asked) -> Asked:
    """What is asked, with what was agreed with the vendor that layers are for; what is asked comes first."""
    roles = {**read.layer_roles(facts, asked.reading.vendor), **asked.reading.roles}
    return replace(asked, reading=replace(asked.reading, roles=roles))


def take_all(
    facts: Session,
    do: Do,
    before: Callable[[], None],
    *,
    store: Store,
    files: Sequence[Drawing | Known | Refused],
    asked: Asked,
) -> TakenFolder:
    """
    Record what these drawings say, all of it or nothing; where there is anything, what is to be recorded `before` it.

    Raises BadInput for what is wrong with the request.
    """
    keep = partial(store.keep, facts)
    told = names_of_job(facts)
    written = told if asked.names is None else asked.names
    names = read_file_names(written or ALONE)
    plan, skipped, refused = _plan(facts, files, names, asked)
    if asked.strict and refused:
        more = f" (and {len(refused) - 1} more)" if len(refused) > 1 else ""
        raise BadInput(f"nothing was recorded: {visible(refused[0].file)}{more}: {refused[0].why}")
    if plan or skipped:
        before()
    if plan and written != told:
        do(make(RecordFileNames, pattern=written))
    parts = tuple(recorded(facts, do, keep, one, asked.reading) for one in plan)
    return TakenFolder(parts, tuple(skipped), tuple(refused), names.written)


def names_of_job(facts: Session) -> str:
    """How the job was told that file names read; empty where it was not."""
    return str(facts.exec(select(FileNamesFact.pattern)).first() or "")


def _plan(
    facts: Session, files: Sequence[Drawing | Known | Refused], names: FileNames, asked: Asked
) -> tuple[list[Planned], list[Known], list[Refused]]:
    """Each file planned, skipped or refused; files that name one number are all refused."""
    there = drawings_there(facts)
    stuffs = _known_materials(facts, asked)
    plan: list[Planned] = []
    skipped = [f for f in files if isinstance(f, Known)]
    refused = [f for f in files if isinstance(f, Refused)]
    first: dict[str, str] = {}  # bytes of this folder: which file had them first
    for drawing in (f for f in files if isinstance(f, Drawing)):
        digests = [sha256(drawing.data), *([sha256(drawing.copy.data)] if drawing.copy else [])]
        if any(d in there for d in digests):
            skipped.append(Known(drawing.file, next(there[d] for d in digests if d in there)))
            continue
        try:
            _only(first, digests[0], drawing.file)
            plan.append(_one(facts, drawing, names, asked, stuffs))
        except BadInput as fault:
            refused.append(Refused(drawing.file, str(fault)))
    several = {p.number for p in plan if sum(q.number == p.number for q in plan) > 1}
    for p in (p for p in plan if p.number in several):
        others = [visible(q.drawing.file) for q in plan if q.number == p.number and q is not p]
        why = (
            f"read the number {visible(p.number)!r}, as of {', '.join(others)}; expected one drawing a part: "
        )
        refused.append(Refused(p.drawing.file, f"{why}rename or remove one of them"))
    return [p for p in plan if p.number not in several], skipped, refused


def _only(first: dict[str, str], digest: str, file: str) -> None:
    """Raise BadInput where another file of the folder holds the same bytes."""
    if digest in first:
        other = visible(first[digest])
        raise BadInput(f"the same bytes as {other}; expected one drawing a part: remove one of them")
    first[digest] = file


def drawings_there(facts: Session) -> dict[str, str]:
    """The drawing that every part has now: digest of its bytes to number."""
    newest = {r.number: r.revision for r in sorted(read.rows(facts, PartFact), key=lambda r: r.place)}
    rows = read.rows(facts, ProfileFact)
    return {row.dxf: row.number for row in rows if newest.get(row.number) == row.revision}


def _known_materials(facts: Session, asked: Asked) -> frozenset[str]:
    """What materials are called in this job, besides those of the table."""
    used = facts.exec(select(PartFact.material)).all()
    return frozenset(plain_name(m) for m in (*used, str(asked.fields.get("material", ""))) if m)


def _one(facts: Session, drawing: Drawing, names: FileNames, asked: Asked, stuffs: frozenset[str]) -> Planned:
    stem = drawing.file[: -len(SUFFIX)] if drawing.file.lower().endswith(SUFFIX) else drawing.file
    said: dict[str, Any] = {k: v for k, v in names.fields(stem).items() if v}
    number = name_text(said.pop("number", ""))
    if "quantity" in said:
        said["quantity"] = _whole(said["quantity"])
    if "revision" in said:
        said["revision"] = said["revision"].upper()
        letter_order(said["revision"])
    if (
        "material" in said
        and material(said["material"]) is None
        and plain_name(said["material"]) not in stuffs
    ):
        _unknown_material(said["material"])
    fields = {**asked.fields, **said}
    rows = read.rows(facts, PartFact, number=number)
    newest = max(rows, key=lambda r: r.place, default=None)
    if newest is not None:
        fields = _of_known(facts, newest, said, asked)
    planned = Planned(number, drawing, fields, known=newest is not None)
    if fields or not planned.known:
        part_recorded(facts, number, fields).check(facts)
    return planned


def _whole(text: str) -> int:
    if not text.isascii() or not text.isdigit():
        raise BadInput(f"read {visible(text)!r} as quantity; expected a whole number: rename the file")
    return int(text)


def _unknown_material(name: str) -> None:
    from difflib import get_close_matches

    known = [m.name for m in materials()]
    near = get_close_matches(name, known, n=3, cutoff=0.4) or known[:5]
    raise BadInput(
        f"read {visible(name)!r} as material; expected one that is known, such as {', '.join(near)}: rename the file, "
        f"or name it once for all with --material {visible(name)!r}"
    )


def _of_known(facts: Session, part: PartFact, said: Mapping[str, Any], asked: Asked) -> dict[str, Any]:
    """The fields that are still empty of a part that is there. Raises BadInput where its drawing must stay."""
    shown = f"{visible(part.number)} revision {part.revision}"
    if part.form == "site":
        raise BadInput(
            f"{visible(part.number)} is existing structure and has no drawing: name another number"
        )
    if part.locked:
        raise BadInput(
            f"it is not the drawing of {shown}, which is locked; a changed part needs a new revision: "
            f"fitup revise {visible(part.number)} --reason …"
        )
    if said.get("revision", part.revision) != part.revision:
        raise BadInput(
            f"read revision {said['revision']}; expected {part.revision}, which is open: rename the file, or lock "
            f"{shown}"
        )
    if not asked.changed and facts.get(ProfileFact, (part.number, part.revision)) is not None:
        raise BadInput(
            f"{shown} has another drawing; add --changed to take changed drawings, or: fitup take "
            f"{visible(part.number)} FILE"
        )
    said = {name: value for name, value in said.items() if name != "revision"}
    for name, value in said.items():
        _as_recorded(part, name, value)
    return {name: value for name, value in {**asked.fields, **said}.items() if not getattr(part, name)}


def _as_recorded(part: PartFact, name: str, value: Any) -> None:
    """Raise BadInput where a file's name says otherwise than what is recorded of its part."""
    old = getattr(part, name)
    if not old or name == "title":
        return
    if name == "thickness":
        known = length(part, name)
        same = known is not None and read_length(thickness_text(value, part.material)).mm == known.mm
    elif name == "material":
        same = same_material(value, old)
    else:
        same = plain_name(str(value)) == plain_name(str(old))
    if not same:
        raise BadInput(
            f"read {visible(str(value))!r} as {name}; expected {visible(str(old))}, as recorded of "
            f"{visible(part.number)}: rename the file, or change the part: fitup part {visible(part.number)} --{name} …"
        )


def recorded(facts: Session, do: Do, keep: Keep, one: Planned, reading: Reading) -> TakenPart:
    """The part with its drawing; of one that was mended the drawing first, then its copy."""
    if one.fields or not one.known:
        do(part_recorded(facts, one.number, one.fields))
    drawing = one.drawing
    drawn = Drawn(drawing.file, drawing.data, drawing.profile, reading.unit, reading.roles, reading.vendor)
    act, profile = profile_taken(facts, keep, one.number, drawn)
    do(act)
    copy = drawing.copy
    if copy is not None:
        said = tuple(f for f in copy.fixed if f.code in KEPT)
        name = f"{drawing.file[: -len(SUFFIX)]}{CLEAN}"
        unit = copy.profile.unit_used if reading.unit else None
        drawn = replace(
            drawn, file=name, data=copy.data, profile=copy.profile, unit=unit, roles={}, said=said
        )
        act, profile = profile_taken(facts, keep, one.number, drawn)
        do(act)
    row = max(read.rows(facts, PartFact, number=one.number), key=lambda r: r.place)
    return TakenPart(
        one.number, row.revision, drawing.file, "undecided" if drawing.undecided else "mended" if copy else "taken",
        one.known, row.material, row.thickness, row.quantity, len(profile.holes),
        tuple(dict.fromkeys(f.code for f in copy.fixed)) if copy else (), drawing.undecided,
    )  # fmt: skip
