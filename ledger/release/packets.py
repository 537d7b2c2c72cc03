"""
How a packet stands: proven by itself, and beside the job that it comes from.

*Current* is the newest locked revision of every part in it. *Superseded*: one of them was locked again since.
*Disowned*: the job has no such lock, or one that does not prove itself there. *Foreign*: it is another job's. Without a
job it is proven *by itself*, and it is said what could not be looked at.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

from sqlmodel import Session, select

from ledger.acts.vouching import Vouching
from ledger.domain.canonical import sha256
from ledger.domain.finding import Finding
from ledger.domain.seal import read_seal
from ledger.domain.short_key import short_key
from ledger.judge.carried_proof import proof_problems, root_carried
from ledger.judge.lock_proof import LockProofs
from ledger.store import chain
from ledger.store.tables import JobFact

if TYPE_CHECKING:
    from ledger.packet.inspect import PacketReport

State = Literal["altered", "by itself", "foreign", "disowned", "superseded", "current"]
_CLOCK = "when it was locked: the time is what the job's clock said"
_NEWEST = "whether it was superseded or disowned since: verify it beside its job"


@dataclass(frozen=True, slots=True)
class PacketStanding:
    """A packet, proven: what it says of itself, how it stands, why, the job's root, what was not looked at."""

    report: PacketReport
    state: State
    root: str = ""
    says: tuple[str, ...] = ()
    not_checked: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        """Whether nothing speaks against sending or cutting what is in it."""
        return self.state in ("by itself", "current")

    @property
    def tampered(self) -> bool:
        """Whether it is not what a job locked."""
        return self.state in ("altered", "disowned")

    @property
    def against(self) -> str:
        """What it was held against."""
        held = {"by itself": "by itself; no job given", "foreign": "by itself; it is from another job"}
        return held.get(self.state, "by itself and against the job")

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {
            "ok": self.ok,
            "state": self.state,
            "seal": self.report.seal,
            "parts": [{"part": p.number, "revision": p.revision} for p in self.report.parts],
            "person": self.report.person,
            "key": self.report.signer_key,
            "root": self.root,
            "against": self.against,
            "says": list(self.says),
            "not_checked": list(self.not_checked),
            "problems": [f.to_json() for f in self.report.problems],
        }


def by_itself(data: bytes) -> PacketStanding:
    """A packet by what it carries alone. Raises Unreadable for what is no zip."""
    from ledger.packet.build import MANIFEST
    from ledger.packet.entries import read_entries
    from ledger.packet.inspect import inspect
    from ledger.packet.manifest import read_manifest

    report = inspect(data)
    if not report.ok:
        return PacketStanding(report, "altered")
    files = read_entries(data).files
    root = root_carried(files)
    found = tuple(proof_problems(read_manifest(files[MANIFEST]).sealed, files))
    if found:
        return PacketStanding(replace(report, problems=found), "altered", root)
    whose = f"whether the root {short_key(root)} is the job's: compare it with one you know"
    return PacketStanding(report, "by itself", root, not_checked=(whose, _NEWEST, _CLOCK))


def beside(facts: Session, ident: str, data: bytes) -> PacketStanding:
    """A packet beside a job, as its journal says (`facts` were replayed). Raises Unreadable for what is no zip."""
    alone = by_itself(data)
    report = alone.report
    if alone.tampered:
        return alone
    if report.job != ident:
        return replace(
            alone, state="foreign", says=("the packet is another job's: verify it beside that one",)
        )
    wrong = tuple(_disowned(facts, alone, data))
    if wrong:
        return replace(alone, state="disowned", report=replace(report, problems=wrong), not_checked=(_CLOCK,))
    says = tuple(_superseded(facts, report))
    return replace(alone, state="superseded" if says else "current", says=says, not_checked=(_CLOCK,))


def _disowned(facts: Session, alone: PacketStanding, data: bytes) -> list[Finding]:
    """Why the job does not stand by this packet."""
    report, proofs = alone.report, LockProofs(facts, Vouching(facts))
    if chain.missing_seal(facts, *read_seal(report.seal)):
        words = "the job's journal does not hold this packet's entry"
        return [Finding("not_in_the_job", words, where=report.seal)]
    found = [
        Finding("lock_unproven", f"{part.number} {part.revision} {words}", where=report.seal)
        for part in report.parts
        for words in proofs.faults(report.seq, part.number)
    ]
    kept = [b.act["sha256"] for _, b, _ in proofs.entries["keep_packet"] if b.act["lock_seq"] == report.seq]
    if not found and kept != [sha256(data)]:
        found.append(Finding("not_in_the_job", "the job kept another packet of this lock", where=report.seal))
    if not found and alone.root != facts.exec(select(JobFact.root)).one():
        found.append(
            Finding("not_in_the_job", "the packet names another root than the job", where=report.seal)
        )
    return found


def _superseded(facts: Session, report: PacketReport) -> list[str]:
    """The parts that were locked again since, in words."""
    proofs = LockProofs(facts, Vouching(facts))
    says = []
    for part in report.parts:
        newest = max((k for k in proofs.locks if k.number == part.number), key=lambda k: k.seq)
        if newest.seq != report.seq:
            says.append(
                f"{part.number} {part.revision} is superseded: revision {newest.revision} was locked since"
            )
    return says
