"""Builders for the tests of packets: a telescope mount on a concrete pier, and locks signed over it."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from decimal import Decimal

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from ledger.domain.canonical import canonical
from ledger.domain.quantity import Length
from ledger.domain.record import Operation, Part, TakenProfile
from ledger.domain.sealed import Sealed, row_hash, signed_statement
from ledger.domain.shape import Contour, Hole, Profile, Stroke
from ledger.packet.build import MANIFEST, assemble, seal_of
from ledger.packet.contents import contents
from ledger.papers.vendor_papers import vendor_papers

JOB = "pier-job"
KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
OTHER_KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(1, 33)))
DXF = b"0\r\nSECTION\r\n2\r\nENTITIES\r\n0\r\nENDSEC\r\n0\r\nEOF\r\n"
FILES = {
    "PL-101-A_S355_12mm_x2.dxf": DXF,
    "cut-list.csv": b"number,revision\r\nPL-101,A\r\n",
    "notes.txt": b"NOTES\r\n",
    "pictures/PL-101-A.svg": b"<svg/>",
}


def rectangle(width, height):
    return Contour(((0.0, 0.0, 0.0), (width, 0.0, 0.0), (width, height, 0.0), (0.0, height, 0.0)))


def plate(**changes):
    """The pier plate: 300 x 200 x 12 mm, four 14 mm holes, one slot 14 wide and 34 long."""
    ring = rectangle(300.0, 200.0)
    corners = [(30.0, 30.0), (270.0, 30.0), (270.0, 170.0), (30.0, 170.0)]
    holes = [Hole(f"H{k + 1}", (corner,), 14.0) for k, corner in enumerate(corners)]
    slot = Hole("H5", ((140.0, 100.0), (160.0, 100.0)), 14.0, "slot")
    profile = Profile(ring, holes=(*holes, slot), outlines=(ring,))
    whole = Part(
        "PL-101",
        "A",
        "Pier plate",
        "cut",
        material="S355",
        thickness=Length("12 mm", Decimal(12)),
        process="laser",
        quantity=2,
        taken=taken(profile),
        operations=(Operation("H1", "tapped", "M16"),),
    )
    return replace(whole, **changes)


def taken(profile, data=DXF):
    return TakenProfile(profile, "plate.dxf", hashlib.sha256(data).hexdigest(), "0" * 64, "mm")


def bent(profile):
    """The same profile with a bend line and an etched mark."""
    line = ((100.0, 0.0, 0.0), (100.0, 200.0, 0.0))
    return replace(profile, bends=(Stroke(line, "BEND"),), marks=(Stroke(line, "ETCH"),))


def pier(**changes):
    """The concrete pier: existing structure, no drawing."""
    return replace(Part("PIER-1", "A", "Concrete pier", "site"), **changes)


def public(key):
    return key.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw).hex()


def act_of(files=FILES, **changes):
    act = {
        "kind": "lock",
        "person": "Ada",
        "key": public(KEY),
        "parts": [{"number": "PL-101", "revision": "A", "subject": "5" * 64}],
        "contents": {name: hashlib.sha256(data).hexdigest() for name, data in files.items()},
        "nonce": "7" * 32,
        "seal": f"6:{'1' * 64}",
    }
    return act | changes


def sealed_row(act, *, key=KEY, job=JOB, seq=7, previous="1" * 64, signature=None):
    """A lock row over this act, signed by `key` unless a signature is given."""
    if signature is None:
        signature = key.sign(signed_statement(job, act)).hex()
    whole = {
        "job": job,
        "seq": seq,
        "at": "2026-03-01T10:00:00Z",
        "by": "Ada",
        "program": "0.1.0",
        "act": act,
    }
    text = canonical(whole)
    return Sealed(seq, previous, text, row_hash(previous, text, signature), signature)


def packet(files=FILES, sealed=None):
    sealed = sealed or sealed_row(act_of(files))
    return assemble(files, sealed, seal=seal_of(sealed))


def manifest_of(sealed, files=FILES, /, **changes):
    """The manifest as a forger would write it: anything may be changed, nothing is looked at."""
    row = {
        "seq": sealed.seq,
        "previous": sealed.previous,
        "body": sealed.body.decode(),
        "hash": sealed.hash,
        "signature": sealed.signature,
    }
    whole = {
        "format": 1,
        "job": JOB,
        "seal": seal_of(sealed),
        "row": row,
        "files": {n: {"sha256": hashlib.sha256(d).hexdigest(), "size": len(d)} for n, d in files.items()},
    }
    return whole | changes


def entries_of(files=FILES, sealed=None, /, **changes):
    """Every entry of a packet, the manifest included, for a zip of one's own making."""
    sealed = sealed or sealed_row(act_of(files))
    return {**files, MANIFEST: canonical(manifest_of(sealed, files, **changes))}


def files_of(parts, dxf, sheets=None):
    """What goes into a packet of these parts, with every paper for the vendor."""
    return contents(parts, dxf, vendor_papers(parts, dxf, sheets=sheets))
