"""
What the papers of a part say, gathered from the facts: the issue of a sheet, the job record, a picture.

Nothing is judged here: verdicts are given, signatures and permits are read from their entries.
"""

from __future__ import annotations

import io
import json
from zipfile import ZipFile

from sqlmodel import Session

from ledger.acts.base import newest_part
from ledger.acts.vouching import Vouching
from ledger.domain.connection import Connection
from ledger.domain.drawing import Drawing
from ledger.domain.errors import BadInput, Tampered, UnknownName, Unreadable, visible
from ledger.domain.gate import roles_held
from ledger.domain.plates import part_drawing
from ledger.domain.record import UNSIGNED, Part
from ledger.domain.sealed import Body, read_body
from ledger.domain.short_key import short_key
from ledger.domain.verdict import Policy, Verdict
from ledger.judge.bench import Bench
from ledger.judge.lock_proof import LockProofs
from ledger.judge.views import connection_drawing
from ledger.packet.inspect import inspect
from ledger.packet.names import part_stem
from ledger.papers import pictures
from ledger.papers.record_sheet import Permitted, Record, Signature
from ledger.papers.title_block import Issue
from ledger.store import facts as read
from ledger.store.replay import seal_of
from ledger.store.tables import (
    ConnectionFact,
    JobFact,
    JournalRow,
    LockFact,
    PacketFact,
    PartFact,
    PermitFact,
    SignatureFact,
)

_NOBODY = "not signed"


def issue(facts: Session, verdict: Verdict, policy: Policy, *, day: str = "", seal: str = "") -> Issue:
    """Who answers for a sheet of this verdict. Without `day` it is a preview."""
    held = roles_held(verdict.signed, policy)
    alone = any(s.self_check for s in verdict.signed)
    creator = held.get("drawn", _NOBODY)
    role = "approved" if "approved" in held else "checked"
    person = held.get(role)
    said = "self-checked" if alone and role == "checked" else role
    approval = f"{person}, {said}" if person else _NOBODY
    return Issue(
        _job(facts).firm, verdict.subject, creator, approval, day, seal, root=short_key(_job(facts).root)
    )


def record(facts: Session, part: Part, verdict: Verdict, vouching: Vouching, *, day: str, by: str) -> Record:
    """What the record of a revision says that this person is about to lock: to be asked for before the lock's entry."""
    seq, seal = seal_of(facts)
    return Record(
        owner=_job(facts).firm,
        part=part,
        verdict=verdict,
        locked_on=day,
        locked_by=by,
        entry=seq + 1,
        seal=f"{seq}:{seal}",
        connections=tuple(read.connections_of(facts, part.number)),
        signatures=signatures(facts, verdict, vouching),
        permits=permits(facts, verdict, vouching),
        root=short_key(_job(facts).root),
    )


def kept_lock(facts: Session, number: str, revision: str = "") -> LockFact:
    """
    The lock of a revision, the newest one unless named.

    Raises UnknownName; Tampered where it does not prove itself.
    """
    proofs = LockProofs(facts, Vouching(facts))
    signed = [k for k in proofs.locks if k.number == number and revision in ("", k.revision)]
    found = signed or [k for k in read.rows(facts, LockFact, number=number) if revision in ("", k.revision)]
    if not found:
        known = [f"{k.number} {k.revision}" for k in read.rows(facts, LockFact)]
        raise UnknownName("locked revision", f"{number} {revision}".strip(), known)
    newest = max(found, key=lambda k: k.seq)
    locks = proofs.locks_of(number, newest.revision)
    for why in [why for k in locks for why in proofs.faults(k.seq, number)] if locks else [UNSIGNED]:
        raise Tampered(
            f"{visible(number)} revision {newest.revision} {why}: nothing of it is handed out; see fitup verify"
        )
    return newest


def kept_packet(facts: Session, lock: LockFact) -> tuple[str, bytes]:
    """The packet that a lock made, its name and its bytes. Raises Tampered where the kept file is not that one."""
    kept, row = facts.get_one(PacketFact, lock.seq), facts.get_one(JournalRow, lock.seq)
    data = read.kept_file(facts, kept.sha256)
    try:
        same = inspect(data).seal == f"{row.seq}:{row.hash}"
    except Unreadable:
        same = False
    if not same:
        raise Tampered(
            f"the kept packet of entry {lock.seq} is not the one locked: it is not handed out; see fitup verify"
        )
    return kept.file_name, data


