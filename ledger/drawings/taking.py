"""The act that takes a part's drawing: the same for one drawing and for a folder of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from sqlmodel import Session

from ledger.acts.base import Act, make, newest_part
from ledger.acts.parts import TakeProfile
from ledger.domain.canonical import sha256
from ledger.domain.finding import Finding
from ledger.domain.shape import Profile
from ledger.store import facts as read
from ledger.store.journal import Store

Do = Callable[[Act], int]
Keep = Callable[[bytes], str]  # keeps bytes in the job; their digest


@dataclass(frozen=True, slots=True)
class Drawn:
    """
    A file's exact bytes with the profile that was read from them, and what was said for reading them.

    `said` is what these bytes no longer tell of the file that they were made of.
    """

    file: str
    data: bytes
    profile: Profile
    unit: str | None
    roles: Mapping[str, str]
    vendor: str = ""
    said: tuple[Finding, ...] = ()


def profile_taken(facts: Session, keep: Keep, number: str, drawing: Drawn) -> tuple[TakeProfile, Profile]:
    """
    The act by which this drawing becomes the part's, its bytes kept; and its profile, labels as in the one before.

    Raises UnknownName.
    """
    from ledger.fit.likeness import likeness_of
    from ledger.profile.labels import carry_labels
    from ledger.profile.read import READER_VERSION, geometry_bytes, geometry_digest

    old = read.part(facts, newest_part(facts, number))
    profile = replace(drawing.profile, findings=(*drawing.profile.findings, *drawing.said))
    lost: tuple[str, ...] = ()
    if old.taken:
        profile, told = carry_labels(profile, old.taken.profile)
        profile = replace(profile, findings=(*profile.findings, *told))
        kept = {h.label for h in profile.holes}
        lost = tuple(h.label for h in old.taken.profile.holes if h.label not in kept)
    act = make(
        TakeProfile,
        number=number,
        file_name=Path(drawing.file.replace("\\", "/")).name.replace(":", "-"),
        dxf=sha256(drawing.data),
        geometry_file=keep(geometry_bytes(profile)),
        geometry=geometry_digest(profile),
        unit=profile.unit_used,
        unit_stated=drawing.unit is not None,
        reader=READER_VERSION,
        lost_labels=lost,
        vendor=drawing.vendor,
        likeness=figures.written if (figures := likeness_of(profile)) else "",
        roles=dict(drawing.roles),
    )
    keep(drawing.data)
    return act, profile


def take_drawing(facts: Session, do: Do, store: Store, number: str, drawing: Drawn) -> Profile:
    """Take a drawing as the part's; its profile. Raises UnknownName, BadInput."""
    act, profile = profile_taken(facts, partial(store.keep, facts), number, drawing)
    do(act)
    return profile


def agreed_layers(
    facts: Session, number: str, vendor: str, stated: Mapping[str, str]
) -> tuple[str, dict[str, str]]:
    """
    The vendor a part's drawing is meant for, and what was agreed there that layers are for; `stated` comes first.

    Where no vendor is named it is that of the drawing before. Raises UnknownName.
    """
    taken = read.part(facts, newest_part(facts, number)).taken
    vendor = vendor or (taken.vendor if taken else "")
    return vendor, {**read.layer_roles(facts, vendor), **stated}
