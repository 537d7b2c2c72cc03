"""
Verifying a job: is the journal intact, are the signatures good, are the facts what the acts add up to?

Each problem is a finding that names the entry, table, row, guard or kept file, and since which entry it is wrong, as
far as the journal can tell. Nothing that is stored is believed: it is read as raw values, whatever they are.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator
from typing import Any

from sqlalchemy import Connection, Engine, event, text
from sqlalchemy.exc import DBAPIError
from sqlmodel import Session

from ledger.domain.canonical import sha256
from ledger.domain.errors import NewerProgram, NoEntry, visible
from ledger.domain.finding import Finding
from ledger.domain.sealed import Body, Sealed, check_signature, read_row, signed_statement
from ledger.store.chain import Raw, broken_links, raw_rows
from ledger.store.entries import entries
from ledger.store.guards import damage, guard_findings, named, wrong_tables
from ledger.store.replay import Apply, BrokenOff, Stopped, followed, schema_digest, seal_of
from ledger.store.rows import TOLD, key_of
from ledger.store.scratch import in_memory, scratch
from ledger.store.signers import seen_seal
from ledger.store.spellings import misread
from ledger.store.tables import FACTS, Fact, JournalRow, Permanent, StampFact

_SIGNED = (
    "sign_revision",
    "permit",
    "withdraw_permit",
    "lock",
    "change_key",
    "enroll_person",
    "change_roles",
    "set_policy",
)
Bodies = list[tuple[Raw, Body | None]]  # each row with its body; None where it does not read as one
Touched = dict[tuple[str, str], int]  # by table and key: the last entry that wrote the row


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
    replayed = list(_replayed(facts, apply, rows, aside)) if rows and not broken else []
    # What was set aside says nothing of this job: neither a signature of it nor a file that it names is looked at.
    bodies = [(row, None if row.seq in aside else _body(row)) for row in rows]
    if not broken:
        yield from _of_no_job(rows, aside)
    odd = list(_bodies(bodies))
    yield from (*broken, *odd)
    yield from _kept_files(facts, bodies)
    told = {place for f in odd for place in (f.where, f.measured)}
    yield from (f for f in replayed if f.code != "entry_not_allowed" or f.where not in told)
    last = max((row.seq for row in rows if row.seq not in aside), default=0)
    yield from _stamp(facts, {(row.seq, row.hash) for row in rows if row.seq >= last})


def _of_no_job(rows: list[Raw], aside: dict[int, str]) -> Iterator[Finding]:
    """
    An opening that is gone takes every entry with it, and one that was replaced leaves them as those of another job:
    what somebody has signed for another job is no garbage.
    """
    if rows and len(aside) == len(rows):
        yield Finding(
            "entry_missing", "no entry opens this job: it is missing or was changed", where="entry 1"
        )
        return
    job = next((body.job for row in rows if row.seq not in aside and (body := _body(row))), "")
    for row in rows:
        body = _body(row) if row.seq in aside and row.signature else None
        if body is None or body.job == job:
            continue
        if check_signature(
            str(body.act.get("key")), signed_statement(body.job, body.act), str(row.signature)
        ):
            message = f"entry {row.seq} was signed for another job than this journal opens"
            yield Finding("entry_strange", message, where=f"entry {row.seq}")


def _bodies(bodies: Bodies) -> Iterator[Finding]:
    """Does each entry read as one of this job, and does its signature hold, over what stood before it?"""
    job = ""
    nonces: dict[str, int] = {}
    marks = {row.seq: row.hash for row, _ in bodies}
    # A signed entry, and the last one that its signer saw, which is another now.
    unseen: list[tuple[int, int]] = []
    unchanged = 0
    for row, body in bodies:
        where = f"entry {row.seq}"
        if body is None or (job and body.job != job):
            continue  # set aside, which following the journal tells
        job = job or body.job
        act = body.act
        for written, stands, reads in misread(act):
            message = f"entry {row.seq}: {visible(written)!r} stands for {stands}, and reads as {reads}"
            yield Finding("value_changed", message, where=where)
        if act["kind"] not in _SIGNED:
            continue
        if not check_signature(str(act.get("key")), signed_statement(body.job, act), str(row.signature)):
            yield Finding("signature_bad", f"the signature of entry {row.seq} does not hold", where=where)
            continue
        first = nonces.setdefault(str(act.get("nonce")), row.seq)
        if first != row.seq:
            yield Finding(
                "signature_replayed",
                f"entry {row.seq} uses the signature of entry {first} again",
                where=where,
            )
            continue
        if body.by != act.get("person"):
            message = f"entry {row.seq} is written as by {visible(body.by)}, who has not signed it"
            yield Finding("entry_strange", message, where=where)
        seq, seal = seen_seal(act)
        if seq < row.seq and marks.get(seq) == seal:
            unchanged = seq
        else:
            unseen.append((row.seq, seq))
    if unseen:
        yield _rewritten(unseen, unchanged)


def _rewritten(unseen: list[tuple[int, int]], unchanged: int) -> Finding:
    """The first signature that was put under another journal than this one; those behind it are counted."""
    signed, seen = unseen[0]
    first = min(unchanged + 1, seen)
    where = f"entry {seen}" if first == seen else f"entries {first} to {seen}"
    more = f", and so are {len(unseen) - 1} signed later" if len(unseen) > 1 else ""
    message = f"{where}: not what entry {signed} was signed over{more}; the journal before it was replaced"
    return Finding("history_changed", message, where=where, measured=f"entry {signed}")


def _body(row: Raw) -> Body | None:
    try:
        return read_row(Sealed(*row))
    except NoEntry:
        return None


def _kept_files(facts: Session, bodies: Bodies) -> Iterator[Finding]:
    have = set()
    # What was written over them may be text that does not decode, so the bytes are asked for as they lie there.
    kept = "SELECT sha256, CAST(data AS BLOB), typeof(data) = 'blob' FROM main.kept_file"
    if facts.get_bind().dialect.name != "sqlite":
        kept = "SELECT sha256, data, true FROM fitup.kept_file"
    named = _named(bodies)
    for digest, data, as_bytes in facts.connection().execute(text(kept)):
        have.add(digest)
        what, entry = named.get(digest, ("bytes that no entry names", 0))
        if not as_bytes or sha256(data) != digest:
            since = f"; they were kept by entry {entry}" if entry else ""
            yield Finding(
                "kept_file_changed", f"{what} ({str(digest)[:12]}) were changed{since}", where=str(digest)
            )
        elif not entry:
            yield Finding("kept_file_strange", f"the job keeps {what}", where=str(digest), severity="note")
    for digest, (what, entry) in named.items():
        if digest not in have:
            yield Finding(
                "kept_file_missing", f"{what} are missing; they were kept by entry {entry}", where=digest
            )


def _named(bodies: Bodies) -> dict[str, tuple[str, int]]:
    """Every kept file that the entries name, by digest: what it is and the entry that named it first."""
    named: dict[str, tuple[str, int]] = {}
    for row, body in bodies:
        for digest, what in _named_by(body.act) if body else ():
            named.setdefault(digest, (what, row.seq))
    return named


def _named_by(act: dict[str, Any]) -> list[tuple[str, str]]:
    try:
        return [(str(digest), what) for digest, what in _kept_by(act)]
    except (KeyError, TypeError, AttributeError):
        return []  # no act of this program: following it fails, and that is told


def _kept_by(act: dict[str, Any]) -> Iterator[tuple[str, str]]:
    if act["kind"] == "take_profile":
        yield act["dxf"], f"the drawing {act['file_name']} of {act['number']}"
        yield act["geometry_file"], f"the geometry of {act['file_name']} of {act['number']}"
    elif act["kind"] == "lock":
        for p in act["parts"]:
            yield p["verdict"], f"the locked verdict of {p['number']} {p['revision']}"
            if p["record"]:
                yield p["record"], f"the job record of {p['number']} {p['revision']}"
        yield from ((digest, f"the bytes of {name} in a packet") for name, digest in act["contents"].items())
    elif act["kind"] == "keep_packet":
        yield act["sha256"], f"the packet of entry {act['lock_seq']}"


def _replayed(facts: Session, apply: Apply, rows: list[Raw], aside: dict[int, str]) -> Iterator[Finding]:
    """
    The journal followed into an empty database gives the same facts, and every entry was allowed where it stands.

    The rows that are no entries of it are put into `aside`, by number, with why.
    """
    touched: Touched = {}
    job = facts.connection(bind_arguments={"mapper": JournalRow})
    with scratch() as memory:
        binds: dict[Any, Engine | Connection] = {Permanent: job, Fact: memory}
        with Session(binds=binds, join_transaction_mode="rollback_only", info=in_memory(memory)) as then:

            def touch(*put: Any) -> None:
                for row in put:
                    touched[str(row.__tablename__), json.dumps(key_of(row))] = entries(then).next or 0

            then.info[TOLD] = touch
            event.listen(then, "after_flush", lambda s, _context: touch(*s.new, *s.dirty, *s.deleted))
            try:
                stopped = followed(then, apply, (Sealed(*row) for row in rows), aside=aside.__setitem__)
            except NewerProgram as newer:
                seq = entries(then).next or 0
                message = f"from entry {seq} on nothing could be verified: {newer}"
                yield Finding("newer_program", message, where=f"entry {seq}")
                return
            except BrokenOff as fault:
                stopped = fault.stopped
                yield _not_allowed(stopped)
                return
            for seq, why in aside.items():
                message = f"row {seq} is no entry of this job and was set aside: {why}"
                yield Finding("entry_set_aside", message, where=f"entry {seq}", severity="warning")
            if stopped:
                yield _not_allowed(stopped)
            if stopped is None:  # else the tables say more than counts, which has its cause already
                yield from compared(facts, then, touched)


def _not_allowed(stopped: Stopped) -> Finding:
    return Finding("entry_not_allowed", stopped.message, where=f"entry {stopped.seq}")


def strange_rows(rows: Iterable[Raw]) -> Iterator[Finding]:
    """Rows that the numbers of entries, from 1, do not reach: set aside."""
    for row in rows:
        if row.seq < 1:
            message = f"row {row.seq} is no entry of this job and was set aside: entries are numbered from 1"
            yield Finding("entry_set_aside", message, where=f"entry {row.seq}", severity="warning")


def compared(
    facts: Session, followed: Session, touched: Touched, tables: Iterable[type[Fact]] = FACTS
) -> Iterator[Finding]:
    """Row by row: what the tables hold against what the acts add up to."""
    for table in tables:
        name, keys = str(table.__tablename__), [c.name for c in table.__table__.primary_key.columns]  # type: ignore[attr-defined]  # SQLModel hides its table
        try:
            with facts.begin_nested():
                found = _stored(facts, table, keys)
        except (DBAPIError, ValueError, TypeError) as fault:
            _unless_lost(fault)
            yield Finding("fact_changed", f"{name} cannot be read", where=name)
            continue
        meant = _stored(followed, table, keys)
        for key in sorted(found.keys() | meant.keys()):
            if not _same(found.get(key), meant.get(key)):
                yield _odd(name, key, found.get(key), meant.get(key), touched.get((name, key), 0))


def _unless_lost(fault: Exception) -> None:
    """A connection that was lost says nothing of the job: raise what came up then."""
    if isinstance(fault, DBAPIError) and fault.connection_invalidated:
        raise fault


def _stored(facts: Session, table: type[Fact], keys: list[str]) -> dict[str, dict[str, Any]]:
    """Every row of a table by its key, with the values as they are stored and not as a library would read them."""
    connection = facts.connection(bind_arguments={"mapper": table})
    columns = [c.name for c in table.__table__.columns]  # type: ignore[attr-defined]  # SQLModel hides its table
    listed = ", ".join(f't."{c}"' for c in columns)  # with t, a column that is missing is not read as a text
    query = f"SELECT {listed} FROM {named(connection, str(table.__tablename__))} t"  # noqa: S608 - our own names
    rows = (dict(zip(columns, map(_plain, row), strict=True)) for row in connection.execute(text(query)))
    return {json.dumps([row[k] for k in keys], default=repr): row for row in rows}


def _plain(value: Any) -> Any:
    return (
        int(value) if isinstance(value, bool) else value
    )  # a server has a kind for yes and no, a file has 1 and 0


def _same(one: dict[str, Any] | None, other: dict[str, Any] | None) -> bool:
    if one is None or other is None:
        return one is other
    return all(type(one[c]) is type(other[c]) and one[c] == other[c] for c in other)


def _odd(
    table: str, key: str, found: dict[str, Any] | None, meant: dict[str, Any] | None, since: int
) -> Finding:
    named = ", ".join(str(k) for k in json.loads(key))
    if found is None:
        what = "is gone from the table"
    elif meant is None:
        what = "was put in; no entry says so"
    else:
        odd = [c for c in meant if not _same({c: found[c]}, {c: meant[c]})]
        what = "; ".join(f"{c} reads {found[c]!r}, the entries say {meant[c]!r}" for c in odd)
    behind = f" (changed after entry {since})" if since else ""
    return Finding("fact_changed", f"{table}: the row {named} {what}{behind}", where=f"{table} {named}")


def _stamp(facts: Session, here: set[tuple[int, str]]) -> Iterator[Finding]:
    """Where the facts stand: `here` are the last entry and the rows behind it, which were set aside."""
    seq, seal = seal_of(facts)
    try:
        with facts.begin_nested():
            stamp = facts.get(StampFact, 1)
    except DBAPIError as fault:
        _unless_lost(fault)
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
