"""
Join pieces end to end into rings, and say where that fails.

Ends meet at nodes (`nodes`). A connected set of pieces whose every node has two ends is a ring. One with a lone
end is open, one with three ends at a point branches: neither is guessed at, both stop. Pieces without length are
dropped and told; a piece that lies on another one, or on the rim of a closed one, is cut twice and stops.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ledger.domain.finding import Finding
from ledger.domain.plural import counted
from ledger.domain.shape import Point
from ledger.profile.nodes import GAP_MM, SNAP_MM, Nodes
from ledger.profile.overlaps import overlaps
from ledger.profile.piece import Piece, apart, at
from ledger.profile.ring import Ring, ring_of_piece, ring_of_run
from ledger.profile.twins import without_covered, without_twins

_SHORT_MM = 5 * GAP_MM
_FEW_FORKS = 4


@dataclass(frozen=True, slots=True)
class Contours:
    """Rings, the pieces that made none, what was found on the way; how many contours have a lead-in."""

    rings: tuple[Ring, ...]
    broken: tuple[Piece, ...]
    findings: tuple[Finding, ...]
    led_in: int = 0


def join(pieces: Sequence[Piece], empty: Sequence[str]) -> Contours:
    """Rings out of the pieces to cut. `empty` names entities already known to have no length."""
    kept = [p for p in pieces if p.length_mm > SNAP_MM]
    findings = list(_dropped([*empty, *(p.where for p in pieces if p.length_mm <= SNAP_MM)]))
    for sorted_out in (without_twins, without_covered):
        kept, doubled = sorted_out(kept)
        findings.extend(doubled)
    rings = [ring_of_piece(p) for p in kept if p.closed]
    web = _Web([p for p in kept if not p.closed])
    rings.extend(web.rings)
    findings.extend(web.findings())
    rings.sort(key=lambda ring: (ring.contour.vertices, ring.kinds))
    findings.extend(overlaps(web.broken))
    return Contours(tuple(rings), tuple(web.broken), tuple(findings), web.led_in)


class _Web:
    """Open pieces and their nodes. End 2k is the start of piece k, end 2k + 1 its end."""

    def __init__(self, pieces: list[Piece]) -> None:
        self.pieces = pieces
        short = [end for k, p in enumerate(pieces) if p.length_mm < _SHORT_MM for end in (2 * k, 2 * k + 1)]
        self.nodes = Nodes([p for piece in pieces for p in (piece.start, piece.end)], short=short)
        self.rings: list[Ring] = []
        self.broken: list[Piece] = []
        self.open_runs: list[list[int]] = []
        self.forks: list[int] = []
        self.led_in = 0
        for group in self._groups():
            self._sort_out(group)

    def findings(self) -> Iterator[Finding]:
        """Gaps, open contours and branches."""
        yield from _gaps(self.nodes.gaps)
        for group in self.open_runs:
            yield self._open(group)
        if len(self.forks) > _FEW_FORKS:
            yield self._many_forks()
            return
        for node in self.forks:
            yield Finding(
                "branch",
                f"{len(self.nodes.ends[node])} ends meet at {at(self.nodes.point[node])}: which way is cut?",
                where=self._first_at(node),
                fix="delete the loose line there, or put what is not cut on a MARK or BEND layer",
            )

    def _many_forks(self) -> Finding:
        """One stop for a drawing that branches everywhere: a list of them helps nobody."""
        places = sorted(at(self.nodes.point[node]) for node in self.forks)
        return Finding(
            "branch",
            f"lines branch at {len(places)} places, first at {places[0]}: which way is cut?",
            where=min(self._first_at(node) for node in self.forks),
            fix="leave only the contours of the part; put what is not cut on a MARK or BEND layer",
            measured=str(len(places)),
        )

    def _groups(self) -> Iterator[list[int]]:
        """Pieces that hang together, by number."""
        seen: set[int] = set()
        for first in range(len(self.pieces)):
            if first in seen:
                continue
            seen.add(first)
            group, todo = [], [first]
            while todo:
                k = todo.pop()
                group.append(k)
                for end in (2 * k, 2 * k + 1):
                    for other in self.nodes.ends[self.nodes.node[end]]:
                        if other // 2 not in seen:
                            seen.add(other // 2)
                            todo.append(other // 2)
            yield group

    def _sort_out(self, group: list[int]) -> None:
        nodes = {self.nodes.node[end] for k in group for end in (2 * k, 2 * k + 1)}
        sizes = {n: len(self.nodes.ends[n]) for n in nodes}
        if all(size == 2 for size in sizes.values()):  # noqa: PLR2004 - one comes in, one goes out
            self.rings.append(self._ring(group[0]))
            return
        self.broken.extend(self.pieces[k] for k in group)
        self.forks.extend(n for n, size in sizes.items() if _is_fork(size))
        lone, forks = (sum(1 for size in sizes.values() if fits(size)) for fits in (_is_lone, _is_fork))
        self.led_in += forks == 1 and lone in (1, 2)
        if lone:
            self.open_runs.append(group)

    def _ring(self, first: int) -> Ring:
        run: list[tuple[Piece, bool, Point]] = []
        end = 2 * first
        while True:
            node = self.nodes.node[end]
            run.append((self.pieces[end // 2], bool(end % 2), self.nodes.point[node]))
            across = end ^ 1
            here, there = self.nodes.ends[self.nodes.node[across]]
            end = there if here == across else here
            if end // 2 == first:
                return ring_of_run(run)

    def _open(self, group: list[int]) -> Finding:
        tips = [end for k in group for end in (2 * k, 2 * k + 1)]
        lone = sorted({self.nodes.point[n] for n in map(self.nodes.node.__getitem__, tips) if self._lone(n)})
        first = min((self.pieces[k] for k in group), key=lambda p: (p.start, p.end))
        if len(lone) == 2:  # noqa: PLR2004 - the usual case, two loose ends
            gap = apart(*lone)
            entities = counted(len(group), "entity", "entities")
            what = f"a contour of {entities} is open: from {at(lone[0])} to {at(lone[1])}, {gap:.3f} mm"
        else:
            gap = 0.0
            entities = counted(len(group), "entity is", "entities are")
            ends = counted(len(lone), "loose end")
            what = f"{entities} connected with {ends}, the first at {at(lone[0])}"
        return Finding(
            "open_contour",
            what,
            where=first.where,
            fix="close the gap in the drawing, or put what is not cut on a MARK or BEND layer",
            measured=f"{gap:.3f} mm" if gap else "",
        )

    def _lone(self, node: int) -> bool:
        return len(self.nodes.ends[node]) == 1

    def _first_at(self, node: int) -> str:
        return min(self.pieces[end // 2].where for end in self.nodes.ends[node])


def _is_lone(ends: int) -> bool:
    return ends == 1


def _is_fork(ends: int) -> bool:
    return ends > 2  # noqa: PLR2004 - one comes in, one goes out


def _dropped(names: Sequence[str]) -> Iterator[Finding]:
    if names:
        yield Finding(
            "zero_length",
            f"{counted(len(names), 'entity of zero length was', 'entities of zero length were')} left out",
            severity="note",
            where=min(names),
            fix="nothing to do; a clean copy leaves them out",
        )


def _gaps(gaps: Sequence[tuple[float, Point]]) -> Iterator[Finding]:
    if gaps:
        widest, place = max(gaps)
        yield Finding(
            "gap_closed",
            f"{counted(len(gaps), 'gap was', 'gaps were')} closed, the widest {widest:.4f} mm at {at(place)}",
            severity="note",
            where=at(place),
            fix="nothing to do; a clean copy has them closed",
            measured=f"{widest:.4f} mm",
        )
