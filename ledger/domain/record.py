"""
Records: what is known of a part, as plain frozen values (of connections: `ledger.domain.connection`).

A *part* here is one revision of it. Its *form* is cut (has a DXF profile), site (existing structure, known by
measured points) or bought (a catalogue part).
Records are read from the facts of a job; checks and digests see nothing else. Lengths are exact.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final, Literal, get_args

from ledger.domain.bend import Bend, BendData, bend_lines
from ledger.domain.density import Density
from ledger.domain.masks import Masks
from ledger.domain.measured_on import MeasuredOn
from ledger.domain.quantity import Length, Limits
from ledger.domain.shape import Hole, Profile, Stroke
from ledger.domain.side import PointSide

Form = Literal["cut", "site", "bought"]
Hand = Literal["either", "as drawn", "opposite"]
OperationKind = Literal["plain", "tapped", "countersunk", "reamed", "captive nut"]
DimensionSource = Literal["measured", "given", "calculated", "standard", "assumed"]
Role = Literal["drawn", "checked", "approved"]
Standing = Literal["in the set", "locked", "lock unsigned", "open", "frozen"]

UNSIGNED = "was locked by an entry whose signature does not count"  # said of a revision
FORMS: tuple[str, ...] = get_args(Form)
HANDS: tuple[str, ...] = get_args(Hand)
LayerRole = Literal["cut", "mark", "bend", "ignore"]
LAYER_ROLES: tuple[str, ...] = get_args(LayerRole)
OPERATIONS: tuple[str, ...] = get_args(OperationKind)
SOURCES: tuple[str, ...] = get_args(DimensionSource)
ROLES: tuple[str, ...] = get_args(Role)
KEEPER = "keeper"  # who keeps the job: people, their keys and the policy
PERSON_ROLES: tuple[str, ...] = (*ROLES, KEEPER)
PERMITTERS: tuple[str, ...] = (
    "checked",
    "approved",
)  # who accepts a finding, unless the policy says otherwise


@dataclass(frozen=True, slots=True)
class Operation:
    """What is done to a hole after cutting, by its label."""

    label: str
    operation: str
    thread: str = ""

    def to_json(self) -> dict[str, Any]:
        """Plain values for digests."""
        return {"label": self.label, "operation": self.operation, "thread": self.thread}


@dataclass(frozen=True, slots=True)
class HoleGroup:
    """
    Holes of one flat face that belong together.

    `reference` is the group or hole that it is placed from; empty: the origin of the drawing.
    """

    name: str
    labels: tuple[str, ...]
    reference: str = ""


@dataclass(frozen=True, slots=True)
class Input:
    """A dimension that a calculated one rests on, with its part's revision and whether that is locked."""

    part: str
    revision: str
    name: str
    source: str
    locked: bool


@dataclass(frozen=True, slots=True)
class Dimension:
    """
    A key dimension. `measured_on` ties it to the drawing (`ledger.domain.measured_on` has the forms); None: not tied.

    `frozen_mm` is the value of a frozen dimension at the last locked revision, `frozen_before` what it was in each
    earlier one that froze it: revision and value, oldest first. A *calculated* one has its `formula`, what it rests
    on, or the `fault` for which it has no value now (its nominal then is nothing). `how` is how it was read,
    `overdue` says so where its instrument was out of calibration that day.
    """

    name: str
    nominal: Length
    limits: Limits | None
    source: str
    instrument: str = ""
    uncertainty: Length | None = None
    measured_on: MeasuredOn | None = None
    frozen: bool = False
    critical: bool = False
    frozen_mm: Decimal | None = None
    formula: str = ""
    fault: str = ""
    inputs: tuple[Input, ...] = ()
    how: str = ""
    overdue: str = ""
    frozen_before: tuple[tuple[str, str], ...] = ()

    @property
    def marks(self) -> tuple[str, ...]:
        """Critical, and frozen, with its value in every earlier revision that frozen it."""
        before = ", ".join(f"{value} in {revision}" for revision, value in self.frozen_before)
        frozen = "frozen" if self.frozen else "no longer frozen" if before else ""
        words = f"{frozen}: {before}" if before else frozen
        return (*(("critical",) if self.critical else ()), *((words,) if words else ()))

    def to_json(self) -> dict[str, Any]:
        """Plain values for digests."""
        return {
            "name": self.name,
            "nominal": self.nominal.to_json(),
            "limits": self.limits.written if self.limits else None,
            "lower_mm": self.limits.lower_mm if self.limits else None,
            "upper_mm": self.limits.upper_mm if self.limits else None,
            "source": self.source,
            "instrument": self.instrument,
            "uncertainty": self.uncertainty.to_json() if self.uncertainty else None,
            "measured_on": str(self.measured_on or ""),
            "frozen": self.frozen,
            "critical": self.critical,
            **{name: text for name, text in (("formula", self.formula), ("how", self.how)) if text},
        }


