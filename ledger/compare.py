"""Verbs that need no job: what one file holds, and whether two hole patterns go together."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from time import process_time
from typing import TYPE_CHECKING, Any, cast, get_args

from ledger.domain.canonical import sha256
from ledger.domain.connection import JOINTS, TURNED_OVER, Sides
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.plural import counted
from ledger.domain.pose import Pose
from ledger.domain.position import read_also, read_position
from ledger.domain.required_odds import USUAL, read_odds
from ledger.domain.shape import Contour, Profile

if TYPE_CHECKING:
    from ledger.fit.case import PatternCase
    from ledger.fit.fault import Fault
    from ledger.fit.guide import Guide
    from ledger.fit.pattern import Fit, TurnedOver
    from ledger.fit.ruling import Ruling
    from ledger.standards.fasteners import Fastener


LEAST_ADVICE_S, MOST_ADVICE_S = 0.5, 2.0  # processor time for what is said beside a verdict
AUTO = "auto"  # the sizes of the holes say which fasteners they are for
Group = tuple[
    str, str, tuple[str, ...], tuple[str, ...], bool
]  # fastener, joint, holes of A and B, as stated
_MAYBE_HOLES = ("few_sides", "nearly_round")


@dataclass(frozen=True, slots=True)
class _Group:
    """A fastener, its joint and its holes of A and of B; `stated`, or assumed from their sizes."""

    fastener: str
    joint: str
    holes: tuple[tuple[str, ...], tuple[str, ...]]
    stated: bool


@dataclass(frozen=True, slots=True)
class Look:
    """What the reader makes of one file; `roles` is what each layer is for, as stated or guessed."""

    file: str
    sha256: str
    profile: Profile
    roles: tuple[tuple[str, str], ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON; lengths in mm."""
        p = self.profile
        return {
            "file": self.file,
            "sha256": self.sha256,
            "usable": p.usable,
            "unit": {"declared": p.unit_declared, "used": p.unit_used, "sure": p.unit_sure},
            "size_mm": [round(n, 6) for n in p.size_mm] if p.size_mm else None,
            "layers": dict(self.roles),
            "outlines": len(p.outlines),
            "openings": [opening_to_json(c) for c in p.openings],
            "area_mm2": round(p.area_mm2, 6) if p.outline else None,
            "cut_length_mm": round(p.cut_length_mm, 6),
            "holes": [
                {
                    "label": h.label,
                    "x_mm": h.centre[0],
                    "y_mm": h.centre[1],
                    "diameter_mm": h.diameter_mm,
                    "core_mm": [list(end) for end in h.core] if h.is_slot else None,
                    "made_of": h.made_of,
                    "departure_mm": h.departure_mm,
                    "also_mm": list(h.also_mm),
                }
                for h in p.holes
            ],
            "findings": [f.to_json() for f in p.findings],
        }


