"""
Looking into a packet without its job: does it hold together, and who signed it?

In order: the zip can be read; the manifest is canonical; the sealed row's hash recomputes; its signature
holds under the key that its act names; the files are exactly those the act names; the row stands behind the entry
that its signer saw; and the whole zip is, byte for byte, what building it from its parts gives. The last alone would
refuse every change to its files; the others say which it was.

Whether the lock proves itself by the entries that the packet carries, and how it stands beside its job, is for
`ledger.release.packets`: anyone can sign a packet of their own with a key of their own.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass

from ledger.domain.errors import FitupError, visible
from ledger.domain.finding import Finding
from ledger.domain.sealed import check_signature, row_hash, signed_statement
from ledger.packet.build import MANIFEST, assemble
from ledger.packet.entries import Entries, read_entries
from ledger.packet.manifest import LockedPart, Manifest, Misfit, read_manifest


@dataclass(frozen=True, slots=True)
class PacketReport:
    """What a packet says of itself, and what is wrong with it. `files` are (name, SHA-256) as found."""

    problems: tuple[Finding, ...]
    files: tuple[tuple[str, str], ...] = ()
    job: str = ""
    seq: int = 0
    seal: str = ""
    parts: tuple[LockedPart, ...] = ()
    person: str = ""
    signer_key: str = ""

    @property
    def ok(self) -> bool:
        """Whether nothing is wrong with the packet by itself."""
        return not self.problems


def inspect(data: bytes) -> PacketReport:
    """Everything that can be said about a packet's bytes. Raises Unreadable for what is no zip."""
    entries = read_entries(data)
    files = tuple(
        sorted((_shown(name), hashlib.sha256(content).hexdigest()) for name, content in entries.files.items())
    )
    text = entries.files.get(MANIFEST)
    if text is None:
        missing = [] if MANIFEST in entries.unread else [_missing(MANIFEST)]
        return PacketReport((*entries.problems, *missing), files)
    try:
        manifest = read_manifest(text)
    except Misfit as misfit:
        return PacketReport((*entries.problems, misfit.finding), files)
    problems = [
        *entries.problems,
        *_row_problems(manifest),
        *_signature_problems(manifest),
        *_file_problems(entries, manifest),
    ]
    problems = problems or [*_place_problems(manifest)] or [*_as_built(data, entries, manifest)]
    return PacketReport(
        tuple(problems),
        files,
        job=_shown(manifest.job),
        seq=manifest.sealed.seq,
        seal=_shown(manifest.seal),
        parts=tuple(
            LockedPart(_shown(p.number), _shown(p.revision), _shown(p.subject)) for p in manifest.parts
        ),
        person=_shown(manifest.person),
        signer_key=manifest.key,
    )


def _row_problems(manifest: Manifest) -> Iterator[Finding]:
    row = manifest.sealed
    if row_hash(row.previous, row.body, row.signature) != row.hash:
        yield Finding("bad_row", "the lock row does not give its own hash: it was changed", where=MANIFEST)
    if manifest.seal != f"{row.seq}:{row.hash}":
        yield Finding("bad_row", "the seal is not that of the lock row", where=MANIFEST)
    if manifest.row_seq != row.seq or manifest.row_job != manifest.job:
        yield Finding("bad_row", "the manifest names another job or entry than the lock row", where=MANIFEST)


def _signature_problems(manifest: Manifest) -> Iterator[Finding]:
    if not manifest.sealed.signature:
        yield Finding("bad_signature", "the lock is not signed", where=MANIFEST)
        return
    statement = signed_statement(manifest.row_job, manifest.act)
    if not check_signature(manifest.key, statement, manifest.sealed.signature):
        who = visible(manifest.person)
        yield Finding("bad_signature", f"the signature is not {who}'s over this lock", where=MANIFEST)


def _place_problems(manifest: Manifest) -> Iterator[Finding]:
    """A lock is signed as the very next entry, so what its signer saw says where it stands and what is before it."""
    row = manifest.sealed
    if manifest.seen_seal != f"{row.seq - 1}:{row.previous}":
        yield Finding(
            "bad_row", "the lock was signed after another entry than the one before it", where=MANIFEST
        )
    elif manifest.row_by != manifest.person:
        yield Finding(
            "bad_row", "the lock row names another person than the one who signed it", where=MANIFEST
        )


def _file_problems(entries: Entries, manifest: Manifest) -> Iterator[Finding]:
    """The act's contents against the zip, then against the manifest's own list."""
    present = (entries.files.keys() | entries.unread) - {MANIFEST}
    for name in sorted(manifest.contents.keys() - present):
        yield _missing(name)
    for name in sorted(present - manifest.contents.keys()):
        yield Finding("extra_file", f"{visible(name)} is not part of this lock", where=visible(name))
    for name in sorted(entries.files.keys() & manifest.contents.keys()):
        found = hashlib.sha256(entries.files[name]).hexdigest()
        if found != manifest.contents[name]:
            yield Finding(
                "altered_file",
                f"{visible(name)} is not the file that was locked",
                where=visible(name),
                measured=found,
                limit=manifest.contents[name],
            )
    if manifest.listed != manifest.contents:
        yield Finding("altered_file", "the manifest lists other files than the lock names", where=MANIFEST)


def _as_built(data: bytes, entries: Entries, manifest: Manifest) -> Iterator[Finding]:
    parts = {name: content for name, content in entries.files.items() if name != MANIFEST}
    try:
        rebuilt = assemble(parts, manifest.sealed, seal=manifest.seal)
    except FitupError:
        rebuilt = b""
    if rebuilt != data:
        yield Finding(
            "not_as_built",
            "the files are right, but the zip around them is not as it was built: it was rewritten",
            fix="ask for the packet as it was sent, as one file",
        )


def _missing(name: str) -> Finding:
    return Finding("missing_file", f"{visible(name)} is not in the zip", where=visible(name))


def _shown(text: str) -> str:
    """Text from outside that nothing on a screen acts on; whole but for absurd lengths."""
    return visible(text, most=300)