TRIED: Final = ("fits", "does not fit")


@dataclass(frozen=True, slots=True)
class Trial:
    """
    What came of laying the paper template of a part on what is there: one of TRIED, who did it, and on what day.

    It speaks of the drawing whose geometry it names, and of no other.
    """

    result: str
    note: str
    by: str
    day: str
    geometry: str

    def to_json(self) -> dict[str, Any]:
        """Plain values."""
        own = {"result": self.result, "note": self.note, "by": self.by, "day": self.day}
        return {**own, "geometry": self.geometry}

    @property
    def words(self) -> str:
        """`fits: S2 is tight (Mira, 2026-03-02)`."""
        note = f": {self.note}" if self.note else ""
        return f"{self.result}{note} ({self.by}, {self.day})"

    def shown(self, part: Part) -> str:
        """The same, and whether it was of another drawing than the part has now."""
        now = part.taken.geometry if part.taken else ""
        return self.words if self.geometry == now else f"{self.words}, of an earlier drawing"


@dataclass(frozen=True, slots=True)
class Question:
    """
    Something still to be decided; open until it has an answer.

    It holds up its own part, and the parts and connections of `holds_up`; `depends_on` is what must be known first,
    `waiting` what of that is still open. `needed_by` is the day by which it is to be decided.
    """

    ident: str
    text: str
    answer: str = ""
    holds_up: tuple[str, ...] = ()
    depends_on: tuple[str, ...] = ()
    needed_by: str = ""
    waiting: tuple[str, ...] = ()

    @property
    def is_open(self) -> bool:
        """Whether nobody has answered it."""
        return not self.answer

    def to_json(self) -> dict[str, Any]:
        """Plain values for digests: what was written, not how things stand."""
        linked = {
            "holds_up": list(self.holds_up),
            "depends_on": list(self.depends_on),
            "needed_by": self.needed_by,
        }
        own = {"ident": self.ident, "text": self.text, "answer": self.answer}
        return {**own, **{name: value for name, value in linked.items() if value}}

    @property
    def words(self) -> str:
        """What hangs on it, in words; empty where nothing was said."""
        said = [f"holds up {', '.join(self.holds_up)}"] if self.holds_up else []
        said += [f"depends on {', '.join(self.depends_on)}"] if self.depends_on else []
        return "; ".join([*said, f"needed by {self.needed_by}"] if self.needed_by else said)


@dataclass(frozen=True, slots=True)
class MeasuredHole:
    """
    A hole or stud of a site or bought part. `uncertainty` is expanded (U), in any direction.

    Where distances placed it, U is within the pattern, and `framed` is against the axes of the first points.
    """

    hole: Hole
    uncertainty: Length | None
    source: str
    framed: Length | None = None


@dataclass(frozen=True, slots=True)
class SitePoint:
    """
    A named point of a site or bought part: plain, or the centre of a hole or stud with a diameter.

    `at` are coordinates where they were measured, `side` tells on which side of others it lies ("left of P1 P2").
    """

    label: str
    diameter: Length | None = None
    at: tuple[Length, ...] = ()
    uncertainty: Length | None = None
    side: PointSide | None = None
    instrument: str = ""
    overdue: str = ""


