"""From fact tables to records: what the acts add up to, as plain values."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from sqlalchemy import func
from sqlmodel import Session, SQLModel, select

from ledger.domain.bend import BendData, bend_lines
from ledger.domain.connection import Also, Clearance, Connection, Ply, Reading
from ledger.domain.density import Density
from ledger.domain.errors import BadInput, visible
from ledger.domain.masks import Masks
from ledger.domain.record import Distance, MeasuredHole, Operation, Part, SitePoint, TakenProfile, Trial
from ledger.domain.shape import Hole, Profile, Stroke, profile_from_json
from ledger.domain.side import PointSide
from ledger.domain.verdict import Policy
from ledger.store import exact
from ledger.store.bends import bend_data_of, bend_of, groups_of, last_said
from ledger.store.entries import read_between
from ledger.store.formula_values import dimensions_of
from ledger.store.instruments import Calibrated
from ledger.store.questions import questions_of
from ledger.store.tables import (
    BendDataFact,
    BendFact,
    BoltFact,
    ClearanceFact,
    ConnectionFact,
    DistanceFact,
    FrozenInterfaceFact,
    GroupFact,
    GroupReferenceFact,
    JobFact,
    KeptFileRow,
    LockFact,
    MeasuredHoleFact,
    OperationFact,
    PartFact,
    PersonFact,
    PlyFact,
    PointFact,
    ProfileFact,
    ReadingFact,
    StampFact,
    TrialFact,
)

T = TypeVar("T", bound=SQLModel)
ReadsTheSame = Callable[[ProfileFact, Profile, bytes], bool]
Rows = Callable[..., list[Any]]


def rows(facts: Session, table: type[T], **where: Any) -> list[T]:
    """The rows of a table whose columns have these values, in the order of its key."""
    query = select(table).filter_by(**where).order_by(*table.__table__.primary_key.columns)  # type: ignore[attr-defined]  # SQLModel hides its table
    return list(facts.exec(query).all())


def policy(facts: Session) -> Policy:
    """What the job asks for."""
    job = facts.exec(select(JobFact)).one()
    people = len(facts.exec(select(PersonFact.name).where(PersonFact.retired == 0)).all())
    roles, raised, permits = (tuple(json.loads(text)) for text in (job.roles, job.raised, job.permits))
    return Policy(roles, raised, people, job.odds, permits)


@dataclass(frozen=True, slots=True)
class PartLine:
    """A part as a list shows it: its newest revision without profile, holes or dimensions."""

    number: str
    revision: str
    title: str
    form: str
    locked: bool


def part_lines(facts: Session) -> tuple[PartLine, ...]:
    """The newest revision of every part, by number, without building records."""
    t = PartFact
    query = select(t.number, t.revision, t.title, t.form, t.locked).order_by(t.number, t.place)  # type: ignore[call-overload]  # five columns
    newest = {found[0]: found for found in facts.exec(query)}
    return tuple(PartLine(*found) for found in newest.values())


def how_many_parts(facts: Session) -> int:
    """How many parts there are, whatever their revisions."""
    return int(facts.exec(select(func.count(func.distinct(PartFact.number)))).one())


def writers(facts: Session) -> set[str]:
    """Which versions of the program have written to the journal."""
    return {body.program for _row, body in read_between(facts, 0)}


def last_writer(facts: Session) -> str:
    """Which version of the program wrote the facts' stamp, which no older one than the journal's writers does."""
    return str(facts.get_one(StampFact, 1).writer)


def layer_roles(facts: Session, vendor: str) -> dict[str, str]:
    """What a vendor was last told each layer is for, over every part's drawing."""
    found: dict[str, str] = {}
    for row in sorted(rows(facts, ProfileFact, vendor=vendor), key=lambda r: r.seq) if vendor else ():
        found.update(json.loads(row.roles))
    return found


def hole_labels(facts: Session, number: str, revision: str) -> tuple[str, ...]:
    """The labels of every hole of a revision, drawn or measured."""
    drawn = facts.get(ProfileFact, (number, revision))
    labels = [h["label"] for h in _geometry(facts, drawn)["holes"]] if drawn else []
    key = {"number": number, "revision": revision}
    labels += [m.label for m in rows(facts, MeasuredHoleFact, **key)]
    return (*labels, *(p.label for p in rows(facts, PointFact, **key) if p.diameter))


def point_labels(facts: Session, number: str, revision: str) -> tuple[str, ...]:
    """The labels that a distance can be measured between: points, and holes that were measured."""
    key = {"number": number, "revision": revision}
    points = (p.label for p in rows(facts, PointFact, **key))
    return (*points, *(m.label for m in rows(facts, MeasuredHoleFact, **key)))


