"""
A socket goes over every head and nut.

In its way stand the hexagons of neighboring bolts on the same face, of this connection and of others; parts that other
connections lay or stand on that face, if they are thicker than the washer; and the walls of bent plies: a flange that
is turned up beside a hole, of the ply itself or of the other one as it lies. A wall counts from 45 degrees on, as if
square. What an open-end wrench needs beside a part is what it needs between bolts, less half a hexagon.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import shapely

from ledger.cases.answers import DoesNotApply, NotChecked
from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.cases.surroundings import SurroundedConnection
from ledger.checks._bend_lines import BendLine, BentPart, bent_part
from ledger.checks._frame import check
from ledger.checks._movable import joined
from ledger.checks._on_face import bolts_on_face, parts_on_face
from ledger.checks._seats import bolted_holes, seated, unlooked, washers
from ledger.checks._webs import between
from ledger.domain.connection import JOINTS
from ledger.domain.errors import UnknownName
from ledger.domain.finding import Finding
from ledger.domain.quantity import show_mm
from ledger.domain.shape import Point
from ledger.standards.hardware import Hardware, hardware
from ledger.standards.tools import socket_mm, spanner_pitch_mm

_WALL_DEG: Final = 45.0
_LEEWAY_MM: Final = 1e-6
_BOTH: Final = 2


@check(
    on=SurroundedConnection,
    source="sockets ISO 2725-1: 1.25 s + 3 mm, from memory; wrench pitch: common practice (RoyMech, BS 3692:2001)",
    codes=("no_socket_room", "part_near_bolt", "wall_near_bolt", "wrench_tight"),
    severity="warning",
    not_checked="room above heads and nuts, for swinging a wrench, and beside parts not recorded on that face",
)
def wrench_room(seen: SurroundedConnection) -> Iterator[Finding | NotChecked]:
    """
    A bolt that no tool reaches is not tightened.

    It is seen when the first part is bolted together; then the hole, or the wall, is in the wrong place.
    """
    case = seen.case
    connection = case.connection
    if connection.kind != "bolted" or connection.joint not in JOINTS or not connection.fastener.strip():
        raise DoesNotApply
    if connection.joint in ("dowel", "countersunk tapped"):
        raise DoesNotApply
    yield from unlooked(case, "room for a wrench")
    try:
        parts = hardware(connection.fastener)
    except UnknownName as unknown:
        yield NotChecked(str(unknown))
        return
    for placed in seated(case):
        yield from _neighbours(case, placed, parts)
        yield from _other_bolts(seen, placed, parts)
        yield from _parts(seen, placed, parts)
        yield from _walls(case, placed, parts)


def _neighbours(case: ConnectionCase, placed: PlacedPly, parts: Hardware) -> Iterator[Finding]:
    number = placed.part.number
    outside, source = socket_mm(parts)
    least = (outside + parts.across_corners_mm) / 2
    spanner = spanner_pitch_mm(parts.size)
    widest = max(least, spanner[0] if spanner else 0.0)
    pitches = [(apart, a.label, b.label) for a, b, apart in between(bolted_holes(case, placed), widest)]
    if not pitches:
        return
    apart, one, other = min(pitches)
    if not apart + _LEEWAY_MM >= least:
        yield Finding(
            "no_socket_room",
            f"{one} and {other} of {number} are {show_mm(apart, 2)} apart: a socket for {case.connection.fastener} is "
            f"{show_mm(outside, 2)} wide and needs {show_mm(least, 2)} to the next hexagon ({source})",
            severity="warning",
            where=f"{case.connection.name}/{number}/{one}",
            fix=joined(
                [
                    (placed.part, f"set the holes of {number} further apart"),
                    (None, "use smaller bolts or socket heads"),
                ]
            ),
            measured=show_mm(apart, 2),
            limit=f">= {show_mm(least, 2)}",
        ).held_to(apart, least)
    elif spanner and not apart + _LEEWAY_MM >= spanner[0]:
        yield Finding(
            "wrench_tight",
            f"{one} and {other} of {number} are {show_mm(apart, 2)} apart: a socket fits; an open-end wrench needs "
            f"{spanner[0]:g} mm ({spanner[1]})",
            severity="note",
            where=f"{case.connection.name}/{number}/wrench",
            measured=show_mm(apart, 2),
            limit=f">= {spanner[0]:g} mm",
        )


def _other_bolts(seen: SurroundedConnection, placed: PlacedPly, parts: Hardware) -> Iterator[Finding]:
    """Heads and nuts of other connections on the same face; each connection's nearest one."""
    case = seen.case
    number, (outside, source) = placed.part.number, socket_mm(parts)
    short: dict[str, tuple[float, str, str, float]] = {}
    for connection, theirs, there in bolts_on_face(seen, placed):
        least = (outside + there.across_corners_mm) / 2
        for hole in bolted_holes(case, placed):
            apart = min(math.dist(p, q) for p in hole.core for q in theirs.core)
            if not apart + _LEEWAY_MM >= least:
                found = (apart, hole.label, theirs.label, least)
                short[connection] = min(short.get(connection, found), found)
    for connection, (apart, label, theirs_label, least) in short.items():
        yield Finding(
            "no_socket_room",
            f"{label} of {number} and {theirs_label}, bolted by {connection} on the same face, are {show_mm(apart, 2)} "
            f"apart: a socket for {case.connection.fastener} is {show_mm(outside, 2)} wide and needs "
            f"{show_mm(least, 2)} to that hexagon ({source})",
            severity="warning",
            where=f"{case.connection.name}/{number}/{label}/{connection}",
            fix=joined(
                [
                    (placed.part, f"set the holes of {number} further apart"),
                    (None, "turn one of the bolts round"),
                    (None, "use socket heads"),
                ]
            ),
            measured=show_mm(apart, 2),
            limit=f">= {show_mm(least, 2)}",
        ).held_to(apart, least)


