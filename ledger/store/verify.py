"""
Verifying a shop: is the journal whole, are the signatures good, are the facts what the acts add up to?

Each problem is a finding that names the entry, table or blob.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from sqlalchemy import text
from sqlmodel import Session, create_engine, select

from ledger.domain.canonical import canonical, sha256
from ledger.domain.finding import Finding
from ledger.store.journal import TRIGGERS, Apply, dump_facts, head_of, sealed_rows
from ledger.store.sealed import START, Sealed, check_signature, row_hash, signed_statement
from ledger.store.signers import counts
from ledger.store.tables import BlobRow, Fact, LockFact, PacketFact, ProfileFact, StampFact

_SIGNED = ("sign_off", "permit", "lock", "change_key")


def problems(facts: Session, apply: Apply) -> Iterator[Finding]:
    """Everything that does not hold together. An unbroken shop gives nothing."""
    yield from _triggers(facts)
    broken = list(_chain(facts))
    yield from broken
    yield from _blobs(facts)
    if not broken:
        yield from _replayed(facts, apply)
    stamp = facts.get(StampFact, 1)
    if stamp is None or (stamp.seq, stamp.head) != head_of(facts):
        yield Finding("bad_stamp", "the facts do not stand at the journal's last entry", where="fact_stamp")


def _triggers(facts: Session) -> Iterator[Finding]:
    rows = facts.connection().execute(text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"))
    have = {name: " ".join(sql.split()) for name, sql in rows}
    for name, sql in TRIGGERS.items():
        if have.get(name) != " ".join(sql.split()):
            yield Finding("trigger_gone", f"the guard {name} is missing or was changed", where=name)
    for name in have.keys() - TRIGGERS.keys():
        yield Finding("trigger_strange", f"a trigger {name} that this program never made", where=name)


def _chain(facts: Session) -> Iterator[Finding]:
    previous, seq, shop = START, 0, ""
    nonces: set[str] = set()
    for row in sealed_rows(facts):
        seq += 1
        where = f"entry {row.seq}"
        if row.seq != seq:
            yield Finding("entry_missing", f"entry {seq} is missing", where=f"entry {seq}")
            seq = row.seq
        if row.previous != previous or not _hash_holds(row):
            yield Finding(
                "entry_changed",
                f"entry {row.seq} is not what was written, or not behind what was",
                where=where,
            )
        previous = row.hash
        body = _body(row)
        if body is None or body.get("seq") != row.seq or (shop and body.get("shop") != shop):
            yield Finding(
                "entry_unreadable", f"entry {row.seq} does not read as an entry of this shop", where=where
            )
            continue
        shop = shop or str(body["shop"])
        yield from _signature(row, body, nonces)


def _hash_holds(row: Sealed) -> bool:
    """Whether the row's hash is that of what it says; what is not even bytes or hex does not hold."""
    try:
        return row.hash == row_hash(row.previous, row.body, row.signature)
    except (TypeError, ValueError):
        return False


def _body(row: Sealed) -> dict[str, Any] | None:
    try:
        body: dict[str, Any] = json.loads(row.body)
        return body if canonical(body) == row.body and isinstance(body["act"], dict) else None
    except (ValueError, TypeError, KeyError):
        return None


def _signature(row: Sealed, body: dict[str, Any], nonces: set[str]) -> Iterator[Finding]:
    act, where = body["act"], f"entry {row.seq}"
    if act.get("kind") not in _SIGNED:
        return
    if not check_signature(str(act.get("key")), signed_statement(str(body["shop"]), act), row.signature):
        yield Finding("signature_bad", f"the signature of entry {row.seq} does not hold", where=where)
    if act.get("nonce") in nonces:
        yield Finding("signature_replayed", f"entry {row.seq} uses a signature a second time", where=where)
    nonces.add(str(act.get("nonce")))


def _blobs(facts: Session) -> Iterator[Finding]:
    have = set()
    # What was written over them may be text that does not decode, so the bytes are asked for as they lie there.
    kept = text("SELECT sha256, CAST(data AS BLOB), typeof(data) = 'blob' FROM blob")
    for digest, data, as_bytes in facts.connection().execute(kept):
        have.add(digest)
        if not as_bytes or sha256(data) != digest:
            yield Finding("blob_changed", f"kept bytes {digest[:12]} were changed", where=digest)
    for digest, what in _named(facts).items():
        if digest not in have:
            yield Finding("blob_missing", f"{what} are missing", where=digest)


def _named(facts: Session) -> dict[str, str]:
    """Every kept blob that the facts name, by digest, and what it is."""
    named: dict[str, str] = {}
    for taken in facts.exec(select(ProfileFact)):
        for digest in (taken.dxf, taken.geometry_blob):
            named.setdefault(digest, f"the bytes of {taken.number} {taken.revision}")
    for lock in facts.exec(select(LockFact)):
        name = f"{lock.number} {lock.revision}"
        named.setdefault(lock.verdict, f"the bytes of the locked verdict of {name}")
        if lock.record:
            named.setdefault(lock.record, f"the bytes of the shop record of {name}")
    for packet in facts.exec(select(PacketFact)):
        named.setdefault(packet.sha256, f"the bytes of the packet of entry {packet.lock_seq}")
        for file, digest in json.loads(packet.contents).items():
            named.setdefault(digest, f"the bytes of {file} in the packet of entry {packet.lock_seq}")
    return named


def _replayed(facts: Session, apply: Apply) -> Iterator[Finding]:
    """The journal followed into an empty database gives the same facts, and every signer was enrolled with that key."""
    engine = create_engine("sqlite://")
    Fact.metadata.create_all(engine)
    BlobRow.metadata.create_all(engine)
    with Session(engine) as scratch:
        for row in sealed_rows(facts):
            act = json.loads(row.body)["act"]
            if act["kind"] in _SIGNED and not counts(scratch, act["key"], act["person"], row.seq):
                yield Finding(
                    "signer_unknown",
                    f"entry {row.seq} was signed with a key nobody had",
                    where=f"entry {row.seq}",
                )
            try:
                apply(scratch, row)
            except Exception as fault:  # noqa: BLE001 - whatever a forged entry does to replay is the finding
                yield Finding(
                    "entry_strange", f"entry {row.seq} cannot be followed: {fault}", where=f"entry {row.seq}"
                )
                return
        meant, found = dump_facts(scratch), dump_facts(facts)
    engine.dispose()
    for table, rows in meant.items():
        for odd in sorted(set(rows) ^ set(found[table])):
            yield Finding("fact_changed", f"{table} does not follow from the journal: {odd}", where=table)
