"""
A connection is checked only on parts that are there and stay as they are.

A ply's *interface* is what the connection reads of its part. A part that is still open can change after the other is
cut, unless it goes out in the same set, is locked, or its interface was frozen for this connection.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.cases.surroundings import CountedConnection
from ledger.checks._frame import check
from ledger.domain.finding import Finding
from ledger.domain.record import UNSIGNED, Standing


@check(
    on=CountedConnection,
    source="common practice: mating parts are released together or against a frozen interface",
    codes=("group_unknown", "group_incomplete", "no_holes", "partner_open", "interface_changed"),
    severity="stop",
)
def plies_known(seen: CountedConnection) -> Iterator[Finding]:
    """
    Every ply has the holes that the connection speaks of, and its interface will still be the same when the parts meet.

    Two parts that fit today and are cut from different days' drawings are the commonest way not to fit.
    """
    case = seen.case
    frozen = dict(case.connection.frozen_interfaces)
    for placed, standing in zip(case.plies, seen.standings, strict=True):
        yield from _holes_of(case, placed)
        yield from _changed(case, placed, frozen.get(placed.part.number))
        yield from _open(seen, placed, standing)


def _holes_of(case: ConnectionCase, placed: PlacedPly) -> Iterator[Finding]:
    part, name = placed.part, placed.ply.group
    group = part.group(name) if name else None
    where = f"{case.connection.name}/{part.number}"
    if name and group is None:
        message = f"{part.number} has no hole group {name}"
        yield _stop("group_unknown", message, where, "name the group, or choose another one")
        return
    gone = [label for label in group.labels if part.hole(label) is None] if group else []
    if gone:
        message = f"group {name} of {part.number} has lost {', '.join(gone)}"
        yield _stop(
            "group_incomplete", message, where, "put the holes back, or enter the group again without them"
        )
    if case.connection.kind == "bolted" and not placed.holes:
        message = f"{part.number} has no holes for the bolts of {case.connection.name}"
        yield _stop("no_holes", message, where, "take its drawing, or record its holes")


def _changed(case: ConnectionCase, placed: PlacedPly, frozen: str | None) -> Iterator[Finding]:
    number, where = placed.part.number, f"{case.connection.name}/{placed.part.number}"
    if frozen is not None and frozen != placed.interface:
        message = f"the interface of {number} was frozen for {case.connection.name} and has changed since"
        yield _stop("interface_changed", message, where, "put it back, or freeze the interface again")


def _open(seen: CountedConnection, placed: PlacedPly, standing: Standing) -> Iterator[Finding]:
    connection, number = seen.case.connection, placed.part.number
    kept = standing == "frozen" and number in dict(connection.frozen_interfaces)
    if number == seen.viewed_from or kept or standing in ("in the set", "locked"):
        return
    revision = f"{number} revision {placed.part.revision}"
    if standing == "lock unsigned":
        message = f"{revision} {UNSIGNED}"
        fix = f"see fitup verify; then lock a new revision of {number} together with this part"
    else:
        message = f"{revision} is open and may change"
        fix = f"lock {number} together with this part, or freeze its interface for {connection.name}"
    yield _stop("partner_open", message, f"{connection.name}/{number}", fix)


def _stop(code: str, message: str, where: str, fix: str) -> Finding:
    return Finding(code, message, severity="stop", where=where, fix=fix)
