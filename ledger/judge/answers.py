"""
Whether what was just recorded fits, and with how much margin: only what was touched is looked at.

A connection is asked all checks of connections, a dimension those that speak of it, a clearance those of its reading.
Nothing is concluded here that a verdict does not conclude: margins are told where no check stops.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import Final

from ledger.acts.connections import connection_named
from ledger.cases.answers import DoesNotApply, NotRun
from ledger.cases.connections import ConnectionCase
from ledger.cases.parts import PartCase, SurroundedPart
from ledger.cases.regions import IN_ONE_PLANE, edge_coats_mm, gap_as_drawn
from ledger.cases.surroundings import SurroundedConnection
from ledger.checks import all_checks
from ledger.checks._measured_on import measured_mm, off_by, on_points
from ledger.checks._tabs import seated, thickness_mm
from ledger.checks.bolt_length import bolt_needed
from ledger.domain.amounts import MM, unit_of
from ledger.domain.connection import Connection
from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.finding import Finding
from ledger.domain.gate import judge
from ledger.domain.measured_on import LEG
from ledger.domain.plural import counted
from ledger.domain.quantity import plain, show_mm
from ledger.domain.record import Dimension, Part
from ledger.domain.uncertainty import decide
from ledger.domain.verdict import Outcome, Policy, Verdict
from ledger.judge.bench import Bench
from ledger.judge.verdicts import Judging
from ledger.store import facts as read
from ledger.words.answers import BOLT_CODES, Answer

_OF_DIMENSIONS: Final = (
    "assumed_value", "calculated_value", "flat_length", "frozen_dimension", "key_dimension", "measured_dimension",
    "point_distance", "calibration",
)  # fmt: skip
_OF_READINGS: Final = ("measured_clearance", "measured_against", "reading_calibration")
_OF_OTHERS: Final = frozenset({"partner_open"})  # true of every connection until it is locked
_MOST_CONNECTIONS: Final = 12  # of a part at once
_NOT_YET: Final = "not known yet"

Found = tuple[bool | None, str]  # whether it fits, None where no check has measured it, and the words for it


def of_touched(judging: Judging, part: str, connection: str, name: str, *, bolts: bool) -> tuple[Answer, ...]:
    """
    Of a `part` its connections, or with a `name` that key dimension; of a `connection` itself, with a `name` that
    clearance, with `bolts` its bolts. Raises UnknownName.
    """
    with judging.store.reading() as facts, judging.kept():
        if part:
            bench = judging.bench(facts, (part,), kept=True)
            return (of_dimension(bench, part, name),) if name else of_part(bench, part)
        found = read.connection(facts, connection_named(facts, connection))
        bench = judging.bench_of(facts, found, kept=True)
        if name:
            return (of_clearance(bench, found, name),)
        return (of_bolts(bench, found) if bolts else of_connection(bench, found),)


def of_connection(bench: Bench, connection: Connection) -> Answer:
    """Whether a connection goes together as it is now."""
    found = _judged(bench.connection_outcomes(connection), bench.policy.raised)
    case = bench.connection_case(connection)
    return _answer(
        connection.name,
        found,
        against="does not fit",
        fits=lambda: _fits(bench.surrounded(connection), found),
        undrawn=_undrawn(case),
    )


def of_bolts(bench: Bench, connection: Connection) -> Answer:
    """Whether the bolts of a connection are long enough, and what the stack needs."""
    found = _judged(bench.connection_outcomes(connection), bench.policy.raised)
    about = f"bolts of {connection.name}"
    stops, warnings = (tuple(f for f in fs if f.code in BOLT_CODES) for fs in (found.stops, found.warnings))
    kept = replace(found, stops=stops, warnings=warnings)
    return _answer(about, kept, against="do not fit", fits=lambda: _bolts(bench.connection_case(connection)))


def of_clearance(bench: Bench, connection: Connection, name: str) -> Answer:
    """Whether the newest reading of a clearance proves it. Raises UnknownName."""
    only = tuple(c for c in connection.clearances if c.name == name)
    if not only:
        raise UnknownName(f"clearance of {connection.name}", name, [c.name for c in connection.clearances])
    (clearance,) = only
    case = bench.connection_case(connection)
    alone = ConnectionCase(replace(connection, clearances=only), case.plies, case.odds)
    rules = (c for c in all_checks() if c.name in _OF_READINGS)
    found = _judged((rule.run(alone, connection.name) for rule in rules), bench.policy.raised)
    reading = clearance.reading
    if reading is None:
        return Answer(name, None, f"required {clearance.required.written}, not measured yet", _told(found))

    def proven() -> Found:
        required = clearance.required
        decision = decide(reading.value.mm, required.least_mm, required.most_mm, reading.uncertainty.mm)
        left = plain(decision.room - reading.uncertainty.mm)
        shown = f"{reading.value.written} ±{reading.uncertainty.written}"
        return True, f"proven: {shown}, required {required.written}; margin {left} mm"

    return _answer(name, found, against="not proven", fits=proven)


def of_dimension(bench: Bench, number: str, name: str) -> Answer:
    """Whether a key dimension keeps its limits, on the drawing and as measured. Raises UnknownName."""
    case, _ = bench.cases(number)
    only = tuple(d for d in case.part.dimensions if d.name == name)
    if not only:
        raise UnknownName(f"dimension of {number}", name, [d.name for d in case.part.dimensions])
    alone = replace(case, part=replace(case.part, dimensions=only))
    surrounded = SurroundedPart(alone, together=bench.together)
    rules = [c for c in all_checks() if c.name in _OF_DIMENSIONS]
    outcomes = [rule.run(alone if rule.on is PartCase else surrounded, number) for rule in rules]
    ran = frozenset(o.check for o in outcomes if o.state == "ran")
    mine = (replace(o, findings=tuple(f for f in o.findings if _speaks_of(f, name))) for o in outcomes)
    found = _judged(mine, bench.policy.raised)
    return _answer(name, found, against="does not hold", fits=lambda: _drawn(alone.part, only[0], ran))


def of_part(bench: Bench, number: str) -> tuple[Answer, ...]:
    """The connections of a part, in each of which every cut part has a drawing; of many how many are left out."""
    _, cases = bench.cases(number)
    known = [c.connection for c in cases if not _undrawn(c)]
    found = tuple(of_connection(bench.as_judged(c), c) for c in known[:_MOST_CONNECTIONS])
    left = len(known) - len(found)
    more = f"{counted(left, 'more connection')} not looked at: fitup verdict {number}"
    return (*found, Answer(number, None, more)) if left else found


def _judged(outcomes: Iterable[Outcome], raised: tuple[str, ...]) -> Verdict:
    """The findings of these checks, those that only follow from others marked."""
    return judge(
        part="", revision="", subject="", outcomes=tuple(outcomes), signatures=(), permits=(),
        policy=Policy(roles=(), raised=raised),
    )  # fmt: skip


def _told(found: Verdict) -> tuple[Finding, ...]:
    both = (*found.stops, *found.warnings)
    return tuple(f for f in both if not f.follows and f.code not in _OF_OTHERS and f.code != "no_checks")


def _answer(
    about: str, found: Verdict, *, against: str, fits: Callable[[], Found], undrawn: tuple[str, ...] = ()
) -> Answer:
    """`against` is what is said where something stops; `fits` tells what is known else, and is asked only then."""
    told = _told(found)
    stops = [f for f in told if f.severity == "stop"]
    if undrawn:
        missing = f"{' and '.join(undrawn)} {'has' if len(undrawn) == 1 else 'have'} no drawing"
        return Answer(about, None, f"{_NOT_YET}, {missing}", told)
    unrun = [f for f in stops if f.code == "not_run"]
    if stops and len(unrun) == len(stops):
        why = unrun[0].message.partition(": ")[2]
        return Answer(about, None, f"{_NOT_YET}: {why}", told)
    if stops:
        first = sorted(told, key=lambda f: f.severity != "stop" or f.code == "not_run")
        return Answer(about, fits=False, words=against, findings=tuple(first))
    try:
        good, words = fits()
        return Answer(about, good, words, told)
    except (NotRun, DoesNotApply, BadInput) as why:
        return Answer(about, None, f"{_NOT_YET}: {why}" if str(why) else _NOT_YET, told)


def _undrawn(case: ConnectionCase) -> tuple[str, ...]:
    """The parts of a connection that are cut and have no drawing."""
    return tuple(
        dict.fromkeys(p.part.number for p in case.plies if p.part.form == "cut" and not p.part.taken)
    )


def _speaks_of(finding: Finding, name: str) -> bool:
    return finding.where == name or finding.where.startswith(f"{name} from ")


def _fits(seen: SurroundedConnection, found: Verdict) -> Found:
    """The margin of a connection in which nothing stops."""
    case = seen.case
    kind = case.connection.kind
    told = next((f for f in found.notes if f.code in ("fits", "fits_together")), None)
    odds = next((f for f in found.warnings if f.code == "odds"), None)
    if told is not None:
        return True, f"fits; margin {told.measured} nominal, {told.limit}"
    if odds is not None:
        return True, f"fits in at least {odds.measured} of lots ({odds.limit} required)"
    if kind in IN_ONE_PLANE:
        return _gap(seen)
    if kind == "tab and slot":
        return _tabs(case)
    return None, "nothing stands against it; no check measures a margin here"


def _gap(seen: SurroundedConnection) -> Found:
    case, expected = seen.case, seen.case.connection.gap
    gap = gap_as_drawn(seen)
    room = gap.distance_mm - edge_coats_mm(case)
    if not math.isfinite(room):
        raise NotRun("the gap on the drawing is not a number")
    if expected is None:
        return None, f"{show_mm(room)} apart as drawn; no gap is required"
    sides = [room - float(b) if k == 0 else float(b) - room
             for k, b in enumerate((expected.least_mm, expected.most_mm)) if b is not None]  # fmt: skip
    return True, f"fits; {show_mm(room)} as drawn, required {expected.written}; margin {show_mm(min(sides))}"


def _tabs(case: ConnectionCase) -> Found:
    fit = seated(case)
    if isinstance(fit, str):
        raise NotRun(f"{fit} was recognized")
    room = min(s.slot.width_mm for s in fit.seated) - thickness_mm(case.plies[0])
    return True, f"fits; {show_mm(room)} beside the sheet, {show_mm(fit.spare_mm)} along the tabs"


def _bolts(case: ConnectionCase) -> Found:
    needed = bolt_needed(case)
    if needed is None:
        raise NotRun("a thickness or a table for the stack is missing")
    least = show_mm(needed, 2)
    length = case.connection.bolt_length
    if length is None:
        return None, f"at least {least} long; no length entered"
    margin = show_mm(float(length.mm) - needed, 2)
    return True, f"long enough: {length}, the stack needs {least}; margin {margin}"


def _drawn(part: Part, dimension: Dimension, ran: frozenset[str]) -> Found:
    """
    What the drawing has of a dimension, how far inside its limits that is, and how well it was measured.

    `ran` are the checks that have looked at it: what none of them has compared with the drawing does not hold yet.
    """
    measured_on = dimension.measured_on
    sure = "".join(_proof(dimension))
    if measured_on is None:
        known = True if sure else None
        return known, sure or "recorded; not measured on the drawing (--on says what it is there)"
    points, leg = on_points(part, measured_on), measured_on.kind == LEG
    if (by := "point_distance" if points else "flat_length" if leg else "key_dimension") not in ran:
        raise NotRun(f"{by.replace('_', ' ')} was not checked")
    if points or leg:
        return True, sure or f"holds; measured on {dimension.measured_on}"
    values = measured_mm(part, measured_on) or ()
    if not values:
        raise NotRun(f"{dimension.measured_on} is not on the drawing")
    worst = max(values, key=lambda v: abs(off_by(dimension, v)))
    unit = unit_of(dimension.nominal)
    shown = show_mm(worst) if unit == MM else f"{worst:.3f} {unit}"
    left = min(_sides(dimension, off_by(dimension, worst)), default=None)
    margin = "" if left is None else f"; margin {left:.3f} {unit}"
    limits = f" {dimension.limits.written}" if dimension.limits else ""
    proof = f"; {sure}" if sure else ""
    return True, f"holds; drawn {shown}, required {dimension.nominal}{limits}{margin}{proof}"


def _sides(dimension: Dimension, off: float) -> Iterator[float]:
    """How far inside each limit a deviation is."""
    if dimension.limits and dimension.limits.lower_mm is not None:
        yield off - float(dimension.limits.lower_mm)
    if dimension.limits and dimension.limits.upper_mm is not None:
        yield float(dimension.limits.upper_mm) - off


def _proof(dimension: Dimension) -> Iterator[str]:
    doubt, room = dimension.uncertainty, list(_sides(dimension, 0.0))
    if doubt is not None and room:
        yield f"known to ±{doubt.written}, which its limits allow"