def opening_to_json(opening: Contour) -> dict[str, float]:
    """An opening that is no hole: the middle of its box and its overall size, mm."""
    low_x, low_y, high_x, high_y = opening.box
    return {
        "x_mm": round((low_x + high_x) / 2, 6),
        "y_mm": round((low_y + high_y) / 2, 6),
        "width_mm": round(high_x - low_x, 6),
        "height_mm": round(high_y - low_y, 6),
    }


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
    verdict_s: float = MOST_ADVICE_S
    also: tuple[str, ...] = ()
    assumed: str = ""
    _told: dict[str, tuple[str, ...]] = field(default_factory=dict, repr=False, compare=False)

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

    def slips(self) -> tuple[str, ...]:
        """The common slips that two patterns that do not go together look like."""
        return self._advised()["slips"]

    def advice(self) -> tuple[str, ...]:
        """What a pattern that does not go together looks like, and what would help."""
        told = self._advised()
        return (*told["slips"], *told["fixes"])

    def _advised(self) -> dict[str, tuple[str, ...]]:
        """
        Worked out once, in about the time that the verdict took; Ctrl+C ends it, and the verdict stays.

        Only what is said beside the verdict depends on time: what there was none for is not said.
        """
        if self._told:
            return self._told
        from ledger.fit.advice import fixes_told, slips_told
        from ledger.standards.clearance_holes import hole_classes

        end_s = process_time() + min(MOST_ADVICE_S, max(LEAST_ADVICE_S, self.verdict_s))
        said: dict[str, list[str]] = {"slips": [], "fixes": []}

        def more() -> bool:
            return process_time() < end_s

        names = ("A", "B")
        try:
            # where only a washer falls through, nothing about the places of the holes would help
            if not self.falls_through or self.fit.wrong or (self.fit.margin_mm or 0) < 0:
                said["slips"].extend(slips_told(self.case, self.fit, names, more))
                classes = hole_classes(self.fastener)
                said["fixes"].extend(fixes_told(self.case, self.fit, names, classes, more=more))
        except KeyboardInterrupt:
            said["fixes"].append("advice interrupted; the verdict stands")
        self._told.update({k: tuple(v) for k, v in said.items()})
        return self._told

    def warning(self) -> tuple[str, str] | None:
        """How the plates can be assembled wrong, and what would prevent it."""
        from ledger.fit.advice import turned_by_mistake
        from ledger.fit.ways import Plate

        plates = [
            Plate(rings, look.profile.holes)
            for look, rings in zip((self.a, self.b), self._rings(), strict=True)
        ]
        return turned_by_mistake(self.case, self.fit, ("A", "B"), (plates[0], plates[1]))

    def picture(self) -> str:
        """The fit as SVG."""
        from ledger.fit.svg import fit_svg

        title = f"{self.a.file} (orange) on {self.b.file} (blue), {self.fastener} {self.joint}: {self.ruling.verdict}"
        return fit_svg(self.fit, (self.a.profile.holes, self.b.profile.holes), self._rings(), title=title)

    def _rings(self) -> tuple[tuple[Contour, ...], tuple[Contour, ...]]:
        a, b = (
            (p.outline, *p.openings) if p.outline else p.openings for p in (self.a.profile, self.b.profile)
        )
        return a, b

    def larger_holes(self) -> str:
        """By how much larger holes would reach the odds, in words; empty where that is not the question."""
        from ledger.fit.ruling import larger_words
        from ledger.standards.clearance_holes import next_hole_words

        return larger_words(self.case, self.fit, self.ruling, lambda mm: next_hole_words(self.fastener, mm))

    def _ruled(self) -> dict[str, Any]:
        """What the verdict rests on."""
        r = self.ruling
        return {
            "decided_by": r.basis,
            "required": r.required,
            "odds": r.odds
            and {
                "at_least": round(r.odds.low, 6),
                "estimate": round(r.odds.share, 6),
                "lots": r.odds.lots,
                "undecided": r.odds.undecided,
            },
            "no_odds": r.no_odds,
            "larger_holes_by_mm": r.larger_mm,
            "takes_most": r.loss and {"a": r.loss.a, "b": r.loss.b, "margin_mm": r.loss.gain_mm},
        }

    @property
    def remarks(self) -> tuple[str, ...]:
        """What to know about the files besides their holes, and what was assumed of the fastener."""
        from ledger.standards.fasteners import fastener

        said: list[str] = []
        for name, look in (("A", self.a), ("B", self.b)):
            stops = [f for f in look.profile.findings if f.severity == "stop"]
            if stops:
                codes = ", ".join(sorted({f.code for f in stops}))
                said.append(
                    f"{name} ({look.file}) is not usable as it is ({codes}); only its readable holes were compared"
                )
            said.extend(
                f"{name} ({look.file}): {f.message}" for f in look.profile.findings if f.code in _MAYBE_HOLES
            )
            if not look.profile.unit_sure:
                said.append(
                    f"{name} ({look.file}): its unit is doubtful; its numbers were taken as {look.profile.unit_used}"
                )
            said.extend(self._unit_hint(name, look))
        assumed = "" if self.joint == "dowel" else fastener(self.fastener).assumption
        return (*said, assumed) if assumed else tuple(said)

    def _unit_hint(self, name: str, look: Look) -> Iterator[str]:
        """Which file's unit looks wrong, measured by the fastener."""
        from ledger.profile.units import BY_NAME
        from ledger.profile.weigh import unit_for_bolt

        holes = [h.diameter_mm for h in look.profile.holes]
        likelier = unit_for_bolt(BY_NAME[look.profile.unit_used], holes, self.case.fastener_mm)
        if likelier:
            yield (
                f"{name} ({look.file}): no hole takes {self.fastener} when its numbers are {look.profile.unit_used}, "
                f"most do when they are {likelier.name}: check its unit (--unit-{name.lower()} {likelier.name})"
            )

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON; mm and degrees."""
        f, wrong_way = self.fit, self.warning()
        pose = f.pose and {
            "angle_deg": f.pose.angle_deg,
            "x_mm": f.pose.x_mm,
            "y_mm": f.pose.y_mm,
            "turned_over": f.pose.turned_over,
        }
        return {
            "verdict": self.ruling.verdict,
            "code": f.code,
            **self._ruled(),
            "margin_mm": f.margin_mm,
            "worst_case_margin_mm": f.worst_case_margin_mm,
            "worst_case_of": self.process,
            "thickness_mm": self.thickness_mm,
            "thickness_stated": self.thickness_stated,
            "pose": pose,
            "pairs": [
                {
                    "a": p.a,
                    "b": p.b,
                    "offset_mm": p.offset_mm,
                    "allowed_mm": p.allowed_mm,
                    "margin_mm": p.margin_mm,
                }
                for p in f.pairs
            ],
            "wrong": [
                {
                    "a": w.a,
                    "b": w.b,
                    "kind": w.kind,
                    "offset_mm": w.offset_mm,
                    "allowed_mm": w.allowed_mm,
                    "move_a_mm": list(w.move_a_mm) if w.move_a_mm else None,
                    "move_b_mm": list(w.move_b_mm) if w.move_b_mm else None,
                }
                for w in f.wrong
            ],
            "headline": self.headline,
            "fault": self.fault and {"kind": self.fault.kind, "text": self.fault.text, "fix": self.fault.fix},
            "unmatched": {"a": list(f.unmatched_a), "b": list(f.unmatched_b)},
            "left_over": {"a": list(f.left_over[0]), "b": list(f.left_over[1])},
            "better_position": f.rival
            and {
                "angle_deg": f.rival.pose.angle_deg,
                "x_mm": f.rival.pose.x_mm,
                "y_mm": f.rival.pose.y_mm,
                "turned_over": f.rival.pose.turned_over,
                "passing": f.rival.passing,
                "off": [list(p) for p in f.rival.off],
                "most_mm": f.rival.most_mm,
            },
            "left_out": {"a": list(self.left_out[0]), "b": list(self.left_out[1])},
            "ways": f.ways,
            "proven": f.proven,
            "tightest": list(f.tightest) if f.tightest else None,
            "either_or": [[w.a for w in them] for them in f.also_wrong],
            "falls_through": list(self.falls_through),
            "advice": list(self.advice()),
            "assembled_wrong": wrong_way and {"how": wrong_way[0], "prevented_by": wrong_way[1]},
            "assemblies": [
                {
                    "angle_deg": w.pose.angle_deg,
                    "turned_over": w.pose.turned_over,
                    "margin_mm": w.margin_mm,
                    "pairs": [list(p) for p in w.pairs],
                }
                for w in f.assemblies
            ],
            "fastener": self.fastener,
            "also": list(self.also),
            "assumed": self.assumed,
            "joint": self.joint,
            "notes": [*f.notes, *self.remarks],
            "not_checked": list(NOT_CHECKED),
        }


USUAL_THICKNESS = "10 mm"  # of plates in a fit where none is stated: common practice, no source
NOT_CHECKED = (
    "outlines, openings and whatever else is in the files: this is about holes only",
    "plate thickness, bends, threads, and room for heads, washers and wrenches",
    "whether the parts carry a load safely: a licensed engineer and local codes decide that",
)


def look(file: str, data: bytes, *, unit: str | None = None, roles: Mapping[str, str] | None = None) -> Look:
    """What the reader makes of a file's bytes, with what layers are for as stated. Raises Unreadable, BadInput."""
    from ledger.profile.layers import roles_of
    from ledger.profile.read import read_profile

    profile = read_profile(data, unit=unit, roles=roles)
    return Look(file, sha256(data), profile, roles_of(profile.layers, roles))


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
    from ledger.checks._fitting import shrink_of
    from ledger.domain.quantity import read_length
    from ledger.fit.case import Fastening
    from ledger.fit.joint import Joint
    from ledger.fit.pattern import PatternCase, Ply, fit
    from ledger.fit.ruling import rule
    from ledger.standards.fasteners import fastener as fastener_named
    from ledger.standards.processes import process as process_named

    fitted = tuple(j for j in JOINTS if j in get_args(Joint))
    if joint not in fitted:
        raise UnknownName("joint", joint, fitted)
    if turned_over not in TURNED_OVER:
        raise UnknownName("value of turned over", turned_over, TURNED_OVER)
    named, out = ((_labels(a, one, "A"), _labels(b, two, "B")) for one, two in (holes, leave_out))
    beside = [_beside(a, b, text) for text in also]
    taken = [{x for g in beside for x in g.holes[k]} | set(out[k]) for k in (0, 1)]
    assumed = ""
    if fastener == AUTO:
        joint, first, rest = _spoken((a, b), named, taken, joint)
        fastener, assumed = first.fastener, _assumed([first, *rest], beside)
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
    falls = _falling(found, (a, b), bolt.designation, joint)
    if falls:
        found = replace(found, verdict="NO-GO" if found.verdict == "GO" else found.verdict, ways=0)
    ruling = rule(case, found, read_odds(odds))
    return Comparison(
        a, b, bolt.designation, joint, cut.name, thick_mm, bool(thickness), found, case, ruling, falls,
        (out[0], out[1]), process_time() - began_s,
        tuple(f"{g.fastener} {g.joint}" for g in beside), assumed,
    )  # fmt: skip


