"""
The fasteners of a comparison, each with its holes of A and of B.

A *group* is one fastener with its joint and its holes; it is stated, or assumed from the sizes of the holes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, get_args

from ledger.comparison.look import Look
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.position import read_also

if TYPE_CHECKING:
    from ledger.fit.pattern import Fit

AUTO = "auto"  # the sizes of the holes say which fasteners they are for


@dataclass(frozen=True, slots=True)
class Group:
    """A fastener, its joint and its holes of A and of B; `stated`, or assumed from their sizes."""

    fastener: str
    joint: str
    holes: tuple[tuple[str, ...], tuple[str, ...]]
    stated: bool


def labels_of(of: Look, text: str, side: str) -> tuple[str, ...]:
    """Labels of holes, with commas between them. Raises BadInput for one that the file does not have."""
    named = tuple(dict.fromkeys(x.strip() for x in text.split(",") if x.strip()))
    known = [h.label for h in of.profile.holes]
    for label in named:
        if label not in known:
            holes = f"its holes are {', '.join(known)}" if known else "it has no holes"
            raise BadInput(f"read {visible(label)!r} as a hole of {side} ({visible(of.file)}); {holes}")
    return named


def group_beside(a: Look, b: Look, text: str) -> Group:
    """A further fastener and its holes, as stated. Raises BadInput, UnknownName."""
    from ledger.domain.joint import Joint

    read = read_also(text)
    if len(read.groups) != 2:  # noqa: PLR2004 - two files
        raise BadInput(
            f"read {visible(text)!r}; expected the holes of A on those of B: 'M6 dowel H5,H6 on H5,H6'"
        )
    if read.joint not in get_args(Joint):
        raise UnknownName("joint", read.joint, get_args(Joint))
    holes = labels_of(a, read.groups[0], "A"), labels_of(b, read.groups[1], "B")
    return Group(read.fastener, read.joint, holes, stated=True)


def spoken(
    looks: tuple[Look, Look], named: Sequence[tuple[str, ...]], taken: Sequence[set[str]], joint: str
) -> tuple[str, Group, list[Group]]:
    """The joint and the first fastener that the sizes of the holes speak of, and the others. Raises BadInput."""
    from ledger.standards.spoken_sizes import spoken

    sizes = [
        {h.label: h.diameter_mm for h in k.profile.holes if h.label not in o and (not n or h.label in n)}
        for k, n, o in zip(looks, named, taken, strict=True)
    ]
    inch = all(k.profile.unit_used.startswith("in") for k in looks)
    found = spoken(sizes[0], sizes[1], inch=inch) if joint in {"through", "tapped"} else ()
    if joint == "tapped":
        found = tuple(s for s in found if s.joint == "tapped")
    if not found:
        read = ["/".join(f"{d:g}" for d in sorted(set(s.values()))[:8]) or "none" for s in sizes]
        raise BadInput(
            f"no fastener fits holes of both files: read {read[0]} mm in A and {read[1]} mm in B, expected "
            "clearance holes of one size on both, or tap drills in B; name it: --fastener M8"
        )
    groups = [Group(s.fastener, s.joint, (s.a, s.b), stated=False) for s in found]
    return groups[0].joint, groups[0], groups[1:]


def assumed_text(groups: Sequence[Group], stated: Sequence[Group]) -> str:
    """Which fasteners were assumed, in words."""
    told = [
        f"{g.fastener} {g.joint} ({len(g.holes[0])} on {len(g.holes[1])} holes)"
        for g in groups
        if g not in stated
    ]
    return f"assumed from the hole sizes: {', '.join(told)}"


def falling(found: Fit, looks: tuple[Look, Look], group: Group) -> tuple[str, ...]:
    """The holes of a group, in words, that let its fastener's washer, head or nut through."""
    from ledger.domain.quantity import show_mm
    from ledger.standards.bearing import covers

    try:
        over = covers(group.fastener, group.joint)
    except UnknownName:  # no table has a washer or a head of this size: nothing is known of it
        return ()
    met = [(p.a, p.b) for p in found.pairs] + [(w.a, w.b) for w in found.wrong]
    return tuple(
        f"{hole.label} of {'AB'[side]}: {show_mm(hole.diameter_mm, 2)} wide, the {group.fastener} {cover.what} "
        f"{show_mm(cover.diameter_mm, 2)}: it goes through the hole"
        for side, cover in enumerate(over)
        if cover is not None
        for hole in looks[side].profile.holes
        if hole.label in {labels[side] for labels in met} & set(group.holes[side])
        and cover.lets_through(hole.diameter_mm)
    )
