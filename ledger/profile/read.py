"""
DXF bytes in, a profile out: the one way in for files.

The bytes are scanned (`scan`), parsed in a child that can be killed (`child`), and come back as values of
`ledger.domain.shape`. A file that cannot be read at all raises Unreadable. Any other gives a profile, which is
not usable where a finding of it stops. The *geometry digest* speaks of the shape alone: it is the same whatever the
order of entities in the file, and leaves labels, findings and the file's unit out.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor

import rfc8785

from ledger.domain.errors import Unreadable
from ledger.domain.shape import Contour, Hole, Profile, Stroke
from ledger.profile.cache import once
from ledger.profile.layers import checked_roles
from ledger.profile.scan import scan
from ledger.profile.units import read_unit

READER_VERSION = "4"
_DIGEST_DOMAIN = b"fitup/geometry/1\0"


def read_profile(data: bytes, *, unit: str | None = None, roles: Mapping[str, str] | None = None) -> Profile:
    """
    The profile that a DXF file holds, in mm.

    `unit` is what the user says the file's unit is; it wins over the header. `roles` says what layers are for (cut,
    mark, bend, ignore) where their names do not. Raises Unreadable for a file that cannot be read at all,
    BadInput for an unknown unit or role.
    """
    from ledger.profile.pool import reader

    if unit is not None:
        read_unit(unit)
    checked_roles(roles)
    key = once.key(data, unit, roles, READER_VERSION)
    known = once.get(key)
    if known is not None:
        return known
    profile = reader.parse(data, scan(data), unit=unit, roles=roles)
    once.put(key, profile, len(data))
    return profile


def read_profiles(
    files: Sequence[bytes], *, unit: str | None = None, roles: Mapping[str, str] | None = None
) -> list[Profile | Unreadable]:
    """
    The profiles of many files, in their order, over all children of the reader; or why one cannot be read.

    `unit` and `roles` are said of all of them. Raises BadInput for an unknown unit or role.
    """
    from ledger.profile.pool import POOL

    def one(data: bytes) -> Profile | Unreadable:
        try:
            return read_profile(data, unit=unit, roles=roles)
        except Unreadable as refusal:
            return refusal

    with ThreadPoolExecutor(POOL) as readers:
        return list(readers.map(one, files))


def geometry_bytes(profile: Profile) -> bytes:
    """The whole profile as canonical JSON (RFC 8785); `profile_from_json` reads it back."""
    return rfc8785.dumps(profile.to_json())


def geometry_digest(profile: Profile) -> str:
    """SHA-256, in hex, over the shape rounded to a millionth of a millimetre, in an order of its own."""
    shape = {
        "outlines": sorted(_ring(c) for c in profile.outlines),
        "openings": sorted(_ring(c) for c in profile.openings),
        "holes": sorted(_hole(h) for h in profile.holes),
        "marks": sorted(_stroke(s) for s in profile.marks),
        "bends": sorted(_stroke(s) for s in profile.bends),
    }
    return hashlib.sha256(_DIGEST_DOMAIN + rfc8785.dumps(shape)).hexdigest()


def _ring(contour: Contour) -> list[list[str]]:
    return [[_decimal(v) for v in vertex] for vertex in contour.canonical().vertices]


def _hole(hole: Hole) -> list[list[str]]:
    return [*([_decimal(v) for v in point] for point in sorted(hole.core)), [_decimal(hole.diameter_mm)]]


def _stroke(stroke: Stroke) -> list[list[str]]:
    return [[_decimal(v) for v in vertex] for vertex in stroke.vertices]


def _decimal(value: float) -> str:
    """Six places, and no sign on zero."""
    text = f"{value:.6f}"
    return text.lstrip("-") if not float(text) else text
