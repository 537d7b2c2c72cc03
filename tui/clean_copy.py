"""
Mending a part's drawing from its screen: what a clean copy cannot know is asked for, one thing after the other.

What is written in the drawing is shown line by line before a copy leaves it out. Asked are, where the drawing leaves
them open: the unit, what broken lines are, which of several outlines is the part, which circle is cut, whether few
straight sides are a hole. The copy is then taken at once. The file that it was made of stays as it is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from ledger.domain.plural import counted
from ledger.files import choices as said_of
from tui.choice_window import Choose
from tui.drawing_intake import UNITS, unit_words

if TYPE_CHECKING:
    from ledger.domain.record import Part
    from ledger.domain.shape import Contour
    from ledger.files import Choices, Mended
    from tui.frame import JobScreen

_SHOWN = 12


class Mending:
    """One mending; every answer leads to the next question."""

    def __init__(self, screen: JobScreen, part: Part) -> None:
        self.screen, self.part = screen, part
        found = part.taken.profile.findings if part.taken else ()
        self.codes = {f.code for f in found}
        self.written = [f.message for f in found if f.code in ("dimension_differs", "drawing_words")]
        self.linetypes = [f.where.removeprefix("linetype ") for f in found if f.code == "maybe_bend"]
        self.unit_words = next((f.message for f in found if f.code.startswith("unit_")), "")

    def start(self, take_another: Callable[[], None]) -> None:
        """A clean copy, or another file."""

        def chosen(way: str | None) -> None:
            if way == "copy":
                self._words(said_of())
            elif way == "take":
                take_another()

        name = self.part.taken.file_name if self.part.taken else ""
        ways = {
            "copy": "take a clean copy that holds only what was understood",
            "take": "take another file",
        }
        self.screen.window(Choose(f"the drawing {name} cannot be cut as it is", ways), chosen)

    def _words(self, choices: Choices) -> None:
        """What is written, before it is left out."""
        if not self.written:
            self._unit(choices)
            return
        more = [f"and {len(self.written) - _SHOWN} more"] if len(self.written) > _SHOWN else []
        lines = "\n".join([*self.written[:_SHOWN], *more])
        ways = {"go": "go on: the lines count as drawn", "back": "back: correct the drawing first"}
        self.screen.window(
            Choose(f"the copy omits this text:\n{lines}", ways),
            lambda way: self._unit(replace(choices, as_drawn=True)) if way == "go" else None,
        )

    def _broken(self, choices: Choices) -> None:
        """What the lines of each broken linetype are."""
        line = next((name for name in self.linetypes if name not in choices.roles), "")
        if not line:
            self._outline(choices)
            return
        ways = {
            "bend": "bend lines",
            "mark": "marks, not cut through",
            "ignore": "nothing: the copy omits them",
            "cut": "lines that are cut",
        }
        self.screen.window(
            Choose(f"what are the lines drawn as {line}?", ways),
            lambda role: (
                self._broken(replace(choices, roles={**choices.roles, line: role})) if role else None
            ),
        )

    def _sides(self, choices: Choices) -> None:
        if "few_sides" not in self.codes or "all" in choices.circles:
            self._mend(choices)
            return
        ways = {
            "round": "round holes, of the largest circle that passes",
            "back": "pockets: put them on a layer named POCKET in the drawing",
        }
        self.screen.window(
            Choose("some holes have few straight sides: what are they?", ways),
            lambda way: self._mend(replace(choices, circles={"all": "round"})) if way == "round" else None,
        )

    def _unit(self, choices: Choices) -> None:
        if not any(code in self.codes for code in ("unit_missing", "unit_doubtful")):
            self._broken(choices)
            return
        self.screen.enter(
            f"which unit is it? {self.unit_words}",
            unit_words,
            lambda unit: self._broken(replace(choices, unit=unit.strip())),
            hint=f"one of {', '.join(UNITS)}",
        )

    def _outline(self, choices: Choices) -> None:
        if "several_outlines" not in self.codes or self.part.taken is None:
            self._circles(choices)
            return
        ways = {str(k): _size(c) for k, c in enumerate(self.part.taken.profile.outlines_by_size, 1)}
        self.screen.window(
            Choose("which of the outlines is the part?", ways),
            lambda number: self._circles(replace(choices, outline=int(number))) if number else None,
        )

    def _circles(self, choices: Choices) -> None:
        if "concentric" not in self.codes or self.part.taken is None:
            self._sides(choices)
            return
        holes = [h for h in self.part.taken.profile.holes if h.also_mm]
        sizes = "; ".join(
            f"{h.label} {', '.join(f'{d:.2f}' for d in (h.diameter_mm, *h.also_mm))}" for h in holes[:4]
        )
        ways = {"smallest": "the smallest at every hole", "largest": "the largest at every hole"}
        self.screen.window(
            Choose(f"which circle is cut? {sizes} mm", ways),
            lambda size: self._mend(replace(choices, circles={"all": size})) if size else None,
        )

    def _mend(self, choices: Choices) -> None:
        screen, number = self.screen, self.part.number

        def done(made: Mended) -> None:
            screen.refreshed()
            screen.tell(f"a clean copy is taken: {counted(len(made.fixed), 'finding')} fixed; look at it")

        work = lambda: screen.job.mend(number, choices, by=screen.fitup.workstation)  # noqa: E731 - one call
        screen.ask(work, done, busy="writing a clean copy", group="change")


def _size(contour: Contour) -> str:
    low_x, low_y, high_x, high_y = contour.box
    return f"{high_x - low_x:.1f} × {high_y - low_y:.1f} mm, from ({low_x:.1f}, {low_y:.1f})"
