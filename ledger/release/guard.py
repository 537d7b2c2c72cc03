"""
Before anything leaves: is every DXF in a folder, byte for byte, a locked and current revision?

For one that is not, the *nearest* locked revision is sought (by the file's name, else by its shape) and what differs
is told: superseded, the same shape written otherwise, a hole moved. Only DXF files are looked at; how many others
lie there is said.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from sqlmodel import Session

from ledger.acts.vouching import Vouching
from ledger.domain.canonical import sha256
from ledger.domain.errors import FitupError, Unreadable, visible
from ledger.domain.record import UNSIGNED, Part, TakenProfile
from ledger.domain.shape import Profile
from ledger.history.changes_of_part import interface_changes
from ledger.intake import read_regular
from ledger.judge.lock_proof import LockProofs
from ledger.packet.names import field
from ledger.store import facts as read
from ledger.store.tables import LockFact, PartFact, ProfileFact

State = Literal["current", "superseded", "not locked", "differs", "unknown", "unreadable"]
_SUFFIX = ".dxf"
_MOST_TOLD = 12
_AS_LARGE_MM = 1.0
_FIELDS = 3  # material, thickness and quantity stand behind number and revision


@dataclass(frozen=True, slots=True)
class Guarded:
    """One file: how it stands, the part and revision it is or comes nearest to, and what differs."""

    file: str
    state: State
    sha256: str = ""
    part: str = ""
    revision: str = ""
    says: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """The file and how it stands, in one line."""
        nearest = " nearest to" if self.state == "differs" else ""
        return f"{self.file}: {self.state}{nearest}{f' {self.part} revision {self.revision}' if self.part else ''}"

    @property
    def may_go(self) -> bool:
        """Whether these bytes are what was released last."""
        return self.state == "current"

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {
            "file": self.file,
            "state": self.state,
            "sha256": self.sha256,
            "part": self.part or None,
            "revision": self.revision or None,
            "says": list(self.says),
        }


@dataclass(frozen=True, slots=True)
class Folder:
    """Every DXF of a folder, how many other files lie in it, and what of it was not looked into, with the reason."""

    files: tuple[Guarded, ...]
    others: int
    unseen: tuple[str, ...] = ()

    @property
    def may_go(self) -> bool:
        """Whether there is something, all of it was looked at, and all of it may go."""
        return bool(self.files) and not self.unseen and all(f.may_go for f in self.files)

    @property
    def words(self) -> str:
        """How many there are, and how many must stay."""
        if not self.files and not self.unseen:
            return "no DXF file there: nothing to send"
        unseen = f"; {len(self.unseen)} more could not be looked into" if self.unseen else ""
        wrong = sum(not f.may_go for f in self.files)
        others = f"{self.others} other files were not looked at{unseen}"
        return f"{len(self.files)} DXF files, {wrong} that must not go; {others}"


def guard(facts: Session, folder: Path) -> Folder:
    """Look at every DXF in a folder and in the folders within it. Raises Unreadable."""
    if not folder.is_dir():
        raise Unreadable(f"{visible(str(folder))} is no folder; name the one that is to be sent")
    found, unseen = _within(folder)
    proofs = LockProofs(facts, Vouching(facts))
    locks = proofs.locks
    drawings = [p for p in found if p.suffix.lower() == _SUFFIX]
    files = (_one(facts, proofs, locks, p, p.relative_to(folder).as_posix()) for p in drawings)
    return Folder(tuple(files), len(found) - len(drawings), unseen)


def _within(folder: Path) -> tuple[list[Path], tuple[str, ...]]:
    """Every file of a folder, and what was not looked into: linked folders, `.git`, what may not be read."""
    found: list[Path] = []
    unseen: list[str] = []

    def name(path: Path) -> str:
        return visible(path.relative_to(folder).as_posix())

    def refused(fault: OSError) -> None:
        unseen.append(f"{name(Path(fault.filename))}: {fault.strerror}")

    for here, folders, files in os.walk(folder, onerror=refused):
        inner = {each: Path(here, each) for each in folders}
        unseen.extend(f"{name(p)}: a link to a folder" for p in inner.values() if p.is_symlink())
        unseen.extend(f"{name(p)}: kept by git" for each, p in inner.items() if each == ".git")
        folders[:] = sorted(each for each in folders if each != ".git")
        found.extend(Path(here, each) for each in files)
    return sorted(found), tuple(sorted(unseen))


def _one(facts: Session, proofs: LockProofs, locks: list[LockFact], path: Path, name: str) -> Guarded:
    try:
        data = read_regular(path)
    except Unreadable as fault:
        return Guarded(name, "unreadable", says=(str(fault),))
    digest = sha256(data)
    exact = [k for k in locks if k.dxf == digest and proofs.of(k)]
    if exact:
        return _exact(proofs, exact, name, digest)
    known: list[LockFact | ProfileFact] = [
        *(k for k in reversed(locks) if k.dxf == digest),
        *read.rows(facts, LockFact, dxf=digest),
        *reversed(read.rows(facts, ProfileFact, dxf=digest)),
    ]
    if known:
        row = known[0]
        part = facts.get(PartFact, (row.number, row.revision))
        faults = proofs.faults(row.seq, row.number) if isinstance(row, LockFact) else ()
        why = (
            f"it {next(iter(faults), UNSIGNED)}; see fitup verify"
            if part and part.locked
            else "this revision is still open"
        )
        return Guarded(name, "not locked", digest, row.number, row.revision, (why,))
    return _near(facts, locks, name, data)


def _exact(proofs: LockProofs, exact: list[LockFact], name: str, digest: str) -> Guarded:
    newest = {k.number: k for k in sorted(proofs.locks, key=lambda k: k.seq)}
    current = [k for k in exact if newest[k.number].dxf == digest and proofs.of(newest[k.number])]
    if current:
        return _as_named(max(current, key=lambda k: (_is_named(k, name), k.seq)), newest, exact, name)
    old = exact[-1]
    now = newest[old.number]
    says = (f"revision {now.revision} was locked since: send that one ({now.dxf_name})",)
    if not proofs.of(now):
        says = (f"revision {now.revision} {proofs.faults(now.seq, now.number)[0]}; see fitup verify",)
    return Guarded(name, "superseded", digest, old.number, old.revision, says)


def _as_named(lock: LockFact, newest: dict[str, LockFact], exact: list[LockFact], name: str) -> Guarded:
    """
    Bytes that are current: outdated all the same where the file's name says what is no longer so.

    Two revisions may share an outline and differ in thickness, material or quantity: the vendor goes by the name.
    """
    now = newest[lock.number]
    off = _misnamed(Path(name).stem, Path(now.dxf_name).stem, field(now.number))
    if off:
        says = (*off, f"revision {now.revision} counts: send that one ({now.dxf_name})")
        return Guarded(name, "superseded", now.dxf or "", now.number, now.revision, says)
    before = [k for k in exact if k.number == now.number and k.seq < now.seq]
    says = tuple(
        f"the same bytes were locked as {k.dxf_name} before" for k in before if k.dxf_name != now.dxf_name
    )
    return Guarded(name, "current", now.dxf or "", now.number, now.revision, says)


def _misnamed(stem: str, current: str, number: str) -> tuple[str, ...]:
    """What a file's name says otherwise than the name of what is current; nothing where it speaks of neither."""
    stem, current, number = stem.casefold(), current.casefold(), number.casefold()
    if stem == current or not stem.startswith(number):
        return ()
    said, due = (_stated(text[len(number) :]) for text in (stem, current))
    return tuple(
        f"its name says {kind} {said[kind]}, current is {due.get(kind, 'another')}"
        for kind in said
        if said[kind] != due.get(kind) and (kind != "material" or "material" in due)
    )


