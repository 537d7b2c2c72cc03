"""Whether the hole patterns of two files go together: the comparison itself, and its first line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from time import process_time
from typing import TYPE_CHECKING, cast, get_args

from ledger.comparison.groups import AUTO, Group, assumed_text, falling, group_beside, labels_of, spoken
from ledger.comparison.look import Look
from ledger.domain.connection import JOINTS, TURNED_OVER, Sides
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.plural import counted
from ledger.domain.pose import Pose
from ledger.domain.position import read_position
from ledger.domain.required_odds import USUAL, read_odds

if TYPE_CHECKING:
    from ledger.fit.case import PatternCase
    from ledger.fit.fault import Fault
    from ledger.fit.guide import Guide
    from ledger.fit.pattern import Fit, TurnedOver
    from ledger.fit.ruling import Ruling
    from ledger.standards.fasteners import Fastener

USUAL_THICKNESS = "10 mm"  # of plates in a fit where none is stated: common practice, no source


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two files, a fastener, and whether their hole patterns go together."""

    a: Look
    b: Look
    fastener: str
    joint: str
    process: str
    thickness_mm: float
    thickness_stated: bool
    fit: Fit
    case: PatternCase
    ruling: Ruling
    falls_through: tuple[str, ...] = ()
    left_out: tuple[tuple[str, ...], tuple[str, ...]] = ((), ())
    verdict_s: float = 0.0
    groups: tuple[Group, ...] = ()
    assumed: str = ""

    @property
    def also(self) -> tuple[str, ...]:
        """The further fasteners, each with its joint, in words."""
        return tuple(f"{g.fastener} {g.joint}" for g in self.groups[1:])

    @property
    def fault(self) -> Fault | None:
        """The one fault of a drawing that explains why the patterns do not go together, where there is one."""
        from ledger.fit.fault import likely_fault
        from ledger.standards.clearance_holes import drill_words

        if self.falls_through and not self.fit.wrong and (self.fit.margin_mm or 0) >= 0:
            return None
        return likely_fault(self.case, self.fit, ("A", "B"), drill_words(self.fastener))

    @property
    def headline(self) -> str:
        """The verdict, and what belongs in one line with it: the fault, else holes that have no counterpart."""
        f = self.fit
        if self.fault:
            return f"NO-GO; {self.fault.text}"
        bare = [
            f"{counted(len(labels), 'hole')} of {side} without a counterpart: {', '.join(labels)}"
            for side, labels in (("A", f.unmatched_a), ("B", f.unmatched_b))
            if labels
        ]
        ruled = [self.ruling.headline] if self.ruling.headline else []
        assumed = [self.assumed] if self.assumed else []
        return "; ".join([self.ruling.verdict, *ruled, *bare, *assumed])

    def say_so(self) -> str:
        """How to say that holes left over on both plates are for something else; empty where none are."""
        sides = zip(("a", "b"), self.fit.left_over, self.left_out, strict=True)
        words = [f"--leave-out-{side} {','.join((*out, *over))}" for side, over, out in sides if over]
        return (
            f"these holes must meet; if they are for something else, leave them out: {' '.join(words)}"
            if words
            else ""
        )


def _position(a: Look, b: Look, turned_over: str, text: str) -> Pose | tuple[Pose | Guide, ...]:
    """Where A lies on B. Raises BadInput where the files cannot say."""
    from ledger.fit.sides import flush

    stated = read_position(text)
    if isinstance(stated, Pose):
        return stated
    if not isinstance(stated, Sides):
        raise BadInput("two files have no pins: record them as parts of a connection, or enter a position")
    if a.profile.outline is None or b.profile.outline is None:
        raise BadInput("a file without one outline has no sides: enter a position")
    return flush(stated, a.profile.outline, b.profile.outline, cast("TurnedOver", turned_over), ("A", "B"))