def bend_strokes(facts: Session, number: str, revision: str) -> Mapping[str, Stroke]:
    """The bend lines of a revision's drawing by label; none without a drawing."""
    drawn = facts.get(ProfileFact, (number, revision))
    if drawn is None:
        return {}
    known = [bend_of(b) for b in rows(facts, BendFact, number=number, revision=revision)]
    return bend_lines(profile_from_json(_geometry(facts, drawn)).bends, known)


def part_values(row: PartFact) -> dict[str, Any]:
    """The fields of a part that were read from text once, by name; None for what was not entered."""
    return {
        "thickness": exact.length(row, "thickness"),
        "coating_thickness": exact.length(row, "coating_thickness"),
        "masked": exact.value(Masks, row, "masked"),
        "density": exact.value(Density, row, "density"),
    }


def part(
    facts: Session, row: PartFact, reads_the_same: ReadsTheSame | None = None, rows: Rows = rows
) -> Part:
    """One revision, whole. `rows` finds the rows of a table."""
    key = {"number": row.number, "revision": row.revision}
    since = Calibrated(facts)
    plain = {n: v for n, v in exact.as_written(row).items() if n not in ("place", "reason", "said")}
    made = Part(
        **{**plain, **part_values(row)},
        said=tuple(sorted(json.loads(row.said).items())),
        taken=_taken(facts, row, reads_the_same, rows),
        measured_holes=tuple(_measured(m) for m in rows(facts, MeasuredHoleFact, **key)),
        points=tuple(_point(p, since) for p in sorted(rows(facts, PointFact, **key), key=lambda p: p.place)),
        distances=tuple(_distance(d, since) for d in rows(facts, DistanceFact, **key)),
        operations=tuple(
            Operation(f.label, f.operation, f.thread) for f in rows(facts, OperationFact, **key)
        ),
        bend_data=_bend_data(facts, row),
        bends=tuple(bend_of(b) for b in rows(facts, BendFact, **key)),
        groups=groups_of(rows(facts, GroupFact, **key), rows(facts, GroupReferenceFact, **key)),
        dimensions=dimensions_of(facts, row, since),
        questions=questions_of(facts, row.number),
        trials=tuple(
            Trial(t.result, t.note, t.by, t.day, t.geometry)
            for t in sorted(rows(facts, TrialFact, **key), key=lambda t: t.place)
        ),
    )
    if not (made.points or made.distances):
        return made
    from ledger.survey.of_part import with_placed_holes

    return with_placed_holes(made)


def bend_data(facts: Session) -> tuple[BendDataFact, ...]:
    """What each vendor said last of each stock."""
    return last_said(rows(facts, BendDataFact))


def _bend_data(facts: Session, row: PartFact) -> BendData | None:
    drawn = facts.get(ProfileFact, (row.number, row.revision))
    if drawn is None or not drawn.vendor:
        return None
    lock = facts.get(LockFact, (row.number, row.revision)) if row.locked else None
    return bend_data_of(row, rows(facts, BendDataFact, vendor=drawn.vendor), lock.seq if lock else None)


def connection(facts: Session, row: ConnectionFact, rows: Rows = rows) -> Connection:
    """A connection with its plies, bolts, clearances and frozen interfaces. `rows` finds the rows of a table."""
    also = tuple(Also(f, j, tuple(g)) for f, j, g in json.loads(row.also))
    bolt = next(iter(rows(facts, BoltFact, connection=row.name)), None)
    position = exact.position(row, "position")
    return Connection(
        name=row.name,
        kind=row.kind,
        plies=tuple(
            Ply(p.part, p.group_name, p.face_up, tuple(a.groups[n] for a in also))
            for n, p in enumerate(rows(facts, PlyFact, connection=row.name))
        ),
        also=also,
        joint=row.joint,
        fastener=row.fastener,
        turned_over=row.turned_over,
        position=position.held if position else None,
        position_written=row.position,
        gap=exact.bounds(row, "gap"),
        weld_side=row.weld_side,
        weld_class=row.weld_class,
        holes_made=row.holes_made,
        bolt_length=exact.length(bolt, "length") if bolt else None,
        washers=bolt.washers if bolt else None,
        clearances=tuple(_clearance(facts, c, rows) for c in rows(facts, ClearanceFact, connection=row.name)),
        frozen_interfaces=tuple(
            (f.part, f.interface) for f in rows(facts, FrozenInterfaceFact, connection=row.name)
        ),
    )