def _stated(rest: str) -> dict[str, str]:
    """What a name states behind the part's number: `-A_S275_20mm_x2`, with or without a word of one's own behind it."""
    found: dict[str, str] = {}
    revision, *others = re.split(r"[_ ]+", rest.strip())
    if re.fullmatch(r"-[a-z0-9.]{1,24}", revision):
        found["revision"] = revision[1:].upper()
    for text in others:
        if size := re.fullmatch(r"([0-9]+(?:[.,][0-9]+)?)-?mm", text):
            found.setdefault("thickness", f"{size[1].replace(',', '.')} mm")
        elif count := re.fullmatch(r"x([0-9]+)", text):
            found.setdefault("quantity", count[1])
    if len(others) > _FIELDS - 1 and not re.fullmatch(r"[0-9.,]+-?mm|x[0-9]+", others[0]):
        found["material"] = others[0].upper()
    return found


def _near(facts: Session, locks: list[LockFact], name: str, data: bytes) -> Guarded:
    """What the file comes nearest to; it is read as the drawing that it is compared with was read."""
    digest, why = sha256(data), ""
    best: Guarded | None = None
    for lock in _by_name(locks, name):
        old = _locked_part(facts, lock)
        if old is None or old.taken is None:
            continue
        try:
            now = _read_like(old.taken, data)
        except FitupError as fault:
            why = str(fault)
            continue
        named = _is_named(lock, name)
        if not named and not _alike(old.taken.profile, now):
            continue
        says = _what_differs(facts, lock, old, now, data)
        found = Guarded(name, "differs", digest, lock.number, lock.revision, says)
        if named:
            return found
        if best is None or len(found.says) < len(best.says):
            best = found
    if best is None and why:
        return Guarded(name, "unreadable", digest, says=(visible(why, most=300),))
    return best or Guarded(name, "unknown", digest, says=("no locked revision is like it",))


