"""
A lock proves itself: what stands in the journal is read, nothing is judged again.

It does where its signature counts, over the entry before it; where the verdict kept with it is of that part, revision
and fingerprint, and GO; where the roles that the policy then required had signed that fingerprint; where no lock before
had locked the revision; where the drawing is the one last taken of the part; and where its packet was kept once, as the
next entry. Verify, verdict, packet and guard ask this one class; so does a packet alone, of the entries it carries.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

from sqlmodel import Session

from ledger.acts.base import Act, Entry
from ledger.acts.release import Lock, LockedPart, OpenJob, SetPolicy, SignRevision
from ledger.acts.replay import counted
from ledger.acts.vouching import Vouching
from ledger.domain.errors import FitupError, visible
from ledger.domain.finding import Finding
from ledger.domain.gate import roles_held
from ledger.domain.record import UNSIGNED
from ledger.domain.sealed import Body, Sealed
from ledger.domain.verdict import Policy, SignatureMade, Verdict
from ledger.packet.names import is_safe
from ledger.store import facts as read
from ledger.store.signers import seen_seal, sound
from ledger.store.tables import LockFact

_KINDS: Final = (
    "open_job",
    "set_policy",
    "undo",
    "enroll_person",
    "sign_revision",
    "take_profile",
    "lock",
    "keep_packet",
)
Written = tuple[Sealed, Body, Act]


@dataclass
class LockProofs:
    """The locks of one journal, each looked into once; `alone`: only the entries that a packet carries are there."""

    facts: Session
    vouching: Vouching
    alone: bool = False
    _found: dict[int, tuple[tuple[str, str], ...]] = field(default_factory=dict, repr=False)

    @cached_property
    def locks(self) -> list[LockFact]:
        """
        What was locked by entries whose signature counts, oldest first, as those entries say it.

        Each of them supersedes what was locked before, even where it does not prove itself: an entry that somebody
        appends to make a newer lock doubtful must not make an older one current again.
        """
        return [
            fact
            for row, body, act in self.entries["lock"]
            if isinstance(act, Lock) and self._sound(row.seq, body)
            for fact in act.says(Entry(row.seq, row.hash, body.by, body.at))
        ]

    def locks_of(self, number: str, revision: str) -> list[LockFact]:
        """Those of one revision; more than one do not prove themselves."""
        return [k for k in self.locks if (k.number, k.revision) == (number, revision)]

    def of(self, lock: LockFact) -> bool:
        """Whether the revision that a row names was locked by an entry that proves it."""
        return not self.faults(lock.seq, lock.number)

    def faults(self, seq: int, number: str) -> tuple[str, ...]:
        """Why the lock of entry `seq` does not prove that part locked, in words to follow "PART REVISION"."""
        if seq not in self._found:
            self._found[seq] = tuple(self._looked_into(seq))
        return tuple(words for part, words in self._found[seq] if part in ("", number))

    def problems(self) -> Iterator[Finding]:
        """Every lock of the journal that does not prove itself."""
        for row, _body, act in self.entries["lock"]:
            for number, revision in _parts(act):
                for words in self.faults(row.seq, number):
                    message = f"{visible(number)} {visible(revision)} {words}"
                    yield Finding("lock_unproven", message, where=f"entry {row.seq}")

    @cached_property
    def entries(self) -> dict[str, list[Written]]:
        """
        The entries that locks rest on, by kind, in order. What following the journal sets aside is none: else anybody
        could put a policy, a packet or an undoing there that was never asked whether it is allowed.
        """
        found: dict[str, list[Written]] = {kind: [] for kind in _KINDS}
        for written in counted(self.facts, _KINDS):
            found[written[1].act["kind"]].append(written)
        return found

    def before(self, kind: str, seq: int) -> list[Written]:
        """The entries of a kind that stand before entry `seq` and had not been undone by then."""
        undone = {b.act.get("undoes") for row, b, _ in self.entries["undo"] if row.seq < seq}
        return [e for e in self.entries[kind] if e[0].seq < seq and e[0].seq not in undone]

    def policy(self, seq: int) -> Policy:
        """What the job asked for when entry `seq` was written."""
        told = self.vouching.people.told
        set_by = [
            e for kind in ("open_job", "set_policy") for e in self.before(kind, seq) if e[0].seq in told
        ]
        last = set_by[-1][2] if set_by else None
        roles = last.roles if isinstance(last, OpenJob | SetPolicy) else ()
        return Policy(roles, people=sum(e[0].seq in told for e in self.before("enroll_person", seq)))

    def drawing(self, number: str, seq: int) -> Written | None:
        """The entry that took the drawing which a part had when entry `seq` was written."""
        taken = [e for e in self.before("take_profile", seq) if e[1].act.get("number") == number]
        return taken[-1] if taken else None

    def signatures(self, number: str, revision: str, subject: str, seq: int) -> Iterator[Written]:
        """The signed entries before `seq` that count and name exactly this."""
        for written in self.before("sign_revision", seq):
            row, body, act = written
            if not isinstance(act, SignRevision) or act.role not in self.vouching.people.roles(
                act.person, row.seq
            ):
                continue
            named = {(s.number, s.revision, s.subject) for s in act.subjects}
            if (number, revision, subject) in named and self._sound(row.seq, body):
                yield written

    def _looked_into(self, seq: int) -> Iterator[tuple[str, str]]:
        found = next((e for e in self.entries["lock"] if e[0].seq == seq), None)
        if found is None or not isinstance(found[2], Lock):
            yield "", f"is not locked by entry {seq}, which cannot be read as a lock"
            return
        row, body, act = found[0], found[1], found[2]
        if not self._sound(seq, body):
            yield "", UNSIGNED
        elif seen_seal(body.act) != (seq - 1, row.previous) or body.by != act.person:
            yield "", "was locked by an entry that was signed for another place in the journal"
        if not self.alone:
            yield from (("", words) for words in self._packet(row, act))
        for part in act.parts:
            yield from ((part.number, words) for words in self._of_part(seq, act, part))

    def _packet(self, row: Sealed, act: Lock) -> Iterator[str]:
        kept = [e for e in self.entries["keep_packet"] if e[1].act.get("lock_seq") == row.seq]
        if len(kept) != 1:
            yield f"has {len(kept)} kept packets from its lock, entry {row.seq}; expected one"
        elif kept[0][0].seq != row.seq + 1 or kept[0][1].act.get("contents") != act.contents:
            yield f"has a packet that was not kept with its lock, entry {row.seq}"
        elif not is_safe(str(kept[0][1].act.get("file_name"))):
            yield "has a packet whose name is not a plain file name"

    def _of_part(self, seq: int, act: Lock, part: LockedPart) -> Iterator[str]:
        yield from self._verdict(part)
        policy = self.policy(seq)
        made = [
            SignatureMade(
                b.act["person"], b.act["role"], part.subject, sound=True, self_check=b.act["self_check"]
            )
            for _, b, _ in self.signatures(part.number, part.revision, part.subject, seq)
        ]
        missing = set(policy.roles) - roles_held(made, policy).keys()
        if missing or not policy.roles:
            yield f"was locked without a signature as {' and '.join(sorted(missing)) or 'anything'}"
        for earlier, body, locked in self.before("lock", seq):
            if (part.number, part.revision) in _parts(locked) and self._sound(earlier.seq, body):
                yield f"was locked by entry {earlier.seq} already"
        drawing = self.drawing(part.number, seq)
        if part.dxf != (drawing[1].act["dxf"] if drawing else ""):
            yield "was locked with another drawing than the one taken of it"
        elif part.dxf and (not is_safe(part.dxf_name) or act.contents.get(part.dxf_name) != part.dxf):
            yield "was locked with a packet that holds another drawing"

    def _verdict(self, part: LockedPart) -> Iterator[str]:
        try:
            kept = json.loads(read.kept_file(self.facts, part.verdict))
            verdict = Verdict.from_json(kept)
        except (FitupError, ValueError, KeyError, TypeError, AttributeError):
            yield "was locked with a verdict that cannot be read"
            return
        if (verdict.part, verdict.revision) != (part.number, part.revision):
            yield f"was locked with the verdict of {visible(verdict.part)} {visible(verdict.revision)}"
        elif verdict.subject != part.subject:
            yield "was locked with a verdict of another fingerprint"
        elif not verdict.go or kept.get("verdict") != "GO":
            yield "was locked although its verdict was NO-GO"

    def _sound(self, seq: int, body: Body) -> bool:
        return sound(self.facts, seq, str(body.act.get("person")), self.vouching.counts)


def _parts(act: Act) -> list[tuple[str, str]]:
    """The revisions that a lock names."""
    return [(p.number, p.revision) for p in act.parts] if isinstance(act, Lock) else []