def compare(
    a: Look,
    b: Look,
    *,
    fastener: str = AUTO,
    joint: str = "through",
    turned_over: str = "no",
    process: str = "laser",
    thickness: str = "",
    position: str = "",
    holes: tuple[str, str] = ("", ""),
    leave_out: tuple[str, str] = ("", ""),
    odds: str = USUAL,
    also: tuple[str, ...] = (),
) -> Comparison:
    """
    Whether the hole patterns of two files go together with this fastener. Raises UnknownName, BadInput.

    The worst case is that of the stated cutting process on both, in plates of this thickness (`USUAL_THICKNESS` where
    none is stated). `position` states where A lies on B (x y angle, or as drawn), which is judged and not improved, or
    which sides are flush. Where the holes go together as drawn and not with every limit at once, the odds must be what
    `odds` says ("99" percent, or "worst case"). `holes` names the holes of A and of B that take the fastener
    ("H1, H2"; "" for every hole that could), `leave_out` those that are for something else: BadInput for a label that
    the file does not have. `also` are further fasteners with their holes ("M6 dowel H5,H6 on H5,H6"). Of `AUTO` the
    sizes of the holes say which fasteners they are for: BadInput where they say none.
    """
    from ledger.cases.fitting import shrink_of
    from ledger.domain.joint import Joint
    from ledger.domain.quantity import read_length
    from ledger.fit.case import Fastening
    from ledger.fit.pattern import PatternCase, Ply, fit
    from ledger.fit.ruling import rule
    from ledger.standards.fasteners import fastener as fastener_named
    from ledger.standards.processes import process as process_named

    fitted = tuple(j for j in JOINTS if j in get_args(Joint))
    if joint not in fitted:
        raise UnknownName("joint", joint, fitted)
    if turned_over not in TURNED_OVER:
        raise UnknownName("value of turned over", turned_over, TURNED_OVER)
    named, out = ((labels_of(a, one, "A"), labels_of(b, two, "B")) for one, two in (holes, leave_out))
    beside = [group_beside(a, b, text) for text in also]
    taken = [{x for g in beside for x in g.holes[k]} | set(out[k]) for k in (0, 1)]
    assumed = ""
    if fastener == AUTO:
        joint, first, rest = spoken((a, b), named, taken, joint)
        fastener, assumed = first.fastener, assumed_text([first, *rest], beside)
        named_holes = first.holes
        beside += rest
    else:
        named_holes = named
    bolt, cut = fastener_named(fastener), process_named(process)
    thick_mm = float(read_length(thickness or USUAL_THICKNESS).mm)
    if not thick_mm > 0:
        raise BadInput(
            f"read {visible(thickness)!r} as thickness; expected more than 0, such as 6 mm or 1/4 in"
        )
    taken = [taken[k] | {x for g in beside for x in g.holes[k]} for k in (0, 1)]

    def plies(
        size: Fastener, labels: Sequence[tuple[str, ...]], away: Sequence[set[str]], known: Sequence[bool]
    ) -> list[Ply]:
        return [
            Ply(
                tuple(h for h in k.profile.holes if h.label not in o and (not n or h.label in n)),
                declared=declared, position_mm=cut.position_mm, outline=k.profile.outline,
                shrink_mm=shrink_of(k.profile.holes, size.shank_mm, cut.name, thick_mm),
            )
            for k, n, o, declared in zip((a, b), labels, away, known, strict=True)
        ]  # fmt: skip

    first_plies = plies(bolt, named_holes, taken, [bool(n) for n in named])
    more = []
    for group in beside:
        one = fastener_named(group.fastener)
        pair = plies(one, group.holes, (set(), set()), (group.stated, group.stated))
        more.append(Fastening(pair[0], pair[1], one.shank_mm, one.largest_mm, cast("Joint", group.joint)))
    case = PatternCase(
        a=first_plies[0],
        b=first_plies[1],
        fastener_mm=bolt.shank_mm,
        largest_fastener_mm=bolt.largest_mm,
        joint=cast("Joint", joint),
        turned_over=cast("TurnedOver", turned_over),
        position=_position(a, b, turned_over, position) if position else None,
        also=tuple(more),
    )
    began_s = process_time()
    found = fit(case)
    own = tuple(tuple(h.label for h in ply.holes) for ply in first_plies)
    groups = (Group(bolt.designation, joint, (own[0], own[1]), stated=not assumed), *beside)
    falls = tuple(text for group in groups for text in falling(found, (a, b), group))
    if falls:
        found = replace(found, verdict="NO-GO" if found.verdict == "GO" else found.verdict, ways=0)
    ruling = rule(case, found, read_odds(odds))
    return Comparison(
        a, b, bolt.designation, joint, cut.name, thick_mm, bool(thickness), found, case, ruling, falls,
        (out[0], out[1]), process_time() - began_s, groups, assumed,
    )  # fmt: skip
