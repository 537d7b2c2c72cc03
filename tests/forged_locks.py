"""Locks that an insider with one key writes past the rules: a true lock with one thing in it changed."""

from __future__ import annotations

import json
from contextlib import contextmanager

from ledger.acts.base import make
from ledger.acts.release import KeepPacket, Lock
from ledger.acts.replay import applied
from ledger.acts.vouching import Vouching
from ledger.domain.canonical import canonical
from ledger.domain.errors import FitupError
from ledger.domain.verdict import Verdict
from ledger.judge.carried_proof import carried_proof
from ledger.judge.lock_proof import LockProofs
from ledger.packet.build import PROOF, assemble
from ledger.packet.contents import contents
from ledger.packet.names import dxf_name
from ledger.papers.vendor_papers import vendor_papers
from ledger.release.custody import examine
from ledger.store import facts as read
from ledger.store.replay import seal_of


@contextmanager
def past_the_rules(bench):
    """The store as a program of one's own would be: what is written is asked nothing."""
    store = bench.job.store
    store._apply, rules = applied, store._apply
    try:
        yield
    finally:
        store._apply = rules


def verdict_of(bench, number):
    (found,) = bench.job.verdicts([number])
    return found


def forged_lock(
    bench,
    number,
    *,
    by="Jonas",
    part=None,
    verdict=None,
    drawing=None,
    seal=None,
    keep=True,
    proof=True,
    leave_out="",
):
    """
    A lock of the newest revision with a key of one's own, and its packet, none of it checked; the packet's bytes.

    `part` changes what the lock says of it, `verdict` is kept with it in place of its own, `drawing` goes out in place
    of its own; the packet has no `proof`, or one from which entries of a kind are left out.
    """
    judged = verdict_of(bench, number)
    verdict = judged.to_json() if verdict is None else verdict
    signer = bench.job._signer(by)
    with bench.job.store.writing() as facts:
        own = bench.job.judging.bench(facts, (number,)).cases(number)[0].part
        data = drawing or read.kept_file(facts, own.taken.dxf_sha256)
        taken = {number: read.kept_file(facts, own.taken.dxf_sha256)}
        files = contents([own], taken, vendor_papers([own], taken))
        files[dxf_name(own)] = data
        proofs = LockProofs(facts, Vouching(facts))
        proofs.entries.pop(leave_out, None)
        proofs.entries.setdefault(leave_out, [])
        if proof:
            files[PROOF] = carried_proof(proofs, [Verdict.from_json(verdict)], seal_of(facts)[0] + 1)
        digests = {name: bench.job.store.keep(facts, each) for name, each in files.items()}
        said = {
            "number": number,
            "revision": own.revision,
            "subject": judged.subject,
            "verdict": bench.job.store.keep(facts, canonical(verdict)),
            "dxf": digests[dxf_name(own)],
            "dxf_name": dxf_name(own),
            **(part or {}),
        }
        seq, mark = seal_of(facts)
        fields = {"person": by, "key": signer.public, "nonce": "ab" * 16, "seal": seal or f"{seq}:{mark}"}
        with past_the_rules(bench):
            sealed = signer.append(facts, make(Lock, **fields, parts=(said,), contents=digests))
        made = assemble(files, sealed, seal=f"{sealed.seq}:{sealed.hash}")
        if keep:
            keep_packet(bench, facts, sealed.seq, made, digests, by=by)
    return made


def keep_packet(bench, facts, seq, data, digests, *, name="forged.zip", by="Jonas"):
    act = make(
        KeepPacket,
        lock_seq=seq,
        sha256=bench.job.store.keep(facts, data),
        file_name=name,
        contents=digests,
    )
    with past_the_rules(bench):
        bench.job.store.append(facts, job=bench.job.ident, by=by, act=act.model_dump(mode="json"))


def said(verb, *args):
    """What a verb answers; in words where it refuses."""
    try:
        return verb(*args)
    except FitupError as told:
        return str(told)


def let_out(bench, number, drawing):
    """Which doors take the newest revision for locked, and these bytes for its drawing."""
    doors = set()
    verdict = said(verdict_of, bench, number)
    if not isinstance(verdict, str) and verdict.go:
        doors.add("verdict")
    if not isinstance(said(bench.job.packet, number), str):
        doors.add("packet")
    standing = said(bench.job.stands, drawing)
    if not isinstance(standing, str) and standing.current:
        doors.add("verify FILE")
    folder = bench.folder / "sent"
    folder.mkdir(exist_ok=True)
    (folder / f"{number}.dxf").write_bytes(drawing)
    guarded = said(bench.job.guard, folder)
    if not isinstance(guarded, str) and guarded.may_go:
        doors.add("guard")
    if examine(bench.place).whole:
        doors.add("verify")
    return doors


EVERY_DOOR = {"verdict", "packet", "verify FILE", "guard", "verify"}


def kept_verdict(bench, number):
    return json.loads(canonical(verdict_of(bench, number).to_json()))