def _beside(a: Look, b: Look, text: str) -> _Group:
    """A further fastener and its holes, as stated. Raises BadInput, UnknownName."""
    from ledger.fit.joint import Joint

    read = read_also(text)
    if len(read.groups) != 2:  # noqa: PLR2004 - two files
        raise BadInput(
            f"read {visible(text)!r}; expected the holes of A on those of B: 'M6 dowel H5,H6 on H5,H6'"
        )
    if read.joint not in get_args(Joint):
        raise UnknownName("joint", read.joint, get_args(Joint))
    holes = _labels(a, read.groups[0], "A"), _labels(b, read.groups[1], "B")
    return _Group(read.fastener, read.joint, holes, stated=True)


def _spoken(
    looks: tuple[Look, Look], named: Sequence[tuple[str, ...]], taken: Sequence[set[str]], joint: str
) -> tuple[str, _Group, list[_Group]]:
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
    groups = [_Group(s.fastener, s.joint, (s.a, s.b), stated=False) for s in found]
    return groups[0].joint, groups[0], groups[1:]


def _assumed(groups: Sequence[_Group], stated: Sequence[_Group]) -> str:
    """Which fasteners were assumed, in words."""
    told = [
        f"{g.fastener} {g.joint} ({len(g.holes[0])} on {len(g.holes[1])} holes)"
        for g in groups
        if g not in stated
    ]
    return f"assumed from the hole sizes: {', '.join(told)}"


