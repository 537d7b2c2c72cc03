"""
What is wrong with the entries of a journal, one by one: their signatures, what they were signed over, and the files
that they name. Rows are raw values: nothing that is stored is believed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from sqlalchemy import text
from sqlmodel import Session

from ledger.domain.canonical import sha256
from ledger.domain.errors import NoEntry, visible
from ledger.domain.finding import Finding
from ledger.domain.sealed import Body, Sealed, check_signature, read_row, signed_statement
from ledger.store.chain import Raw
from ledger.store.signers import seen_seal
from ledger.store.spellings import misread

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


def strange_rows(rows: Iterable[Raw]) -> Iterator[Finding]:
    """Rows that the numbers of entries, from 1, do not reach: set aside."""
    for row in rows:
        if row.seq < 1:
            message = f"row {row.seq} is no entry of this job and was set aside: entries are numbered from 1"
            yield Finding("entry_set_aside", message, where=f"entry {row.seq}", severity="warning")


def of_no_job(rows: list[Raw], aside: dict[int, str]) -> Iterator[Finding]:
    """An opening that is gone, or is none any more, takes every entry with it."""
    if rows and len(aside) == len(rows):
        yield Finding(
            "entry_missing", "no entry opens this job: it is missing or was changed", where="entry 1"
        )


def body_of_row(row: Raw) -> Body | None:
    """What a row says; None where it does not read as an entry."""
    try:
        return read_row(Sealed(*row))
    except NoEntry:
        return None


def of_bodies(bodies: Bodies) -> Iterator[Finding]:
    """Does each entry read as one of this job, and does its signature hold, over what stood before it?"""
    job = ""
    nonces: dict[str, int] = {}
    marks = {row.seq: row.hash for row, _ in bodies}
    # A signed entry, and the last one that its signer saw, which is another now.
    unseen: list[tuple[int, int]] = []
    unchanged = 0
    for row, body in bodies:
        where = f"entry {row.seq}"
        if body is None or (job and body.job != job):  # set aside, which following the journal tells
            yield from _signed_and_no_entry(row, job)
            continue
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


def _signed_and_no_entry(row: Raw, job: str) -> Iterator[Finding]:
    """What somebody has signed is no garbage, however it reads: an entry may be gone by it."""
    if not row.signature:
        return
    body, where, signature = body_of_row(row), f"entry {row.seq}", str(row.signature)
    if (
        body
        and body.job != job
        and check_signature(str(body.act.get("key")), signed_statement(body.job, body.act), signature)
    ):
        message = f"entry {row.seq} was signed for another job than this journal opens"
        yield Finding("entry_strange", message, where=where)
        return
    message = (
        f"row {row.seq} carries a signature and is no entry: what was signed was changed, or was made up"
    )
    yield Finding("signature_bad", message, where=where)


def _rewritten(unseen: list[tuple[int, int]], unchanged: int) -> Finding:
    """The first signature that was put under another journal than this one; those behind it are counted."""
    signed, seen = unseen[0]
    first = min(unchanged + 1, seen)
    where = f"entry {seen}" if first == seen else f"entries {first} to {seen}"
    more = f", and so are {len(unseen) - 1} signed later" if len(unseen) > 1 else ""
    message = f"{where}: not what entry {signed} was signed over{more}; the journal before it was replaced"
    return Finding("history_changed", message, where=where, measured=f"entry {signed}")


def kept_files(facts: Session, bodies: Bodies) -> Iterator[Finding]:
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
    elif act["kind"] == "keep_evidence":
        yield act["sha256"], f"the file {act['file_name']} kept with {act['address']}"
    elif act["kind"] == "keep_packet":
        yield act["sha256"], f"the packet of entry {act['lock_seq']}"