@dataclass(frozen=True, slots=True)
class Distance:
    """A measured distance between two points: the value, its u and U, what was read, with what, and how sure."""

    a: str
    b: str
    value: Length
    standard: Length
    uncertainty: Length
    instrument: str
    readings: tuple[str, ...] = ()
    how: str = ""
    overdue: str = ""


@dataclass(frozen=True, slots=True)
class TakenProfile:
    """
    The profile taken from a file: its bytes by digest, what was read from them, what was lost on the way.

    `kept_file` is the digest of the bytes that the profile was kept as; empty where it was not read from a job.
    """

    profile: Profile
    file_name: str
    dxf_sha256: str
    geometry: str
    unit: str
    lost_labels: tuple[str, ...] = ()
    reads_the_same: bool = True
    vendor: str = ""
    roles: tuple[tuple[str, str], ...] = ()
    unit_stated: bool = False
    kept_file: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """
    One revision of a part, whole.

    `etched` is the number that is cut into it; `masked` what the coating leaves bare (`ledger.domain.masks`);
    `density` one that was stated; `quantity` how many are ordered, worked out where `per_assembly` is given;
    `bend_data` what the vendor of its drawing bends this stock with; `said` the fields that no rule reads
    (`ledger.domain.fields`), by name.
    """

    number: str
    revision: str
    title: str
    form: str
    hand: str = "either"
    opposite_of: str = ""
    material: str = ""
    thickness: Length | None = None
    coating: str = ""
    coating_thickness: Length | None = None
    process: str = ""
    quantity: int | None = None
    unconnected: bool = False
    note: str = ""
    etched: str = ""
    masked: Masks | None = None
    density: Density | None = None
    per_assembly: int | None = None
    assemblies: int | None = None
    spares: int | None = None
    said: tuple[tuple[str, str], ...] = ()
    locked: bool = False
    taken: TakenProfile | None = None
    measured_holes: tuple[MeasuredHole, ...] = ()
    points: tuple[SitePoint, ...] = ()
    distances: tuple[Distance, ...] = ()
    operations: tuple[Operation, ...] = ()
    bends: tuple[Bend, ...] = ()
    bend_data: BendData | None = None
    groups: tuple[HoleGroup, ...] = ()
    dimensions: tuple[Dimension, ...] = ()
    questions: tuple[Question, ...] = ()
    trials: tuple[Trial, ...] = ()

    @property
    def tried(self) -> Trial | None:
        """The newest trial of the template of this drawing; trials of other drawings do not count."""
        drawn = self.taken.geometry if self.taken else ""
        return next((t for t in reversed(self.trials) if t.geometry == drawn), None)

    @property
    def holes(self) -> tuple[Hole, ...]:
        """Every hole known: drawn, and for site and bought parts measured or given."""
        drawn = self.taken.profile.holes if self.taken else ()
        return drawn + tuple(m.hole for m in self.measured_holes)

    @property
    def profile(self) -> Profile | None:
        """What the drawing says, if one was taken."""
        return self.taken.profile if self.taken else None

    @property
    def masks(self) -> Masks:
        """What the coating leaves bare."""
        return self.masked or Masks()

    def hole(self, label: str) -> Hole | None:
        """The hole of that label, drawn or measured."""
        return next((h for h in self.holes if h.label == label), None)

    @property
    def bend_lines(self) -> Mapping[str, Stroke]:
        """The bend lines of the drawing by label."""
        return bend_lines(self.taken.profile.bends, self.bends) if self.taken else {}

    def bend(self, label: str) -> Bend | None:
        """What is known of the bend of that label."""
        return next((b for b in self.bends if b.label == label), None)

    def group(self, name: str) -> HoleGroup | None:
        """The group of that name."""
        return next((g for g in self.groups if g.name == name), None)

    def grouped_apart_from(self, names: tuple[str, ...]) -> frozenset[str]:
        """Labels of holes in a named group, none of them in a group of these names."""
        own = {label for g in self.groups if g.name in names for label in g.labels}
        return frozenset(label for g in self.groups for label in g.labels) - own
