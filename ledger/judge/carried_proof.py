"""
What a packet carries so that its lock can be proven without any job: the entries that the lock rests on.

They are one of the files that the lock names, so whoever locked has signed for them: the job's opening, the policy
then, everybody's enrollment and keys, the signatures on what was locked, the taking of its drawings, and the verdicts
kept with it. Read again, they are laid into a journal of their own, for the same proof as in the job.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import asdict
from typing import Any

from sqlmodel import Session

from ledger.acts.replay import counted
from ledger.acts.vouching import ABOUT_PEOPLE, Vouching
from ledger.domain.canonical import canonical, sha256
from ledger.domain.errors import FitupError
from ledger.domain.finding import Finding
from ledger.domain.sealed import Sealed, read_body, read_row, row_hash
from ledger.domain.verdict import Verdict
from ledger.judge.lock_proof import LockProofs
from ledger.packet.build import PROOF
from ledger.store.scratch import journal_of
from ledger.store.signers import seen_seal
from ledger.store.tables import JournalRow, KeptFileRow

FORMAT = 1
_ABOUT_KEYS = ("open_job", "enroll_person", "change_key", "change_roles")
_CARRIED = {*ABOUT_PEOPLE, "sign_revision", "take_profile"}


def carried_proof(proofs: LockProofs, verdicts: Iterable[Verdict], seq: int) -> bytes:
    """What a lock that is to be entry `seq` rests on, for these verdicts."""
    verdicts = tuple(verdicts)
    told = (*proofs.before("open_job", seq), *proofs.before("set_policy", seq)[-1:])
    rows = {row.seq: row for row, _, _ in (*told, *counted(proofs.facts, _ABOUT_KEYS))}
    for v in verdicts:
        rows |= {row.seq: row for row, _, _ in proofs.signatures(v.part, v.revision, v.subject, seq)}
        drawing = proofs.drawing(v.part, seq)
        rows |= {drawing[0].seq: drawing[0]} if drawing else {}
    entries = [{**asdict(rows[n]), "body": rows[n].body.decode("utf-8")} for n in sorted(rows)]
    kept = [canonical(v.to_json()).decode("utf-8") for v in verdicts]
    return canonical({"format": FORMAT, "entries": entries, "verdicts": kept})


def proof_problems(lock: Sealed, files: dict[str, bytes]) -> Iterator[Finding]:
    """Why a packet's lock does not prove itself by what the packet carries."""
    if PROOF not in files:
        yield Finding(
            "lock_unproven", f"the packet has no {PROOF}: nothing in it proves its lock", where=PROOF
        )
        return
    try:
        rows, verdicts = _read(files[PROOF], lock)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError, FitupError) as fault:
        yield Finding("lock_unproven", f"{PROOF} is not what a lock keeps: {fault}", where=PROOF)
        return
    with _laid_out([*rows, lock], verdicts) as facts:
        vouching = Vouching(facts)
        if vouching.people.stopped:
            yield Finding("lock_unproven", f"{PROOF}: {vouching.people.stopped}", where=PROOF)
        proofs = LockProofs(facts, vouching, alone=True)
        if [row.seq for row, _, _ in proofs.entries["lock"]] != [lock.seq]:
            yield Finding("lock_unproven", f"{PROOF} does not open the job that the lock names", where=PROOF)
        yield from proofs.problems()


def root_carried(files: dict[str, bytes]) -> str:
    """The root of the job as the packet names it, in hex; empty where it does not."""
    try:
        acts = [json.loads(e["body"])["act"] for e in json.loads(files[PROOF])["entries"]]
        return str(next(a["key"] for a in acts if a["kind"] == "enroll_person"))
    except (KeyError, ValueError, TypeError, StopIteration, RecursionError):
        return ""


def _read(data: bytes, lock: Sealed) -> tuple[list[Sealed], list[bytes]]:
    """The entries, each giving its own hash, in order and before the lock; and the verdicts. Raises ValueError."""
    whole = json.loads(data)
    if canonical(whole) != data or whole["format"] != FORMAT:
        raise ValueError(f"expected canonical JSON of format {FORMAT}")
    job, rows = read_body(lock.body).job, [_row(e) for e in whole["entries"]]
    for row in rows:
        body = read_row(row)
        if body.job != job or row_hash(row.previous, row.body, row.signature) != row.hash:
            raise ValueError(f"entry {row.seq} is not what was written in this job")
        if body.act["kind"] not in _CARRIED:
            raise ValueError(f"entry {row.seq} is of a kind that no lock rests on")
    whole_chain = (*rows, lock)
    places = [row.seq for row in whole_chain]
    if places != sorted(set(places)):
        raise ValueError("its entries are not in order, each once, before the lock")
    for one in ({row.previous for row in whole_chain}, {row.hash for row in whole_chain}):
        if len(one) != len(whole_chain):
            raise ValueError("two of its entries stand at one place of the journal")
    return rows, [text.encode("utf-8") for text in whole["verdicts"]]


def _row(entry: dict[str, Any]) -> Sealed:
    kinds = {"seq": int, "previous": str, "body": str, "hash": str, "signature": str}
    if {name: type(value) for name, value in entry.items()} != kinds:
        raise ValueError("an entry of another shape")
    return Sealed(**{**entry, "body": entry["body"].encode("utf-8")})


@contextmanager
def _laid_out(rows: list[Sealed], verdicts: list[bytes]) -> Iterator[Session]:
    """
    A journal of these entries alone. In place of one that a signature saw and that is not carried stands its hash: that
    it was there is what whoever locked has signed for.
    """
    known = {row.seq: row.hash for row in rows}
    seen = dict(seen_seal(read_body(row.body).act) for row in rows if row.signature)
    marks = {mark: seq for seq, mark in seen.items() if seq and seq not in known}
    journal = [JournalRow(**asdict(row)) for row in rows]
    journal += [
        JournalRow(seq=seq, previous=f"behind {seq}", body=b"", hash=mark, signature="")
        for mark, seq in marks.items()
        if mark not in known.values()
    ]
    kept = {sha256(data): data for data in verdicts}
    with journal_of(journal, [KeptFileRow(sha256=name, data=data) for name, data in kept.items()]) as facts:
        yield facts
