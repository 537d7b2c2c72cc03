"""
Where the bodies of bolted parts stand in space: from connection to connection, face on face as they are recorded.

A *piece* is a part where it stands; a part whose same holes are bolted in two places has two. What the bolts leave free
is the *play* between two pieces: how far the places of one may come nearer to the other, over all connections between
them. Where a ring closes, its parts stand at the poses that close it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import TYPE_CHECKING, Final

import numpy as np

from ledger.assembly.closure import closure
from ledger.assembly.heights import Layer
from ledger.assembly.solids import Depth, Mesh, box_of, mesh_of, placed
from ledger.assembly.space import HERE, Frame, laid
from ledger.cases.across import layers_of, thickness_of
from ledger.cases.answers import NotRun
from ledger.cases.assembly import assembly_case, is_one_question
from ledger.cases.bodies import Body, body_of, coat_of
from ledger.cases.connections import ConnectionCase
from ledger.cases.fitting import fastenings
from ledger.cases.in_space import play_of
from ledger.cases.rings import blocks, is_fitted, labels_of, parts_of
from ledger.domain.errors import BadInput
from ledger.domain.pose import Pose
from ledger.domain.record import Part
from ledger.domain.shape import Hole
from ledger.fit.case import Ply
from ledger.fit.joint import Real

if TYPE_CHECKING:
    from manifold3d import Manifold

_BOTH: Final = 2
_SAME_MM: Final = 0.01
_PARALLEL: Final = 1 - 1e-9
_ALIKE: Final = 1e-3  # of the volume of a part that would lie otherwise
Poses = tuple[Pose, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """
    A connection on the way to a piece: the middle and the normal of its faces in space, how far and by what angle
    (radians) it leaves play in them, how far out of them its plies may be, and the bends before it in the part there.
    """

    name: str
    middle: Real
    normal: Real
    shift_mm: float
    turn: float
    off_mm: float
    doubt: str = ""
    bends: tuple[Bent, ...] = ()


@dataclass(frozen=True, slots=True)
class Bent:
    """A bend in space: a place on its line, the direction along, how far and by how many degrees it may be out."""

    start: Real
    along: Real
    off_mm: float
    off_deg: float

    def out_mm(self, places: Real) -> float:
        """How far it may put these places out."""
        off = places - self.start
        far = np.linalg.norm(off - np.outer(off @ self.along, self.along), axis=1).max()
        return self.off_mm + math.radians(self.off_deg) * float(far)


@dataclass(frozen=True, slots=True)
class Piece:
    """A part where it stands: its frame in space, its solid there, and the connections from the first part to it."""

    name: str
    body: Body
    frame: Frame
    solid: Manifold | None
    way: tuple[Step, ...] = ()
    held: frozenset[int] = frozenset()  # the bends from its first flange to the one that holds it

    def bends_to(self, bends: frozenset[int]) -> tuple[Bent, ...]:
        """The bends between the flange that holds it and the one behind these."""
        return tuple(
            Bent(self.frame.place(a), self.frame.turn @ along, self.body.off_mm, self.body.off_deg)
            for a, along in self.body.lines(sorted(self.held ^ bends))
        )

    @property
    def bends(self) -> tuple[Bent, ...]:
        """All of its bends."""
        return self.bends_to(self.held ^ self.body.bends)

    @property
    def number(self) -> str:
        """The number of its part."""
        return self.body.number


@dataclass(slots=True)
class Places:
    """Every piece that stands, which pieces every connection is of, and what does not stand and why."""

    pieces: dict[str, Piece] = field(default_factory=dict)
    of: dict[str, tuple[str, ...]] = field(default_factory=dict)
    left: dict[str, str] = field(default_factory=dict)
    off_mm: float = 0.0  # how far apart connections put one part where they do not agree, in all

    def meshes(self, apart_mm: float = 0.0) -> tuple[Mesh, ...]:
        """Every piece that has a body as faces; `apart_mm` farther out from piece to piece, square to their faces."""
        moved: dict[str, Real] = {}
        found = []
        for name, piece in self.pieces.items():
            shift = np.zeros(3)
            if piece.way:
                before = next(
                    (p for p in self.pieces.values() if p.way == piece.way[:-1] and p.name in moved), None
                )
                step = piece.way[-1]
                own = step.middle if piece.solid is None else np.mean(_box(piece.solid), axis=0)
                known = (
                    step.middle
                    if before is None or before.solid is None
                    else np.mean(_box(before.solid), axis=0)
                )
                sign = 1.0 if (own - known) @ step.normal >= 0 else -1.0
                shift = (moved[before.name] if before else shift) + sign * apart_mm * step.normal
            moved[name] = shift
            if piece.solid is not None:
                corners, faces = mesh_of(piece.solid)
                found.append(Mesh(name, corners + shift, faces))
        return tuple(found)

    def doubt(self, one: Piece, other: Piece) -> str:
        """Why it is not sure how two pieces lie to each other; empty where it is."""
        return next((s.doubt for s in _between(one, other) if s.doubt), "")

    def play_mm(self, one: Piece, other: Piece, at: Real | None = None) -> float:
        """
        How far places of the one can come to be from where they are against the other.

        `at` are the places (n, 3); without them all count of either piece that can be near the other at all.
        """
        bends = (*one.bends, *other.bends)
        if at is not None:
            return self._at(_between(one, other), bends, at, None)
        steps, boxes = _between(one, other), [_box(p.solid) for p in (one, other)]
        found = math.inf
        for k in (0, 1):
            low, high = boxes[k]
            for _ in range(4):
                most = self._at(steps, bends, _corners(low, high), None)
                low, high = np.maximum(low, boxes[1 - k][0] - most), np.minimum(high, boxes[1 - k][1] + most)
                if (low > high).any():
                    return min(found, most)
            found = min(found, self._at(steps, bends, _corners(low, high), None))
        return found

    def plays_mm(self, depth: Depth, one: Piece, other: Piece) -> tuple[float, float]:
        """What play there is against a proof that one is in the other: across its axis, and along it."""
        bends = [one.bends, other.bends]
        if depth.flat is not None:
            side, k = depth.flat
            piece = (one, other)[side]
            if piece.body.made is not None:
                bends[side] = piece.bends_to(frozenset(piece.body.made.pieces[k].bends))
        steps, every = _between(one, other), (*bends[0], *bends[1])
        across = self._at(steps, every, depth.at, None)
        return across, across if depth.axis is None else self._at(steps, every, depth.at, depth.axis)

    def _at(self, steps: Sequence[Step], bends: Sequence[Bent], places: Real, axis: Real | None) -> float:
        """
        The most that places move by all of this; along an axis only what faces that are all parallel let through.
        """
        own = [s for s in steps if s.shift_mm or s.turn]
        parallel = all(abs(float(s.normal @ own[0].normal)) > _PARALLEL and not s.bends for s in own)
        share = 1.0
        if axis is not None and own and parallel:
            share = math.sqrt(max(0.0, 1 - float(own[0].normal @ axis) ** 2)) + math.sqrt(1 - _PARALLEL**2)
        moved = sum(
            (s.shift_mm + s.turn * _farthest(places, s.middle)) * min(share, 1.0) + s.off_mm for s in steps
        )
        return (
            moved
            + sum(b.out_mm(places) for b in (*bends, *(b for s in steps for b in s.bends)))
            + self.off_mm
        )


def _between(one: Piece, other: Piece) -> list[Step]:
    """The connections between two pieces."""
    ways = [{s.name: s for s in p.way} for p in (one, other)]
    return [s for k in (0, 1) for n, s in ways[k].items() if n not in ways[1 - k]]


def _box(solid: Manifold | None) -> tuple[Real, Real]:
    """The least and the greatest corner of the box around a solid."""
    low, high = np.split(box_of(solid), 2) if solid is not None else (np.zeros(3), np.zeros(3))
    return low, high


def _corners(low: Real, high: Real) -> Real:
    return np.array([np.where([k & 1, k & 2, k & 4], high, low) for k in range(8)])


def _farthest(places: Real, middle: Real) -> float:
    return float(np.linalg.norm(places - middle, axis=1).max())


def places_of(cases: Sequence[ConnectionCase]) -> Places:
    """Everything that these connections place, from the part that most of them are of on."""
    found, bodies = Places(), {}
    bolted = [c for c in cases if is_fitted(c)]
    for number, part in sorted({p.part.number: p.part for c in cases for p in c.plies}.items()):
        try:
            bodies[number] = body_of(part)
        except NotRun as reason:
            found.left[number] = str(reason)
            bodies[number] = Body(number)
    first = min(bodies, key=lambda n: (-sum(n in parts_of(c) for c in bolted), n))
    found.pieces[first] = Piece(first, bodies[first], HERE, bodies[first].solid)
    poses, left = _ring_poses(bolted), list(bolted)
    while left:
        case = next((c for c in left if any(p.part.number in found.pieces for p in c.plies)), None)
        if case is None:
            break
        left.remove(case)
        try:
            _lay(found, case, bodies, poses.get(case.connection.name), cases)
        except NotRun as reason:
            found.left[case.connection.name] = str(reason)
    for number in bodies:
        if number not in found.pieces:
            found.left.setdefault(number, f"{number} is bolted to nothing that stands")
    return found


def _lay(
    found: Places,
    case: ConnectionCase,
    bodies: Mapping[str, Body],
    poses: Poses | None,
    cases: Sequence[ConnectionCase],
) -> None:
    """The plies of one connection beside the one that stands. Raises NotRun."""
    name, numbers = case.connection.name, [p.part.number for p in case.plies]
    frames = _frames(case, bodies, poses)
    stand = [k for k, n in enumerate(numbers) if n in found.pieces]
    base = min(stand, key=lambda k: _again(case, numbers[k], cases, found))  # what is bolted there first
    stands = found.pieces[numbers[base]]
    moved = stands.frame.after(frames[base].back)
    names = []
    for k, number in enumerate(numbers):
        frame, known = moved.after(frames[k]), found.pieces.get(number)
        apart = math.inf if known is None else _apart(known, frame)
        if known is not None and apart > _SAME_MM and not _again(case, number, cases, found):
            found.off_mm += apart
            found.left[name] = f"{name} puts {number} {apart:.2f} mm from where other connections put it"
        if known is None or (apart > _SAME_MM and _again(case, number, cases, found)):
            step = _step(case, k, base, frame, bodies)
            step = replace(step, bends=stands.bends_to(_held(case, base, bodies)))
            if poses is not None:  # it stands where the ring closes, not where the pair fits best
                step = replace(step, shift_mm=2 * step.shift_mm, turn=min(2 * step.turn, math.pi))
            held = _held(case, k, bodies)
            names.append(_stand(found, bodies[number], frame, (*stands.way, step), held))
        else:
            names.append(number)
    found.of[name] = tuple(names)


def _stand(found: Places, body: Body, frame: Frame, way: tuple[Step, ...], held: frozenset[int]) -> str:
    """One more piece of a part, by its name."""
    count = sum(p.number == body.number for p in found.pieces.values())
    name = f"{body.number} ({count + 1})" if count else body.number
    solid = None if body.solid is None else placed(body.solid, frame)
    found.pieces[name] = Piece(name, body, frame, solid, way, held)
    return name


def _again(case: ConnectionCase, number: str, cases: Sequence[ConnectionCase], found: Places) -> bool:
    """Whether the same holes of a part are bolted by a connection that was laid before: it is another piece of it."""
    own = labels_of(case, number)
    return any(
        c.connection.name in found.of and c is not case and own & labels_of(c, number)
        for c in cases
        if number in parts_of(c)
    )


def _apart(known: Piece, frame: Frame) -> float:
    """How far two frames put the corners of a body apart, mm."""
    corners = _corners(*_box(known.body.solid))
    return max(float(np.linalg.norm(known.frame.place(p) - frame.place(p))) for p in corners)


def _frames(case: ConnectionCase, bodies: Mapping[str, Body], poses: Poses | None) -> list[Frame]:
    """Every ply's first flange in the coordinates of the last ply's drawing. Raises NotRun."""
    name = case.connection.name
    if not _fits(case):
        raise NotRun(f"{name} does not fit by itself")
    for placed_ply in case.plies:
        if placed_ply.ply.face_up == "edge":
            raise NotRun(f"{placed_ply.part.number} stands on edge in {name}")
    own = poses or case.laid
    if own is None:
        raise NotRun(f"{name} has no position")
    frame, flat = HERE, [HERE]
    layers = list(layers_of((case,)))
    for k in range(len(case.plies) - 2, -1, -1):
        over, under = case.plies[k].part, case.plies[k + 1].part
        layer = layers[k]
        frame = frame.after(laid(own[k + 1].back.after(own[k]), _height_mm(layer, over, under)))
        flat.insert(0, frame)
    return [f.after(_flange(case, k, bodies).back) for k, f in enumerate(flat)]


def _flange(case: ConnectionCase, k: int, bodies: Mapping[str, Body]) -> Frame:
    placed_ply = case.plies[k]
    points = [p for h in bolted_through(case, k) for p in h.core]
    return bodies[placed_ply.part.number].frame_at(points)


def _held(case: ConnectionCase, k: int, bodies: Mapping[str, Body]) -> frozenset[int]:
    """The bends from the first flange of a ply to the one that is bolted."""
    points = [p for h in bolted_through(case, k) for p in h.core]
    return bodies[case.plies[k].part.number].bends_to(points)


def bolted_through(case: ConnectionCase, k: int) -> tuple[Hole, ...]:
    """The holes of a ply that the fit pairs with those of the other, of a stack all that the connection speaks of."""
    fit = case.best_fit if len(case.plies) == _BOTH else None
    if fit is None or not fit.pairs:
        return case.plies[k].all_holes
    labels = {(p.a, p.b)[k] for p in fit.pairs}
    return tuple(h for h in case.plies[k].all_holes if h.label in labels)


def _fits(case: ConnectionCase) -> bool:
    if len(case.plies) > _BOTH:
        try:
            return case.best_stack is not None and case.best_stack.verdict == "GO"
        except BadInput:
            return False
    return case.best_fit is not None and case.best_fit.verdict == "GO"


def _height_mm(layer: Layer, over: Part, under: Part) -> float:
    """How high the drawn face of the upper part is over that of the lower one. Raises NotRun."""
    coats = coat_of(over) + coat_of(under)
    if layer.underneath:
        return -_thick(under) - coats - (_thick(over) if layer.turned_over else 0.0)
    return coats + (0.0 if layer.turned_over else _thick(over))


def _thick(part: Part) -> float:
    return thickness_of(part).nominal - 2 * coat_of(part)


def _step(case: ConnectionCase, k: int, base: int, frame: Frame, bodies: Mapping[str, Body]) -> Step:
    """What this connection leaves the ply `k` of play against the one that stands."""
    holes = bolted_through(case, k)
    x, y = (math.fsum(h.centre[n] for h in holes) / max(len(holes), 1) for n in (0, 1))
    flange = _flange(case, k, bodies)
    middle = frame.after(flange).place(np.array([x, y, 0.0]))
    shift, turn = _stack_play(case) if len(case.plies) > _BOTH else play_of(case)
    normal = frame.after(flange).turn[:, 2]
    doubt = _doubt(case, k, base, bodies)
    return Step(case.connection.name, middle, normal, shift, min(turn, math.pi), _thicker(case), doubt)


def _thicker(case: ConnectionCase) -> float:
    """How much thicker or thinner the plies may be than they are stated, in all."""
    known = [thickness_of(p.part) for p in case.plies if p.part.thickness is not None]
    return math.fsum(t.high - t.nominal for t in known)


def _stack_play(case: ConnectionCase) -> tuple[float, float]:
    """How far, and by what angle, two plies of a stack can be from each other's place, from one pose to another."""
    shift = apart = 0.0
    for fastening in fastenings(case):
        rooms = [
            max((_loose(h, ply, fastening.fastener_mm) for h in ply.holes), default=0.0)
            for ply in fastening.plies
        ]
        shift = max(shift, sum(sorted(rooms)[-_BOTH:]))
        for ply in fastening.plies:
            apart = max([apart, *(math.dist(g.centre, h.centre) for g, h in combinations(ply.holes, 2))])
    return shift, 2 * math.asin(shift / apart) if apart > shift else math.pi


