"""
A dimension from a place of one part to a place of another, over the bolted connections between them.

Counted are the play of every connection on the way with its holes as drawn, what its holes may be out and come out
larger, and how far the two places themselves may be out in their parts. Heights are sums of thicknesses and coats, with
what sheets and plates may be thicker or thinner.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from ledger.assembly.arrangement import Arrangement, Member
from ledger.assembly.closure import AssemblyCase, closure
from ledger.assembly.heights import Layer, between_tops, height_of, levels
from ledger.assembly.links import Place
from ledger.assembly.poses import best_poses
from ledger.assembly.reach import Ends, farthest, way_between
from ledger.assembly.stack_up import Contribution, Input, Spread, ordered, root_sum_square, spread_of
from ledger.cases.answers import NotRun
from ledger.cases.assembly import assembly_case, parts_in
from ledger.cases.connections import ConnectionCase
from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.pose import Pose
from ledger.domain.record import Part
from ledger.domain.shape import Point
from ledger.fit.shared_bolts import Assembled
from ledger.standards.processes import process
from ledger.standards.sheets import thicker_mm

Along = Literal["x", "y", "z", ""]
ALONG: Final = ("x", "y", "z")
_WAYS: Final[dict[str, complex | None]] = {"x": 1 + 0j, "y": 1j, "": None}
Group = tuple[ConnectionCase, ...]


@dataclass(frozen=True, slots=True)
class Spot:
    """A named place: a hole, or the middle of a hole group, of a part."""

    part: str
    name: str

    @staticmethod
    def read(text: str) -> Spot:
        """`BASE:S1`. Raises BadInput."""
        part, _, name = text.rpartition(":")
        if not part or not name:
            raise BadInput(
                f"read {text!r} as a place; expected a part and its hole or hole group, such as BASE:S1"
            )
        return Spot(part, name)

    @property
    def words(self) -> str:
        return f"{self.name} of {self.part}"


def place_of(part: Part, spot: Spot) -> tuple[Point, float]:
    """Where a place is in its part's drawing, and how far it may be out, mm. Raises UnknownName."""
    group = part.group(spot.name)
    labels = group.labels if group else (spot.name,)
    holes = [h for label in labels if (h := part.hole(label))]
    if not holes:
        known = [*(h.label for h in part.holes), *(g.name for g in part.groups)]
        raise UnknownName(f"hole or hole group of {part.number}", spot.name, known)
    x, y = (sum(h.centre[n] for h in holes) / len(holes) for n in (0, 1))
    if part.form == "cut":
        return (x, y), process(part.process).position_mm / 2
    named = {h.label for h in holes}
    doubts = [float(m.uncertainty.mm) for m in part.measured_holes if m.uncertainty and m.hole.label in named]
    return (x, y), max(doubts, default=0.0)


def across(groups: Sequence[Group], start: Spot, end: Spot, along: Along, parts: tuple[Part, Part]) -> Spread:
    """
    The dimension with its range and contributions, mm; `groups` are the connections on the way, each a ring or alone,
    `parts` those of the two places.

    Raises NotRun where the parts do not lie flat on each other or do not go together, BadInput, UnknownName.
    """
    if along == "z":
        return _height(groups, start, end)
    (p, off_p), (q, off_q) = place_of(parts[0], start), place_of(parts[1], end)
    ends = Ends((start.part, p), (end.part, q), _WAYS[along])
    made, place = _together(groups)
    value = ends.measured_mm(way_between(made, place, ends))
    lowest, highest = (_far_mm(made, place, ends, sign, out=True) for sign in (-1, 1))
    own = (
        Contribution(f"place of {start.words}", -off_p, off_p),
        Contribution(f"place of {end.words}", -off_q, off_q),
    )
    every = (*_of_groups(groups, made, place, ends), *own)
    low, high = lowest - off_p - off_q, highest + off_p + off_q
    return Spread(value, low, high, root_sum_square(every), ordered(every))