def kept_record(facts: Session, number: str, revision: str) -> bytes:
    """
    The record that was kept with a lock (the newest one unless named), byte for byte. Raises UnknownName, Tampered,
    BadInput where the lock kept none.
    """
    lock = kept_lock(facts, number, revision)
    if not lock.record:
        raise BadInput(
            f"the lock of {visible(number)} {lock.revision} kept no record: an older program made it"
        )
    return read.kept_file(facts, lock.record)


def kept_sheet(facts: Session, part: Part) -> bytes:
    """The sheet of a locked revision as it lies in its packet. Raises BadInput where that has none, Tampered."""
    _name, kept = kept_packet(facts, kept_lock(facts, part.number, part.revision))
    name = f"sheets/{part_stem(part)}.pdf"
    with ZipFile(io.BytesIO(kept)) as packet:
        if name not in packet.namelist():
            raise BadInput(
                f"{visible(part.number)} {part.revision} is locked without a sheet: it has no drawing"
            )
        return packet.read(name)


def picture(facts: Session, bench: Bench, name: str, kind: str = "svg") -> bytes:
    """
    A part's profile, or the plies of a connection as they go together, as svg or png. Raises UnknownName, BadInput.
    """
    return pictures.picture(drawing(facts, bench, name), kind)


def drawing(facts: Session, bench: Bench, name: str) -> Drawing:
    """What a picture shows of a part or of a connection. Raises UnknownName, BadInput."""
    if read.rows(facts, PartFact, number=name):
        part = bench.part(newest_part(facts, name))
        if part.profile is None and not part.holes:
            raise BadInput(f"{visible(name)} has no drawing to show; take a drawing, or enter its holes")
        return part_drawing(part)
    row = facts.get(ConnectionFact, name)
    if row is None:
        known = [
            *(p.number for p in read.rows(facts, PartFact)),
            *(m.name for m in read.rows(facts, ConnectionFact)),
        ]
        raise UnknownName("part or connection", name, tuple(dict.fromkeys(known)))
    return overlay(bench, read.connection(facts, row))


def overlay(bench: Bench, connection: Connection) -> Drawing:
    """
    What a picture of a connection shows: its plies as they lie on the last, at the revisions that are judged. A part
    without a drawing is shown by its holes. Raises BadInput.
    """
    judged = bench.as_judged(connection)
    case = judged.connection_case(connection)
    without = ", ".join(
        visible(p.part.number) for p in case.plies if p.part.profile is None and not p.part.holes
    )
    if without:
        raise BadInput(f"{visible(connection.name)} cannot be drawn: no drawing and no holes of {without}")
    if case.laid is None:
        raise BadInput(
            f"the plies of {visible(connection.name)} have no position: enter it, or record its bolts"
        )
    return connection_drawing(judged.surrounded(connection))


def _job(facts: Session) -> JobFact:
    return read.rows(facts, JobFact)[0]


def _entry(facts: Session, seq: int) -> Body:
    return read_body(facts.get_one(JournalRow, seq).body)


def signatures(facts: Session, verdict: Verdict, vouching: Vouching) -> tuple[Signature, ...]:
    """The signatures for exactly what was judged, with what they were meant to say."""
    rows = read.rows(
        facts, SignatureFact, number=verdict.part, revision=verdict.revision, subject=verdict.subject
    )
    return tuple(_signature(row, _entry(facts, row.seq)) for row in filter(vouching.of, rows))


def permits(facts: Session, verdict: Verdict, vouching: Vouching) -> tuple[Permitted, ...]:
    """What was accepted in writing for this revision."""
    rows = read.rows(facts, PermitFact, number=verdict.part, revision=verdict.revision)
    return tuple(
        Permitted(
            p.code,
            p.place,
            p.reason,
            p.until,
            p.person,
            _entry(facts, p.seq).at,
            p.up_to,
            tuple(f"{number} {revision}" for number, revision in json.loads(p.parts)),
            vouching.withdrawn(p.seq),
        )
        for p in filter(vouching.of, rows)
    )


def _signature(row: SignatureFact, entry: Body) -> Signature:
    return Signature(row.person, row.role, entry.at, entry.act["meaning"], row.seq, row.self_check)