def _loose(hole: Hole, ply: Ply, fastener_mm: float) -> float:
    """How far a bolt can be from the middle of its hole, and the hole out of its place, either way, mm."""
    long = math.dist(hole.core[0], hole.core[-1])
    return max(hole.diameter_mm + ply.shrink_mm - fastener_mm, 0.0) + long + ply.position_mm


def _doubt(case: ConnectionCase, k: int, base: int, bodies: Mapping[str, Body]) -> str:
    """Why it is not sure which way the ply lies; empty where it is, or lies alike either way."""
    if len(case.plies) > _BOTH or case.connection.position is not None:
        return ""
    fit, pose, solid = case.best_fit, case.pose, bodies[case.plies[k].part.number].solid
    if fit is None or pose is None or (fit.ways == 1 and len(fit.assemblies) <= 1):
        return ""
    flange = _flange(case, k, bodies).back
    said = f"{case.plies[k].part.number} can go on in {fit.ways} ways: enter a position in {case.connection.name}"
    if solid is None or fit.ways > len(fit.assemblies):
        return said
    here = placed(solid, laid(pose if k == 0 else pose.back, 0.0).after(flange))
    for way in fit.assemblies:
        there = placed(solid, laid(way.pose if k == 0 else way.pose.back, 0.0).after(flange))
        lost = here.volume() - (here ^ there).volume()
        if lost > _ALIKE * here.volume() or base == k:
            return said
    return ""


def _ring_poses(bolted: Sequence[ConnectionCase]) -> dict[str, Poses]:
    """Of every connection on a ring that closes: its plies' poses there."""
    by: dict[str, list[tuple[str, tuple[str, ...]]]] = {}
    for case in bolted:
        for number in parts_of(case):
            by.setdefault(number, []).append((case.connection.name, tuple(sorted(parts_of(case)))))
    found: dict[str, Poses] = {}
    for names in blocks(by):
        cases = tuple(
            sorted((c for c in bolted if c.connection.name in names), key=lambda c: c.connection.name)
        )
        if is_one_question(cases):
            continue
        try:
            answer = closure(assembly_case(cases))
        except (NotRun, BadInput):
            continue
        if answer.state in ("closes", "closes as drawn"):
            poses = dict(answer.poses)
            found.update({c.connection.name: tuple(poses[p.part.number] for p in c.plies) for c in cases})
    return found
