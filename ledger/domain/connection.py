"""
How parts go together, as plain frozen values: connections, their plies and fasteners, clearances and their readings.

A *connection* is two or more *plies* in order, the first laid on the second; its *kind* says how they go together, its
*joint* how a fastener is held. What is measured on it is a reading of a required clearance.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from ledger.domain.pose import Pose
from ledger.domain.quantity import Bounds, Length
from ledger.domain.readings import as_read

ConnectionKind = Literal["bolted", "welded", "tab and slot", "beside", "passes through", "inside"]
JointName = Literal[
    "through",
    "tapped",
    "stud",
    "captive nut",
    "dowel",
    "countersunk",
    "countersunk tapped",
    "drilled on site",
]
TurnedOver = Literal["no", "yes", "either"]
WeldSide = Literal["arrow side", "other side", "both sides"]
HolesMade = Literal["before", "jigged", "drilled after"]
CONNECTION_KINDS: tuple[str, ...] = get_args(ConnectionKind)
JOINTS: tuple[str, ...] = get_args(JointName)
TURNED_OVER: tuple[str, ...] = get_args(TurnedOver)
WELD_SIDES: tuple[str, ...] = get_args(WeldSide)
HOLES_MADE: tuple[str, ...] = get_args(HolesMade)
WELDED = ("welded", "tab and slot")


@dataclass(frozen=True, slots=True)
class Ply:
    """
    One part's place in a connection: which group (empty: every hole is a candidate), which face is up.

    `also` are the groups that other fasteners of the connection go through.
    """

    part: str
    group: str = ""
    face_up: str = "top"
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Reading:
    """A measured clearance. `against` names the face of every ply at the time: (part, revision, face digest)."""

    value: Length
    uncertainty: Length
    instrument: str
    by: str
    when: str
    against: tuple[tuple[str, str, str], ...] = ()
    overdue: str = ""
    how: str = ""

    @property
    def words(self) -> str:
        """Value, uncertainty and instrument; of one that was corrected to 20 °C also what was read, and how warm."""
        warm = as_read(self.how)
        value = f"{self.value.written} ±{self.uncertainty.written} {self.instrument}"
        return f"{value}, {warm}" if warm else value


@dataclass(frozen=True, slots=True)
class Clearance:
    """A clearance that a connection must have, and the newest reading of it on the real structure."""

    name: str
    required: Bounds
    critical: bool = False
    reading: Reading | None = None


@dataclass(frozen=True, slots=True)
class Pins:
    """The first ply is held on the second by the dowel pins of their connection."""


@dataclass(frozen=True, slots=True)
class Sides:
    """Sides of the first ply that lie flush with sides of the second: (side, side), one or two of them."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Also:
    """A fastener beside the connection's own, its joint, and the hole group of each ply that takes it."""

    fastener: str
    joint: str
    groups: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Connection:
    """
    How plies go together. The first ply is laid on the second.

    `gap` limits the drawn clearance (beside, passes, inside), and the root gap of a weld, also at tabs in slots.
    `weld_side` is where it is welded, seen from the face of the first ply that is up; `weld_class` the class of ISO
    13920 that holds across it; `holes_made` how holes on both sides of it come to their places. `position` is an
    entered pose of the first ply on the second, or what else holds it; without it holes decide. `also` are fasteners
    of other sizes or joints in the same plies. `bolt_length` is that of the bolts ordered (of studs, what stands
    out), `washers` how many are on each.
    """

    name: str
    kind: str
    plies: tuple[Ply, ...]
    joint: str = ""
    fastener: str = ""
    turned_over: str = "no"
    position: Pose | Pins | Sides | None = None
    position_written: str = ""
    also: tuple[Also, ...] = ()
    gap: Bounds | None = None
    weld_side: str = ""
    weld_class: str = ""
    holes_made: str = ""
    bolt_length: Length | None = None
    washers: int | None = None
    clearances: tuple[Clearance, ...] = ()
    frozen_interfaces: tuple[tuple[str, str], ...] = ()

    @property
    def weld_words(self) -> tuple[str, ...]:
        """What is declared of a weld, piece by piece."""
        root = f"root gap {self.gap.written}" if self.gap and self.kind in WELDED else ""
        grade = f"weld class {self.weld_class}" if self.weld_class else ""
        holes = f"holes {self.holes_made}" if self.holes_made else ""
        return tuple(words for words in (root, self.weld_side, grade, holes) if words)