def _by_name(locks: list[LockFact], name: str) -> list[LockFact]:
    """The newest locked revision of every part; those that the file's name speaks of first."""
    newest = {k.number: k for k in sorted(locks, key=lambda k: k.seq)}
    return sorted((k for k in newest.values() if k.dxf), key=lambda k: (-_is_named(k, name), k.number))


def _is_named(lock: LockFact, name: str) -> int:
    """How much of the name speaks of this part: all of it, else as many letters as its number has; 0 for none."""
    stem = Path(name).stem.casefold()
    if stem == Path(lock.dxf_name).stem.casefold():
        return len(stem) + 1
    return len(lock.number) if stem.startswith(lock.number.casefold()) else 0


def _locked_part(facts: Session, lock: LockFact) -> Part | None:
    row = facts.get(PartFact, (lock.number, lock.revision))
    return read.part(facts, row) if row else None


def _read_like(taken: TakenProfile, data: bytes) -> Profile:
    from ledger.profile.labels import carry_labels
    from ledger.profile.read import read_profile

    found = read_profile(data, unit=taken.unit if taken.unit_stated else None, roles=dict(taken.roles))
    return carry_labels(found, taken.profile)[0]


def _what_differs(facts: Session, lock: LockFact, old: Part, now: Profile, data: bytes) -> tuple[str, ...]:
    from ledger.profile.sections import written_otherwise

    taken = old.taken
    if taken is None:
        return ()
    other = replace(old, taken=replace(taken, profile=now))
    shapes = [change.words for change in interface_changes(old, other)]
    if now.unit_used != taken.unit:
        shapes.insert(0, f"its unit reads as {now.unit_used}, the locked one is in {taken.unit}")
    bytes_ = written_otherwise(read.kept_file(facts, lock.dxf), data)
    if not shapes:
        return (f"the same shape in other bytes: {bytes_}",)
    more = (f"and {len(shapes) - _MOST_TOLD} more",) if len(shapes) > _MOST_TOLD else ()
    return (*shapes[:_MOST_TOLD], *more)


def _alike(old: Profile, now: Profile) -> bool:
    """Whether two shapes have something to do with each other: as large, or half of the holes where they were."""
    if old.size_mm and now.size_mm:
        off = (abs(a - b) for a, b in zip(sorted(old.size_mm), sorted(now.size_mm), strict=True))
        if all(d < _AS_LARGE_MM for d in off):
            return True
    at = {_point(h.centre) for h in old.holes}
    kept = sum(_point(h.centre) in at for h in now.holes)
    return bool(at) and 2 * kept >= len(at)


def _point(centre: Iterable[float]) -> tuple[float, ...]:
    return tuple(round(n, 2) for n in centre)
