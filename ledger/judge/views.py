"""What a screen shows of a connection: worked out afresh from the facts, never kept."""

from __future__ import annotations

from dataclasses import dataclass

from ledger.cases.answers import DoesNotApply, NotRun
from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.cases.regions import placed_regions
from ledger.cases.surroundings import SurroundedConnection
from ledger.domain.connection import Connection
from ledger.domain.finding import Finding
from ledger.domain.gate import Policy, judge
from ledger.domain.pose import Pose
from ledger.domain.record import Part, Standing
from ledger.domain.shape import Contour, Point, Profile
from ledger.fit.case import Fit
from ledger.judge.bench import Bench

_BOTH = 2


@dataclass(frozen=True, slots=True)
class ConnectionView:
    """
    A connection to look at: its plies at the revisions that count, and why (`standings`), the pose of the first on the
    second, fit, findings.

    `rings` are the outlines, openings and holes of every ply, all in the coordinates of one of them. `laid` is whether
    it is known how they lie, `in_the_way` where there are holes of three and more plies that do not go together.
    `ruled` is what the one rule says of the holes, with the `odds` where they decided.
    """

    connection: Connection
    plies: tuple[PlacedPly, ...]
    standings: tuple[Standing, ...]
    rings: tuple[tuple[Contour, ...], ...]
    pose: Pose | None
    fit: Fit | None
    findings: tuple[Finding, ...]
    laid: bool
    in_the_way: tuple[Point, ...]
    ruled: str = ""
    odds: str = ""

    @property
    def profiles(self) -> tuple[Profile | None, ...]:
        """What each ply's drawing says, in its own coordinates."""
        return tuple(p.part.profile for p in self.plies)


def connection_view(bench: Bench, connection: Connection) -> ConnectionView:
    """The connection with its fit, its placed outlines and what its checks find."""
    case = bench.connection_case(connection)
    outcomes = tuple(bench.connection_outcomes(connection))
    verdict = judge(
        part=connection.name,
        revision="",
        subject="",
        outcomes=outcomes,
        signatures=(),
        permits=(),
        policy=Policy(roles=(), raised=bench.policy.raised),
    )
    findings = (*verdict.stops, *verdict.warnings, *verdict.notes)
    laid = case.laid is not None
    ruling = case.ruling
    standings = tuple(bench.counting(ply.part, connection)[1] for ply in connection.plies)
    return ConnectionView(
        connection, case.plies, standings, _placed_rings(bench.surrounded(connection)), case.pose, case.best_fit,
        findings, laid, _in_the_way(case),
        ruling.verdict if ruling else "", ruling.headline if ruling else "",
    )  # fmt: skip


def _in_the_way(case: ConnectionCase) -> tuple[Point, ...]:
    """Of a stack, the middles of the wrong holes where they lie."""
    laid = case.laid if len(case.plies) > _BOTH else None
    holes = [(ply, case.plies[ply].part.hole(label)) for ply, label in sorted(case.wrong)] if laid else []
    return tuple(laid[ply].place(hole.centre) for ply, hole in holes if laid and hole)


def _placed_rings(seen: SurroundedConnection) -> tuple[tuple[Contour, ...], ...]:
    """Where the connection has no place for them, the plies are laid as drawn."""
    case = seen.case
    if len(case.plies) > _BOTH:
        laid = case.laid or (Pose(),) * len(case.plies)
        return tuple(
            tuple(pose.place_contour(ring) for ring in _rings(placed.part))
            for placed, pose in zip(case.plies, laid, strict=True)
        )
    try:
        first, second = placed_regions(seen)
    except (DoesNotApply, NotRun):
        a, b = (_rings(placed.part) for placed in case.plies)
        pose = case.pose or Pose()
        return tuple(pose.place_contour(ring) for ring in a), b
    return (first.outline, *first.cutouts), (second.outline, *second.cutouts)


def _rings(part: Part) -> tuple[Contour, ...]:
    drawn = part.profile
    own = (*drawn.outlines, *drawn.openings) if drawn else ()
    return (*own, *(h.contour() for h in part.holes))