def _falling(found: Fit, looks: tuple[Look, Look], bolt: str, joint: str) -> tuple[str, ...]:
    """The holes of the pattern, in words, that let their washer, head or nut through."""
    from ledger.domain.quantity import show_mm
    from ledger.standards.bearing import covers

    try:
        over = covers(bolt, joint)
    except UnknownName:  # no table has a washer or a head of this size: nothing is known of it
        return ()
    met = [(p.a, p.b) for p in found.pairs] + [(w.a, w.b) for w in found.wrong]
    return tuple(
        f"{hole.label} of {'AB'[side]}: {show_mm(hole.diameter_mm, 2)} wide, the {bolt} {cover.what} "
        f"{show_mm(cover.diameter_mm, 2)}: it goes through the hole"
        for side, cover in enumerate(over)
        if cover is not None
        for hole in looks[side].profile.holes
        if hole.label in {labels[side] for labels in met} and cover.lets_through(hole.diameter_mm)
    )


def _labels(of: Look, text: str, side: str) -> tuple[str, ...]:
    """Labels of holes, with commas between them. Raises BadInput for one that the file does not have."""
    named = tuple(dict.fromkeys(x.strip() for x in text.split(",") if x.strip()))
    known = [h.label for h in of.profile.holes]
    for label in named:
        if label not in known:
            holes = f"its holes are {', '.join(known)}" if known else "it has no holes"
            raise BadInput(f"read {visible(label)!r} as a hole of {side} ({visible(of.file)}); {holes}")
    return named