def _together(groups: Sequence[Group]) -> tuple[Arrangement, Place]:
    """Everything on the way at its best poses. Raises NotRun."""
    case = assembly_case([c for group in groups for c in group])
    found = closure(case)
    if found.arrangement is None or found.place is None or found.state not in ("closes", "closes as drawn"):
        raise NotRun(
            "the parts between do not go together: see fitup assembly and the verdicts of these parts"
        )
    return found.arrangement, found.place


def _far_mm(made: Arrangement, place: Place, ends: Ends, sign: int, *, out: bool) -> float:
    """The longest or shortest way with the holes as drawn; `out`: with every hole larger and out of place."""
    drawn, hard = made.drawn, made.hard
    room = drawn.room + (drawn.room - hard.room if out else 0.0)
    roomy = best_poses(drawn.with_room(room), place).place
    return ends.measured_mm(farthest(made, room, roomy, ends, sign))


def _of_groups(
    groups: Sequence[Group], made: Arrangement, place: Place, ends: Ends
) -> Iterator[Contribution]:
    """What each connection, or ring, does by itself: its play as drawn, and what its holes may be out."""
    value, poses = ends.measured_mm(way_between(made, place, ends)), made.poses(place)
    members = assembly_case([c for group in groups for c in group]).members
    for group in groups:
        names = {c.connection.name for c in group}
        own = closure(AssemblyCase(tuple(m if m.name in names else _stiff(m, poses) for m in members)))
        told = ", ".join(sorted(names))
        if own.arrangement is None or own.place is None:
            raise NotRun(f"{told} does not go together with the others where they are")
        (down, up), (lower, higher) = (
            [_far_mm(own.arrangement, own.place, ends, sign, out=out) - value for sign in (-1, 1)]
            for out in (False, True)
        )
        yield Contribution(f"play of {told}", min(0.0, down), max(0.0, up))
        yield Contribution(f"holes of {told} as made", min(0.0, lower - down), max(0.0, higher - up))


def _stiff(member: Member, poses: Mapping[str, Pose]) -> Member:
    """A connection whose parts stay where they are."""
    laid = Assembled(tuple(poses[p] for p in member.connected.parts), member.connected.ways[0].bolts)
    return replace(member, connected=replace(member.connected, hold="fixed", ways=(laid,)))


def _height(groups: Sequence[Group], start: Spot, end: Spot) -> Spread:
    """From the upper face of the one part to the upper face of the other."""
    cases = [c for group in groups for c in group]
    found, _ = levels(start.part, layers_of(cases))
    parts = parts_in(cases)
    shares = between_tops(start.part, end.part, found)
    inputs = [thickness_of(parts[number]) for number in sorted(shares)]
    return spread_of(
        lambda x: height_of(shares, dict(zip(sorted(shares), x, strict=True))),
        inputs,
    )


def layers_of(cases: Sequence[ConnectionCase]) -> Iterator[Layer]:
    """What lies on what, by these connections; of a stack every part on the next."""
    for case in cases:
        plies = case.plies
        laid = case.laid or ()
        for k in range(len(plies) - 1):
            over = bool(laid) and laid[k].turned_over != laid[k + 1].turned_over
            yield Layer(
                case.connection.name, plies[k].part.number, plies[k + 1].part.number,
                underneath=plies[k + 1].ply.face_up == "bottom", turned_over=over,
            )  # fmt: skip


def thickness_of(part: Part) -> Input:
    """A part's thickness with its coats, mm, and what it may be out. Raises NotRun where it is not known."""
    if part.thickness is None:
        raise NotRun(f"the thickness of {part.number} is not known: fitup part {part.number} --thickness")
    coats = float(part.coating_thickness.mm) * 2 if part.coating_thickness and part.form == "cut" else 0.0
    whole = float(part.thickness.mm) + coats
    off = thicker_mm(float(part.thickness.mm), part.material) if part.form == "cut" else 0.0
    return Input(f"thickness of {part.number}", whole, whole - off, whole + off)