def connections_of(facts: Session, number: str) -> list[Connection]:
    """Every connection that the part is a ply of, by name."""
    names = sorted({p.connection for p in rows(facts, PlyFact, part=number)})
    return [connection(facts, facts.get_one(ConnectionFact, name)) for name in names]


def kept_file(facts: Session, sha256: str) -> bytes:
    """
    Kept bytes by their digest, which is checked at every read. Raises Tampered.
    """
    from ledger.domain.canonical import sha256 as digest_of
    from ledger.domain.errors import Tampered

    row = facts.get(KeptFileRow, sha256)
    if row is None:
        raise Tampered(f"kept file {sha256[:12]} is missing from the job; restore it from a copy")
    if digest_of(row.data) != sha256:
        raise Tampered(f"kept file {sha256[:12]} was changed in the job; restore it from a copy")
    return row.data


def _geometry(facts: Session, row: ProfileFact) -> dict[str, Any]:
    data: dict[str, Any] = json.loads(kept_file(facts, row.geometry_file))
    return data


def _taken(
    facts: Session, row: PartFact, reads_the_same: ReadsTheSame | None, rows: Rows
) -> TakenProfile | None:
    found = rows(facts, ProfileFact, number=row.number, revision=row.revision)
    if not found:
        return None
    taken = found[0]
    profile = profile_from_json(_geometry(facts, taken))
    same = row.locked or reads_the_same is None or reads_the_same(taken, profile, kept_file(facts, taken.dxf))
    return TakenProfile(
        profile=profile,
        file_name=taken.file_name,
        dxf_sha256=taken.dxf,
        geometry=taken.geometry,
        unit=taken.unit,
        lost_labels=tuple(json.loads(taken.lost_labels)),
        reads_the_same=same,
        vendor=taken.vendor,
        roles=tuple(sorted(json.loads(taken.roles).items())),
        unit_stated=taken.unit_stated,
        kept_file=taken.geometry_file,
    )


def _measured(row: MeasuredHoleFact) -> MeasuredHole:
    x, y, diameter = (float(exact.some_length(row, name).mm) for name in ("x", "y", "diameter"))
    hole = Hole(row.label, ((x, y),), diameter, "measured")
    return MeasuredHole(hole, exact.length(row, "uncertainty"), row.source)


def _point(row: PointFact, since: Calibrated) -> SitePoint:
    return SitePoint(
        row.label,
        exact.length(row, "diameter"),
        exact.lengths(row.at),
        exact.length(row, "uncertainty"),
        exact.value(PointSide, row, "side"),
        row.instrument,
        since.overdue(row.instrument, row.day),
    )


def _distance(row: DistanceFact, since: Calibrated) -> Distance:
    value, standard, sure = (exact.some_length(row, n) for n in ("value", "standard", "uncertainty"))
    readings = tuple(one.written for one in exact.lengths(row.readings))
    late = since.overdue(row.instrument, row.day)
    return Distance(row.a, row.b, value, standard, sure, row.instrument, readings, row.how, late)


def _clearance(facts: Session, row: ClearanceFact, rows: Rows) -> Clearance:
    readings = rows(facts, ReadingFact, connection=row.connection, name=row.name)
    required = exact.bounds(row, "required")
    if required is None:
        raise BadInput(f"the required clearance {visible(row.name)} says nothing: verify the job")
    return Clearance(row.name, required, row.critical, _reading(facts, readings[-1]) if readings else None)


def _reading(facts: Session, row: ReadingFact) -> Reading:
    against = tuple((part, revision, interface) for part, revision, interface in json.loads(row.against))
    value, doubt = (exact.some_length(row, name) for name in ("value", "uncertainty"))
    late = Calibrated(facts).overdue(row.instrument, row.day)
    return Reading(value, doubt, row.instrument, row.person, row.day, against, late, row.how)


def newest_parts(facts: Session) -> tuple[Part, ...]:
    """The newest revision of every part, by number."""
    newest = {r.number: r for r in sorted(rows(facts, PartFact), key=lambda r: r.place)}
    return tuple(part(facts, newest[n]) for n in sorted(newest))


def connections(facts: Session) -> tuple[Connection, ...]:
    """Every connection, by name."""
    return tuple(connection(facts, row) for row in rows(facts, ConnectionFact))


def people(facts: Session) -> tuple[tuple[str, tuple[str, ...], str], ...]:
    """Everyone enrolled: name, roles, public key."""
    return tuple((p.name, tuple(json.loads(p.roles)), p.key) for p in rows(facts, PersonFact))


def root(facts: Session) -> str:
    """The public key of the person who founded the job; empty while nobody is enrolled."""
    return facts.exec(select(JobFact)).one().root
