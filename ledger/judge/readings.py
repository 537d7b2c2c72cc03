"""A reading of a clearance, made from the line that says it."""

from __future__ import annotations

from collections.abc import Callable

from sqlmodel import Session

from ledger.acts.base import Act, make
from ledger.acts.connections import Against, RecordClearance, connection_named
from ledger.domain.connection import Reading
from ledger.domain.errors import BadInput, visible
from ledger.domain.readings import apart_from_warmth
from ledger.judge.verdicts import Judging
from ledger.standards.expansion import heat_between
from ledger.standards.instruments import measured
from ledger.store import facts as read
from ledger.store.instruments import own_instruments


def reading_of(
    judging: Judging, facts: Session, connection: str, name: str, written: str, *, warm: str = ""
) -> RecordClearance:
    """
    A reading of a clearance against the interfaces that its verdict looks at, at 20 °C where it says how
    warm it was.

    Raises BadInput, UnknownName.
    """
    found = read.connection(facts, connection_named(facts, connection))
    plies = judging.bench_of(facts, found).connection_case(found).plies
    line, at = apart_from_warmth(written)
    if at and warm and at != warm:
        raise BadInput(f"the reading says {at} and --at says {visible(warm)}: say once how warm it was")
    heat = heat_between(warm or at, {p.part.number: p.part.material for p in plies})
    reading = measured(line, own=own_instruments(facts), heat=heat)
    against = tuple(
        Against(part=p.part.number, revision=p.part.revision, interface=p.interface) for p in plies
    )
    return make(
        RecordClearance,
        connection=connection,
        name=name,
        value=reading.value,
        uncertainty=reading.uncertainty,
        instrument=reading.instrument,
        day=judging.store.today(facts),
        against=against,
        how=reading.how,
    )


def record_reading(
    facts: Session,
    do: Callable[[Act], int],
    judging: Judging,
    connection: str,
    *,
    name: str,
    written: str,
    warm: str,
) -> Reading:
    """Record a reading of a clearance; as it was recorded. Raises BadInput, UnknownName."""
    do(reading_of(judging, facts, connection, name, written, warm=warm))
    found = read.connection(facts, connection_named(facts, connection))
    reading = next(c.reading for c in found.clearances if c.name == name)
    if reading is None:
        raise BadInput(f"the reading of {visible(name)} was recorded and is not there: verify the job")
    return reading
