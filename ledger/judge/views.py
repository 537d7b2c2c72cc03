"""What a screen shows of a connection: worked out afresh from the facts, never kept."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ledger.acts.connections import connection_named
from ledger.cases.answers import DoesNotApply, NotRun
from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.cases.regions import placed_regions
from ledger.cases.surroundings import SurroundedConnection
from ledger.domain.connection import Connection
from ledger.domain.drawing import Drawing
from ledger.domain.finding import Finding
from ledger.domain.gate import judge
from ledger.domain.plates import Ply, plies_drawing
from ledger.domain.pose import Pose
from ledger.domain.record import Part, Standing
from ledger.domain.shape import Contour, Hole, Point, Profile
from ledger.domain.verdict import Policy
from ledger.fit.case import Fit
from ledger.judge.bench import Bench
from ledger.judge.verdicts import Judging
from ledger.store import facts as read

_BOTH = 2


@dataclass(frozen=True, slots=True)
class ConnectionView:
    """
    A connection to look at: its plies at the revisions that count, and why (`standings`), the pose of the first on the
    second, fit, findings.

    `drawing` shows every ply, all in the coordinates of the last. `laid` is whether it is known how they lie,
    `in_the_way` where there are holes of three and more plies that do not go together.
    `ruled` is what the one rule says of the holes, with the `odds` where they decided.
    """

    connection: Connection
    plies: tuple[PlacedPly, ...]
    standings: tuple[Standing, ...]
    drawing: Drawing
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

    def moves_of(self, number: str) -> dict[str, Point]:
        """The holes of one part that are off, each with the move in mm, in that part's directions, that fixes it."""
        if self.fit is None:
            return {}
        off = [w for w in self.fit.wrong if w.kind == "offset"]
        if number == self.plies[0].part.number:
            return {w.a: w.move_a_mm for w in off}
        return {w.b: w.move_b_mm for w in off} if number == self.plies[1].part.number else {}


def view_of(judging: Judging, name: str) -> ConnectionView:
    """A connection with its fit, its placed outlines and what its checks find. Raises UnknownName."""
    with judging.store.reading() as facts, judging.kept():
        found = read.connection(facts, connection_named(facts, name))
        return connection_view(judging.bench_of(facts, found, kept=True), found)


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
        connection, case.plies, standings, connection_drawing(bench.surrounded(connection)), case.pose, case.best_fit,
        findings, laid, _in_the_way(case),
        ruling.verdict if ruling else "", ruling.headline if ruling else "",
    )  # fmt: skip


def connection_drawing(seen: SurroundedConnection) -> Drawing:
    """
    The plies of a connection as they lie on the last; where the connection has no place for them, as they are drawn.

    Holes of the first that do not fit are marked, with the move that would bring each onto its counterpart.
    """
    case = seen.case
    return plies_drawing(
        _placed_plies(seen),
        title=case.connection.name,
        wrong=_moves(case),
        too_small=[w.a for w in case.best_fit.wrong if w.kind != "offset"] if case.best_fit else (),
        notes=(f"upper: {case.plies[0].part.number}; lower, long dashes: {case.plies[-1].part.number}",),
    )


def _moves(case: ConnectionCase) -> dict[str, Point | None]:
    """The wrong holes of the first ply, each with its move in the last ply's directions where one is known."""
    moves: dict[str, Point | None] = {label: None for ply, label in sorted(case.wrong) if ply == 0}
    fit = case.best_fit
    if fit and fit.pose and len(case.plies) == _BOTH:
        moves |= {w.a: fit.pose.turn(w.move_a_mm) for w in fit.wrong}
    return moves


def _laid(case: ConnectionCase) -> tuple[Pose, ...] | None:
    """Where every ply lies, in the coordinates of the last; None where that is not known."""
    laid = case.laid
    return None if laid is None else tuple(laid[-1].back.after(pose) for pose in laid)


def _in_the_way(case: ConnectionCase) -> tuple[Point, ...]:
    """Of a stack, the middles of the wrong holes where they lie."""
    laid = _laid(case) if len(case.plies) > _BOTH else None
    holes = [(ply, case.plies[ply].part.hole(label)) for ply, label in sorted(case.wrong)] if laid else []
    return tuple(laid[ply].place(hole.centre) for ply, hole in holes if laid and hole)


def _placed_plies(seen: SurroundedConnection) -> tuple[Ply, ...]:
    """Every ply where it lies; one that goes through edge-on is shown as its section, without labels."""
    case = seen.case
    if len(case.plies) == _BOTH:
        try:
            regions = placed_regions(seen)
        except (DoesNotApply, NotRun):
            pass
        else:
            return tuple(Ply((region.outline, *region.cutouts)) for region in regions)
    laid = _laid(case) or (case.pose or Pose(), *(Pose(),) * (len(case.plies) - 1))
    return tuple(
        Ply(
            tuple(pose.place_contour(ring) for ring in _rings(placed.part)),
            tuple(_moved(hole, pose) for hole in placed.part.holes),
        )
        for placed, pose in zip(case.plies, laid, strict=True)
    )


def _moved(hole: Hole, pose: Pose) -> Hole:
    return replace(hole, core=tuple(pose.place(p) for p in hole.core))


def _rings(part: Part) -> tuple[Contour, ...]:
    drawn = part.profile
    own = (*drawn.outlines, *drawn.openings) if drawn else ()
    return (*own, *(h.contour() for h in part.holes))
