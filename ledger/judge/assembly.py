"""Everything that is bolted together, for reading: ring by ring, what closes, by how much and what would close it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import cast

import numpy as np
from sqlmodel import Session

from ledger.assembly.closure import Closure, Share, closure, shares
from ledger.assembly.solids import Mesh
from ledger.assembly.stack_up import Spread
from ledger.cases.across import ALONG, Along, Spot, across, place_of
from ledger.cases.answers import NotRun
from ledger.cases.assembly import assembly_case, is_one_question
from ledger.cases.build import MOST_PARTS, Build
from ledger.cases.connections import ConnectionCase
from ledger.cases.in_space import across_bends, is_bent
from ledger.cases.surroundings import AssembledPart
from ledger.checks.assembly_closes import assembly_closes
from ledger.domain.errors import BadInput, visible
from ledger.domain.finding import Finding
from ledger.judge.bench import Bench
from ledger.judge.verdicts import Judging
from ledger.store import facts as read

_EXPLODED = 0.3  # of the size of what hangs together, from piece to piece
_BESIDE = 0.2


@dataclass(frozen=True, slots=True)
class RingView:
    """
    A ring: its parts with their revisions, its connections, what the check tells of it, and the closure it rests on.

    `shares` are the margins of its connections by themselves and in the whole. Where it was `not_run`, it says why and
    there is no closure.
    """

    parts: tuple[tuple[str, str], ...]
    connections: tuple[str, ...]
    findings: tuple[Finding, ...] = ()
    closure: Closure | None = None
    shares: tuple[Share, ...] = ()
    not_run: str = ""

    @property
    def closes(self) -> bool:
        """Whether nothing of it stops a release."""
        return not self.not_run and all(f.severity != "stop" for f in self.findings)


def rings(judging: Judging) -> tuple[RingView, ...]:
    """Every ring of bolted parts, as it goes together with the open revisions where there are any."""
    with judging.store.reading() as facts, judging.kept():
        return tuple(rings_of_job(judging.bench(facts, _open(facts), kept=True, whole=True)))


@dataclass(frozen=True, slots=True)
class BuildView:
    """
    What hangs together by bolts: its pieces, the order in which its connections can be tightened, and what is left.

    `stuck` are connections that no order reaches, `left` says of parts and connections why they do not stand;
    `collisions` are pieces that are in each other, with how deep.
    """

    pieces: tuple[str, ...]
    order: tuple[str, ...]
    stuck: tuple[str, ...]
    left: tuple[str, ...]
    collisions: tuple[tuple[str, str, float], ...]


def builds(judging: Judging) -> tuple[BuildView, ...]:
    """Everything that hangs together by bolts, three parts and more, with the open revisions where there are any."""
    with judging.store.reading() as facts:
        return tuple(_build_view(b) for b in _builds(judging, facts) if b.is_more_than_pairs)


def meshes(judging: Judging, *, exploded: bool) -> tuple[Mesh, ...]:
    """All bodies of the job as faces, what hangs together beside what does not; `exploded` from piece to piece."""
    found: list[Mesh] = []
    with judging.store.reading() as facts:
        for build in _builds(judging, facts):
            here = build.places.meshes()
            if not here:
                continue
            every = np.vstack([m.corners for m in here])
            size = float(np.linalg.norm(np.ptp(every, axis=0)))
            here = _upright(build, build.places.meshes(_EXPLODED * size) if exploded else here)
            beside = (
                max((float(m.corners[:, 0].max()) for m in found), default=-_BESIDE * size) + _BESIDE * size
            )
            shift = np.array([beside - min(float(m.corners[:, 0].min()) for m in here), 0.0, 0.0])
            found += [Mesh(m.name, m.corners + shift, m.faces) for m in here]
    return tuple(found)


def _upright(build: Build, here: tuple[Mesh, ...]) -> tuple[Mesh, ...]:
    """The same as it stands on the structure that is there: what is bolted to it lies level, the rest is above."""
    sites = {p.part.number for c in build.connections for p in c.plies if p.part.form == "site"}
    on_site = (c for c in build.connections if any(p.part.number in sites for p in c.plies))
    names = sorted({n for c in on_site for n in build.places.of.get(c.connection.name, ()) if n not in sites})
    if not names:
        return here
    turn = build.places.pieces[names[0]].frame.turn
    heights = {m.name: float((m.corners @ turn)[:, 2].mean()) for m in here}
    if sum(heights.values()) / len(heights) < heights.get(names[0], -math.inf):
        turn = turn @ np.diag([1.0, -1.0, -1.0])
    return tuple(Mesh(m.name, m.corners @ turn, m.faces) for m in here)


def _builds(judging: Judging, facts: Session) -> Iterator[Build]:
    """What hangs together, each once; of as many parts as can be looked at."""
    bench, seen = judging.bench(facts, _open(facts), kept=False, whole=True), set[int]()
    for line in read.part_lines(facts):
        build = bench.build(line.number)
        if build.connections and id(build) not in seen and len(build.parts) <= MOST_PARTS:
            seen.add(id(build))
            yield build


def _build_view(build: Build) -> BuildView:
    order = build.order
    deep = tuple((m.one.name, m.other.name, m.deep_mm) for m in build.meetings if m.collides)
    left = tuple(why for _, why in sorted(build.places.left.items()))
    return BuildView(tuple(build.places.pieces), order.names, order.stuck, left, deep)


def across_open_parts(judging: Judging, start: str, end: str, along: str) -> Spread:
    """A dimension from a place of one part to one of another, with the open revisions. Raises BadInput, UnknownName."""
    with judging.store.reading() as facts:
        return dimension_across(judging.bench(facts, _open(facts)), start, end, along)


def _open(facts: Session) -> list[str]:
    return [line.number for line in read.part_lines(facts) if not line.locked]


def rings_of_job(bench: Bench) -> Iterator[RingView]:
    """Every ring of bolted connections in the job; those of the same parts or bolts alone are none."""
    for names in sorted(bench.records.rings, key=sorted):
        cases = bench.ring(names)
        if not is_one_question(cases):
            yield _view(cases)


def _view(cases: tuple[ConnectionCase, ...]) -> RingView:
    parts = tuple(sorted({(p.part.number, p.part.revision) for c in cases for p in c.plies}))
    names = tuple(c.connection.name for c in cases)
    outcome = assembly_closes.run(AssembledPart(parts[0][0], (cases,)), parts[0][0])
    if outcome.state != "ran":
        return RingView(parts, names, not_run=outcome.reason)
    try:
        case = assembly_case(cases)
        found = closure(case)
    except (NotRun, BadInput) as fault:  # told by the check as well
        return RingView(parts, names, outcome.findings, not_run=str(fault))
    return RingView(parts, names, outcome.findings, found, shares(case, found))


def dimension_across(bench: Bench, start: str, end: str, along: str) -> Spread:
    """
    From a place of one part to a place of another (`BASE:S1`): along x or y of the first part's drawing, z, or
    straight.

    Raises BadInput where there is no way between, or it cannot be worked out, UnknownName.
    """
    if along and along not in ALONG:
        raise BadInput(
            f"read {visible(along)!r} as a direction; expected x, y or z, or none for the straight distance"
        )
    one, other = Spot.read(start), Spot.read(end)
    if one.part == other.part:
        raise BadInput(f"both places are in {one.part}: record a dimension of it, with --on 'distance H1 H2'")
    parts = tuple(bench.part(bench.records.newest(spot.part)) for spot in (one, other))
    legs, way = bench.way(one.part, other.part), cast("Along", along)
    try:
        begun, ended = (
            (part, place_of(part, spot)[0]) for part, spot in zip(parts, (one, other), strict=True)
        )
        if is_bent(legs, begun, ended):
            return across_bends(legs, one, other, way, (parts[0], parts[1]))
        return across(bench.rings_on(legs), one, other, way, (parts[0], parts[1]))
    except NotRun as reason:
        raise BadInput(f"this dimension cannot be worked out: {reason}") from reason