def _parts(seen: SurroundedConnection, placed: PlacedPly, parts: Hardware) -> Iterator[Finding | NotChecked]:
    """Parts on the same face; one that lies under the seat itself is told where seats are looked at."""
    case = seen.case
    number, (outside, source) = placed.part.number, socket_mm(parts)
    spanner = spanner_pitch_mm(parts.size)
    swing = spanner[0] - parts.across_corners_mm / 2 if spanner else 0.0
    under = parts.washer_thickness_mm if washers(case) else 0.0
    for other in parts_on_face(seen, placed):
        if other.height_mm is not None and other.height_mm <= under:
            continue
        if other.bent:
            yield NotChecked(
                f"tools against {other.part}, which is bent: how far its other flanges are from the tool"
            )
            continue
        rooms = [
            (room, hole.label)
            for hole in bolted_holes(case, placed)
            for end in hole.core
            if (room := other.room_mm(end)) is not None and room + _LEEWAY_MM >= parts.seat_mm / 2
        ]
        if not rooms:
            continue
        room, label = min(rooms)
        away = f"is {show_mm(room, 2)} from the center of {label}"
        said = f"{other.part}, set on the same face by {other.connection}, {away} of {number}"
        if not room + _LEEWAY_MM >= outside / 2:
            yield Finding(
                "part_near_bolt",
                f"{said}; half a socket for {case.connection.fastener} is {show_mm(outside / 2, 2)} ({source})",
                severity="warning",
                where=f"{case.connection.name}/{number}/{label}/{other.part}",
                fix=joined(
                    [
                        (placed.part, f"move {label} of {number}"),
                        (other.of, f"move {other.part}"),
                        (None, "turn the bolt round"),
                        (None, "use a socket head"),
                    ]
                ),
                measured=show_mm(room, 2),
                limit=f">= {show_mm(outside / 2, 2)}",
            ).held_to(room, outside / 2)
        elif spanner and not room + _LEEWAY_MM >= swing:
            yield Finding(
                "wrench_tight",
                f"{said}: a socket fits; an open-end wrench needs {swing:.1f} mm ({spanner[1]})",
                severity="note",
                where=f"{case.connection.name}/{number}/wrench/{other.part}",
                measured=show_mm(room, 2),
                limit=f">= {swing:.1f} mm",
            )


