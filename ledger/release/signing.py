"""
Signing and locking: what has to be true, what is written, what leaves.

The order of locking is the promise: judge afresh, stage the packet on disk, write the entries, commit, rename.
Whatever fails before the commit leaves nothing locked and nothing behind; after it the kept bytes can be handed
out again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlmodel import Session

from ledger.acts.base import newest_part, one_of
from ledger.acts.release import (
    Fixed,
    KeepPacket,
    Lock,
    LockedPart,
    SignRevision,
    SubjectField,
)
from ledger.checks import known_codes
from ledger.domain.amounts import read_amount
from ledger.domain.canonical import canonical
from ledger.domain.errors import BadInput, NotReleasable, visible
from ledger.domain.gate import key_of, require
from ledger.domain.record import Dimension, Part
from ledger.domain.verdict import Verdict
from ledger.judge.bench import Bench
from ledger.judge.carried_proof import carried_proof
from ledger.release.signer import Signer
from ledger.store import facts as read
from ledger.store.formula_values import fixed
from ledger.store.replay import seal_of

if TYPE_CHECKING:
    from ledger.packet.build import Staged

MEANINGS = {
    "drawn": "I drew this, and it shows what is intended",
    "checked": "I compared this with what is intended and measured",
    "approved": "this may go out",
}
_RE_ENTRIES = 2
_SAME_MM = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class LockMade:
    """What a lock made and where it lies."""

    seq: int
    seal: str
    packet: Path
    folder: Path
    sha256: str
    verdicts: tuple[Verdict, ...]


def sign(
    signer: Signer, write: Session, bench: Bench, role: str, again: Mapping[str, str]
) -> tuple[Verdict, ...]:
    """
    One signature for every part of the bench, written in the session `write`; the verdicts as they were signed.

    Raises NotReleasable where a check stops, BadInput for a missing re-entry. `again` maps a key dimension
    ("NUMBER/name") to its value typed anew, expected in self-check.
    """
    facts = bench.facts
    verdicts = tuple(bench.verdict(number) for number in bench.together)
    if any(v.stops_against_signing() for v in verdicts):
        raise NotReleasable(verdicts)
    alone = bench.policy.people <= 1 and role == "checked"
    if alone:
        parts = [bench.cases(number)[0].part for number in bench.together]
        check_re_entry(parts, again)
    subjects = [
        SubjectField(
            number=v.part, revision=v.revision, subject=v.subject, acknowledged=tuple(map(key_of, v.warnings))
        )
        for v in verdicts
    ]
    fields = {"role": role, "meaning": MEANINGS.get(role, ""), "subjects": subjects, "self_check": alone}
    act = signer.act(facts, SignRevision, re_entered=tuple(sorted(again)) if alone else (), **fields)
    signer.append(write, act)
    return verdicts


def re_entry_required(parts: Iterable[Part]) -> tuple[str, ...]:
    """The key dimensions that may be typed again, as NUMBER/name: those of the parts that are cut."""
    return tuple(f"{p.number}/{d.name}" for p in parts if p.form == "cut" for d in p.dimensions)


def re_entry_of(facts: Session, numbers: Sequence[str]) -> tuple[str, ...]:
    """The same of the newest revisions of these parts; empty where more than one person is enrolled."""
    if read.policy(facts).people > 1:
        return ()
    return re_entry_required(read.part(facts, newest_part(facts, n)) for n in numbers)


def check_re_entry(parts: Iterable[Part], again: Mapping[str, str]) -> None:
    """
    Two key dimensions typed again from tape or notes agree with what is stored. Raises BadInput, never showing a value.
    """
    parts = tuple(parts)
    known = {f"{p.number}/{d.name}": d for p in parts for d in p.dimensions}
    expected = re_entry_required(parts)
    if not any(p.form == "cut" for p in parts):
        return
    if len(expected) < _RE_ENTRIES:
        raise BadInput(
            "one person alone checks by typing two key dimensions again; record two key dimensions first"
        )
    if len(set(again) & set(expected)) < _RE_ENTRIES:
        names = ", ".join(visible(n) for n in expected[:8])
        raise BadInput(
            "one person alone types two key dimensions again, from tape or notes: "
            f"--again 'NAME=VALUE' for two of {names}"
        )
    for name in set(again) & set(expected):
        if not _agrees(known[name], again[name]):
            raise BadInput(
                f"what was typed again for {visible(name)} does not agree with what is stored; measure once more"
            )


def _agrees(dimension: Dimension, typed: str) -> bool:
    off = read_amount(typed).mm - dimension.nominal.mm
    return dimension.limits.allows(off) if dimension.limits else abs(off) <= _SAME_MM


def policy(
    facts: Session,
    roles: Sequence[str] | None,
    raised: Sequence[str] | None,
    odds: str | None = None,
    permits: Sequence[str] | None = None,
) -> dict[str, Any]:
    """The job's policy with what is given put in its place. Raises UnknownName for a code that no check has."""
    old = read.policy(facts)
    for code in raised or ():
        one_of("code of a finding", known_codes())(code)
    return {
        "roles": old.roles if roles is None else tuple(roles),
        "raised": old.raised if raised is None else tuple(raised),
        "odds": old.odds if odds is None else odds,
        "permits": old.permits if permits is None else tuple(permits),
    }


