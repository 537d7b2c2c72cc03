"""
What to say beside a verdict on two files: likely slips, what would help, how they can be assembled wrong, a picture.

Nothing here changes the verdict. What takes long is worked out once, within a time of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from time import process_time
from typing import TYPE_CHECKING

from ledger.comparison.look import Look
from ledger.comparison.two_files import Comparison
from ledger.domain.errors import UnknownName

if TYPE_CHECKING:
    from ledger.domain.drawing import Drawing
    from ledger.domain.shape import Contour

LEAST_ADVICE_S, MOST_ADVICE_S = 0.5, 2.0  # processor time for what is said beside a verdict
_MAYBE_HOLES = ("few_sides", "nearly_round")


@dataclass(frozen=True, slots=True)
class Advice:
    """What is said beside a comparison."""

    of: Comparison
    _told: dict[str, tuple[str, ...]] = field(default_factory=dict, repr=False, compare=False)

    def slips(self) -> tuple[str, ...]:
        """The common slips that two patterns that do not go together look like."""
        return self._advised()["slips"]

    def whole(self) -> tuple[str, ...]:
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

        end_s = process_time() + min(MOST_ADVICE_S, max(LEAST_ADVICE_S, self.of.verdict_s))
        said: dict[str, list[str]] = {"slips": [], "fixes": []}

        def more() -> bool:
            return process_time() < end_s

        names = ("A", "B")
        try:
            # where only a washer falls through, nothing about the places of the holes would help
            if not self.of.falls_through or self.of.fit.wrong or (self.of.fit.margin_mm or 0) < 0:
                said["slips"].extend(slips_told(self.of.case, self.of.fit, names, more))
                classes = [_classes(g.fastener) for g in self.of.groups]
                said["fixes"].extend(fixes_told(self.of.case, self.of.fit, names, classes, more=more))
        except KeyboardInterrupt:
            said["fixes"].append("advice interrupted; the verdict is not affected")
        self._told.update({k: tuple(v) for k, v in said.items()})
        return self._told

    def warning(self) -> tuple[str, str] | None:
        """How the plates can be assembled wrong, and what would prevent it."""
        from ledger.fit.advice import turned_by_mistake
        from ledger.fit.ways import Plate

        plates = [
            Plate(rings, look.profile.holes)
            for look, rings in zip((self.of.a, self.of.b), self._rings(), strict=True)
        ]
        return turned_by_mistake(self.of.case, self.of.fit, ("A", "B"), (plates[0], plates[1]))

    def drawing(self) -> Drawing:
        """The fit as a picture: the first file laid on the second, with the moves of the wrong holes."""
        from ledger.domain.plates import Ply, plies_drawing
        from ledger.domain.pose import Pose

        c, fit = self.of, self.of.fit
        pose, (upper, lower) = fit.pose or Pose(), self._rings()
        laid = tuple(replace(h, core=tuple(pose.place(p) for p in h.core)) for h in c.a.profile.holes)
        first = (*(pose.place_contour(r) for r in upper), *(h.contour() for h in laid))
        second = (*lower, *(h.contour() for h in c.b.profile.holes))
        rooms = [p.margin_mm for p in fit.pairs] + [w.allowed_mm - w.offset_mm for w in fit.wrong]
        tightest = " on ".join(fit.tightest) if fit.tightest else ""
        return plies_drawing(
            (Ply(first, laid), Ply(second, c.b.profile.holes)),
            title=f"{c.a.file} on {c.b.file}, {c.fastener} {c.joint}: {c.ruling.verdict}",
            wrong={w.a: pose.turn(w.move_a_mm) for w in fit.wrong},
            too_small=[w.a for w in fit.wrong if w.kind != "offset"],
            notes=(
                f"{c.a.file} on {c.b.file} (long dashes), {c.fastener} {c.joint}: {c.ruling.verdict}",
                *([f"tightest: {tightest}, {min(rooms, default=0.0):.2f} mm"] if tightest else []),
            ),
        )

    def _rings(self) -> tuple[tuple[Contour, ...], tuple[Contour, ...]]:
        a, b = (
            (p.outline, *p.openings) if p.outline else p.openings
            for p in (self.of.a.profile, self.of.b.profile)
        )
        return a, b

    def larger_holes(self) -> str:
        """By how much larger holes would reach the odds, in words; empty where that is not the question."""
        from ledger.fit.ruling import larger_words
        from ledger.standards.clearance_holes import next_hole_words

        return larger_words(
            self.of.case,
            self.of.fit,
            self.of.ruling,
            lambda k, mm: next_hole_words(self.of.groups[k].fastener, mm),
        )

    @property
    def remarks(self) -> tuple[str, ...]:
        """What to know about the files besides their holes, and what was assumed of the fastener."""
        from ledger.standards.fasteners import fastener

        said: list[str] = []
        for name, look in (("A", self.of.a), ("B", self.of.b)):
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
        assumed = [
            text
            for group in self.of.groups
            if group.joint != "dowel" and (text := fastener(group.fastener).assumption)
        ]
        return tuple(dict.fromkeys((*said, *assumed)))

    def _unit_hint(self, name: str, look: Look) -> Iterator[str]:
        """Which file's unit looks wrong, measured by the fastener."""
        from ledger.profile.units import BY_NAME
        from ledger.profile.weigh import unit_for_bolt

        holes = [h.diameter_mm for h in look.profile.holes]
        likelier = unit_for_bolt(BY_NAME[look.profile.unit_used], holes, self.of.case.fastener_mm)
        if likelier:
            used = look.profile.unit_used
            yield (
                f"{name} ({look.file}): no hole takes {self.of.fastener} when its numbers are {used}, "
                f"most do when they are {likelier.name}: check its unit (--unit-{name.lower()} {likelier.name})"
            )


def _classes(named: str) -> Mapping[str, float]:
    """The clearance holes of a fastener by class; none where no table has its size."""
    from ledger.standards.clearance_holes import hole_classes

    try:
        return hole_classes(named)
    except UnknownName:
        return {}
