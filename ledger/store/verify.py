"""
Verifying a job: is the journal intact, are the signatures good, are the facts what the acts add up to?

Each problem is a finding that names the entry, table, row, guard or kept file, and since which entry it is wrong, as
far as the journal can tell. Nothing that is stored is believed: it is read as raw values, whatever they are.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from sqlalchemy.exc import DBAPIError
from sqlmodel import Session

from ledger.domain.finding import Finding
from ledger.store.chain import broken_links, raw_rows
from ledger.store.entry_findings import body_of_row, kept_files, of_bodies, of_no_job, strange_rows
from ledger.store.fact_findings import replayed, unless_lost
from ledger.store.guards import damage, guard_findings, wrong_tables
from ledger.store.replay import Apply, schema_digest, seal_of
from ledger.store.tables import Permanent, StampFact


def problems(facts: Session, apply: Apply) -> Iterator[Finding]:
    """Everything that does not hold together. An unbroken job gives nothing."""
    yield from damage(facts.connection())
    yield from guard_findings(facts.connection())
    if wrong_tables(facts.connection(), Permanent.metadata.tables):
        return
    rows = list(raw_rows(facts))
    yield from strange_rows(rows)
    rows = [row for row in rows if row.seq > 0]
    broken = list(broken_links(rows))
    aside: dict[int, str] = {}
    followed = list(replayed(facts, apply, rows, aside)) if rows and not broken else []
    # What was set aside says nothing of this job: neither a signature of it nor a file that it names is looked at.
    bodies = [(row, None if row.seq in aside else body_of_row(row)) for row in rows]
    if not broken:
        yield from of_no_job(rows, aside)
    odd = list(of_bodies(bodies))
    yield from (*broken, *odd)
    yield from kept_files(facts, bodies)
    told = {place for f in odd for place in (f.where, f.measured)}
    yield from (f for f in followed if f.code != "entry_not_allowed" or f.where not in told)
    last = max((row.seq for row in rows if row.seq not in aside), default=0)
    yield from _stamp(facts, {(row.seq, row.hash) for row in rows if row.seq >= last})


def _stamp(facts: Session, here: set[tuple[int, str]]) -> Iterator[Finding]:
    """Where the facts stand: `here` are the last entry and the rows behind it, which were set aside."""
    seq, seal = seal_of(facts)
    try:
        with facts.begin_nested():
            stamp = facts.get(StampFact, 1)
    except DBAPIError as fault:
        unless_lost(fault)
        return  # its table has another shape, which was said
    reads = stamp is not None and type(stamp.seq) is int and re.fullmatch(r"[0-9.]+", str(stamp.writer))
    if stamp is None or not reads:
        after = "missing" if stamp is None else "nothing that a program wrote"
        yield Finding("bad_stamp", f"the entry that the facts are at is {after}", where="fact_stamp")
    elif stamp.seq > seq:
        message = f"the journal ends at entry {seq}, but entry {stamp.seq} was here once: its tail was cut"
        yield Finding("tail_cut", message, where=f"entry {seq + 1}")
    elif (stamp.seq, stamp.seal) not in {*here, (seq, seal)}:
        message = f"the facts are not at the last entry of the journal, {seq}, but at {stamp.seq}"
        yield Finding("bad_stamp", message, where="fact_stamp")
    elif stamp.schema_digest != schema_digest():
        message = f"the facts were laid out by another version of the program ({stamp.writer})"
        yield Finding("bad_stamp", message, where="fact_stamp", severity="note")