def _walls(case: ConnectionCase, placed: PlacedPly, parts: Hardware) -> Iterator[Finding | NotChecked]:
    """Flanges that stand on the side where the head or the nut lies: of this ply, and of the other one as it lies."""
    outside, source = socket_mm(parts)
    head_side = placed is case.plies[0]
    for other in case.plies:
        if other is not placed and (len(case.plies) != _BOTH or case.pose is None):
            continue
        try:
            whole = bent_part(other.part)
        except DoesNotApply:
            continue
        unsaid = [f.label for f in whole.lines if f.stated is None]
        if unsaid:
            yield NotChecked(
                f"walls of {other.part.number} beside bolts: no bend data for {', '.join(unsaid)}"
            )
        nearest = _nearest_wall(case, placed, other, whole, up=head_side != _turned(case, other))
        if nearest is None:
            continue
        room, label, bend_line = nearest
        if not room + _LEEWAY_MM >= outside / 2:
            yield Finding(
                "wall_near_bolt",
                f"the wall that {bend_line.label} of {other.part.number} turns up is {show_mm(room, 2)} from the "
                f"center of {label} of {placed.part.number}; half a socket for {case.connection.fastener} is "
                f"{show_mm(outside / 2, 2)} ({source})",
                severity="warning",
                where=f"{case.connection.name}/{placed.part.number}/{label}/wall",
                fix=joined(
                    [
                        (placed.part, f"move {label} of {placed.part.number}"),
                        (other.part, f"move the bend of {other.part.number}"),
                        (None, "turn the bolt round"),
                        (None, "use a socket head"),
                    ]
                ),
                measured=show_mm(room, 2),
                limit=f">= {show_mm(outside / 2, 2)}",
            ).held_to(room, outside / 2)


def _turned(case: ConnectionCase, placed: PlacedPly) -> bool:
    """Whether a ply lies with its drawn face down: towards the nuts."""
    pose = case.pose
    over = placed is case.plies[0] and pose is not None and pose.turned_over
    return over or placed.ply.face_up == "bottom"


def _nearest_wall(
    case: ConnectionCase, placed: PlacedPly, other: PlacedPly, whole: BentPart, *, up: bool
) -> tuple[float, str, BendLine] | None:
    """The wall on that face of `other` with the least room beside a bolt of `placed`: the room, the hole, the bend."""
    found = []
    for hole in bolted_holes(case, placed):
        for point in hole.core:
            at = point if other is placed else _in_other(case, placed, point)
            for bend_line in whole.lines:
                if bend_line.stated is None or (bend_line.stated.direction == "up") != up:
                    continue
                if bend_line.numbers.angle_deg >= _WALL_DEG and not _hidden(whole, bend_line, at):
                    found.append((_room(bend_line, at), hole.label, bend_line))
    return min(found, key=lambda f: f[:2], default=None)


def _in_other(case: ConnectionCase, placed: PlacedPly, point: Point) -> Point:
    """A place of one of two plies in the coordinates of the other."""
    pose = case.pose
    if pose is None:
        return point
    return pose.place(point) if placed is case.plies[0] else pose.bring(point)


def _room(bend_line: BendLine, at: Point) -> float:
    """From a place to the inner face of the wall: R behind where the bend begins, half an allowance before its line."""
    flat = float(bend_line.line().distance(shapely.Point(at)))
    return flat - bend_line.numbers.allowance_mm / 2 + bend_line.numbers.radius_mm


def _hidden(whole: BentPart, bend_line: BendLine, at: Point) -> bool:
    """Whether another bend lies between: then the wall stands in another plane than the bolt."""
    nearest = bend_line.line().interpolate(bend_line.line().project(shapely.Point(at)))
    way = shapely.LineString([(nearest.x, nearest.y), at])
    return any(f.line().intersects(way) for f in whole.lines if not f.on_one_axis(bend_line))