def lock(signer: Signer, write: Session, bench: Bench, out: Path) -> tuple[LockMade, tuple[Staged, ...]]:
    """
    Judge, stage and write; returns what was made and what waits on the disk to take its place.

    To be called inside one writing session, `write`; the staged files are committed only after that session has ended
    well. Raises NotReleasable.
    """
    from ledger.packet.build import PROOF, assemble, stage_packet
    from ledger.packet.contents import contents
    from ledger.packet.names import dxf_name, packet_name
    from ledger.papers.vendor_papers import vendor_papers

    facts = bench.facts
    verdicts = tuple(bench.verdict(number) for number in bench.together)
    require(verdicts)
    parts = [bench.cases(number)[0].part for number in bench.together]
    dxf = {p.number: read.kept_file(facts, p.taken.dxf_sha256) for p in parts if p.taken}
    papers = vendor_papers(parts, dxf, sheets=_sheets(bench, parts, verdicts))
    files = contents(parts, dxf, papers)
    files[PROOF] = carried_proof(bench.records.lock_proofs, verdicts, seal_of(facts)[0] + 1)
    digests = {name: signer.store.keep(write, data) for name, data in files.items()}
    locked = [
        LockedPart(
            number=p.number,
            revision=p.revision,
            subject=v.subject,
            verdict=signer.store.keep(write, canonical(v.to_json())),
            dxf=p.taken.dxf_sha256 if p.taken else "",
            dxf_name=dxf_name(p) if p.taken else "",
            record=signer.store.keep(write, _record(signer, bench, p, v)),
            fixed=tuple(Fixed(name=n, nominal=v, uncertainty=u) for n, v, u in fixed(p.dimensions)),
        )
        for p, v in zip(parts, verdicts, strict=True)
    ]
    sealed = signer.append(write, signer.act(facts, Lock, parts=locked, contents=digests))
    seal = f"{sealed.seq}:{sealed.hash}"
    data = assemble(files, sealed, seal=seal)
    name = packet_name(parts, sealed.hash)
    keep = KeepPacket(
        lock_seq=sealed.seq, sha256=signer.store.keep(write, data), file_name=name, contents=digests
    )
    signer.store.append(write, job=signer.job, by=signer.person, act=keep.model_dump(mode="json"))
    plain = {dxf_name(p): dxf[p.number] for p in parts if p.taken}
    staged = stage_packet(out, name, data, plain)
    released = LockMade(sealed.seq, seal, out / name, out / name.removesuffix(".zip"), keep.sha256, verdicts)
    return released, staged


def _record(signer: Signer, bench: Bench, part: Part, verdict: Verdict) -> bytes:
    """The job record of a part; it stays in the job, and names the journal seal before the lock."""
    from ledger.papers.of_part import record
    from ledger.papers.record_sheet import job_record

    return job_record(
        record(bench.facts, part, verdict, bench.records.vouching, day=bench.today, by=signer.person)
    )


def _sheets(bench: Bench, parts: Iterable[Part], verdicts: Iterable[Verdict]) -> dict[str, bytes]:
    """The vendor sheet of every part that has a drawing; it names the journal seal before the lock."""
    from ledger.papers.of_part import issue
    from ledger.papers.sheet import vendor_sheet

    seq, seal = seal_of(bench.facts)
    return {
        p.number: vendor_sheet(p, issue(bench.facts, v, bench.policy, day=bench.today, seal=f"{seq}:{seal}"))
        for p, v in zip(parts, verdicts, strict=True)
        if p.taken
    }
