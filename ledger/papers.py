"""
What the papers of a part say, gathered from the facts: the issue of a sheet, the shop record, a picture.

Nothing is judged here: a locked part's verdict is read from its lock, sign-offs and permits from their entries.
"""

from __future__ import annotations

import json
from typing import Any

from sqlmodel import Session

from ledger.acts.base import newest_part
from ledger.cases import Bench
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.gate import Policy, Verdict, roles_held
from ledger.domain.record import Mate
from ledger.packet.record_sheet import Permitted, Record, Signature
from ledger.packet.title_block import Issue
from ledger.store import facts as read
from ledger.store.journal import head_of
from ledger.store.tables import JournalRow, LockFact, MateFact, PartFact, PermitFact, ShopFact, SignOffFact

_BOTH = 2
_NOBODY = "not signed"


def issue(facts: Session, verdict: Verdict, policy: Policy, *, day: str = "", head: str = "") -> Issue:
    """Who answers for a sheet of this verdict. Without `day` it is a preview."""
    held = roles_held(verdict.signed, policy)
    alone = any(s.self_check for s in verdict.signed)
    creator = held.get("drawn", _NOBODY)
    role = "approved" if "approved" in held else "checked"
    person = held.get(role)
    said = "self-checked" if alone and role == "checked" else role
    approval = f"{person}, {said}" if person else _NOBODY
    return Issue(_shop(facts).title, verdict.subject, creator, approval, day, head)


def record(facts: Session, bench: Bench, number: str, revision: str) -> Record:
    """The record of a locked revision (the newest locked one unless named). Raises UnknownName."""
    newest = newest_part(facts, number)
    lock = _lock(facts, number, revision)
    row = facts.get_one(PartFact, (number, lock.revision))
    mates = tuple(read.mates_of(facts, number))
    unchanged = newest.revision == lock.revision and bench.subject(*bench.cases(number)) == lock.subject
    entry = _entry(facts, lock.seq)
    seq, head = head_of(facts)
    return Record(
        owner=_shop(facts).title,
        part=bench.part(row),
        verdict=Verdict.from_json(json.loads(read.blob(facts, lock.verdict))),
        lock_head=f"{lock.seq}:{facts.get_one(JournalRow, lock.seq).hash}",
        locked_at=entry["at"],
        locked_by=lock.person,
        head=f"{seq}:{head}",
        unchanged=unchanged,
        mates=mates,
        signatures=_signatures(facts, lock),
        permits=_permits(facts, lock),
    )


def picture(facts: Session, bench: Bench, name: str) -> bytes:
    """A part's profile, or a mate's two plies as they go together, as SVG. Raises UnknownName, BadInput."""
    from ledger.profile.picture import profile_svg

    if read.rows(facts, PartFact, number=name):
        part = bench.part(newest_part(facts, name))
        if part.profile is None:
            raise BadInput(f"{visible(name)} has no drawing to show; take a profile first")
        return profile_svg(part.profile, title=f"{part.number} {part.revision}")
    row = facts.get(MateFact, name)
    if row is None:
        known = [
            *(p.number for p in read.rows(facts, PartFact)),
            *(m.name for m in read.rows(facts, MateFact)),
        ]
        raise UnknownName("part or mate", name, tuple(dict.fromkeys(known)))
    return _overlay(bench, read.mate(facts, row))


def _overlay(bench: Bench, mate: Mate) -> bytes:
    from ledger.profile.picture import overlay_svg

    case = bench.mate_case(mate, "")
    profiles = [p.part.profile for p in case.plies[:_BOTH]]
    if len(case.plies) != _BOTH or profiles[0] is None or profiles[1] is None:
        raise BadInput(f"{visible(mate.name)} cannot be drawn: that takes two plies, both with a drawing")
    if case.pose is None:
        raise BadInput(f"how the plies of {visible(mate.name)} lie is not known: state it, or give it bolts")
    fit = case.best_fit
    wrong = tuple(w.a for w in fit.wrong) if fit else ()
    return overlay_svg(profiles[0], profiles[1], case.pose, wrong=wrong, title=mate.name)


def _shop(facts: Session) -> ShopFact:
    return read.rows(facts, ShopFact)[0]


def _entry(facts: Session, seq: int) -> dict[str, Any]:
    body: dict[str, Any] = json.loads(facts.get_one(JournalRow, seq).body)
    return body


def _lock(facts: Session, number: str, revision: str) -> LockFact:
    locks = read.rows(facts, LockFact, number=number)
    found = [k for k in locks if not revision or k.revision == revision]
    if not found:
        known = [f"{k.number} {k.revision}" for k in read.rows(facts, LockFact)]
        raise UnknownName("locked revision", f"{number} {revision}".strip(), known)
    return max(found, key=lambda k: k.seq)


def _signatures(facts: Session, lock: LockFact) -> tuple[Signature, ...]:
    """Those for exactly what was locked, made before the lock."""
    made = []
    for row in read.rows(
        facts, SignOffFact, number=lock.number, revision=lock.revision, subject=lock.subject
    ):
        if row.seq < lock.seq:
            entry = _entry(facts, row.seq)
            meaning = entry["act"]["meaning"]
            made.append(Signature(row.person, row.role, entry["at"], meaning, row.seq, row.self_check))
    return tuple(made)


def _permits(facts: Session, lock: LockFact) -> tuple[Permitted, ...]:
    rows = read.rows(facts, PermitFact, number=lock.number, revision=lock.revision)
    return tuple(
        Permitted(p.code, p.place, p.reason, p.until, p.person, _entry(facts, p.seq)["at"])
        for p in rows
        if p.seq < lock.seq
    )
