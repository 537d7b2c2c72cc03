"""
A drawing as a widget: it fits itself to its room, and can be moved and looked at closer.

What is shown, and in which color and dashes, is the drawing's (`ledger.domain.drawing`). Here strokes become dots and
labels find their cells; dimensions and notes are too fine for cells and stand in the rows beside.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from itertools import groupby
from typing import Final, Self

import numpy as np
from rich.text import Text
from textual import events
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from ledger.domain.drawing import PENS, Drawing, Role
from ledger.domain.shape import Box, Contour
from tui.raster import Layer, Mark, Room, View, paint, whole
from tui.signs import said
from tui.themes import ink_of

# Without braille each role has a letter of its own.
_LETTERS: Final[dict[Role, str]] = {
    "plate": "#", "upper": "#", "between": "+", "lower": "o", "bend": ":", "mark": ".", "wrong": "X", "move": "*",
}  # fmt: skip
_OVER: Final = ("wrong", "move")
_ALWAYS: Final = ("wrong", "move", "lower")  # what is wrong has its words, whatever else is looked at

_STEP = 0.2  # of the width, for one key
_CLOSER = 1.4
_CLOSEST = 200.0


class Picture(Widget, can_focus=False):
    """A drawing with marks on top. Without anything to draw it says why."""

    DEFAULT_CSS = "Picture { height: 1fr; min-height: 4; }"

    def __init__(self, *, braille: bool, id: str | None = None) -> None:  # noqa: A002 - textual's own word
        self._rows: list[Strip] | None = None
        super().__init__(id=id)
        self._braille = braille
        self._drawing = Drawing((0.0, 0.0, 1.0, 1.0))
        self._further: Sequence[Mark] = ()
        self._layers: tuple[Layer, ...] = ()
        self._marks: tuple[Mark, ...] = ()
        self._moved = (0.0, 0.0)
        self._zoom = 1.0
        self._at: Box | None = None
        self._empty = "no picture yet"
        self._reach: list[Box] = []

    def show(
        self, drawing: Drawing | None, marks: Sequence[Mark] = (), *, empty: str = "nothing drawn"
    ) -> None:
        """Draw this with further marks on top; where nothing is drawn, the words of `empty` instead."""
        self._drawing, self._further, self._empty = drawing or Drawing((0.0, 0.0, 1.0, 1.0)), marks, empty
        self._layers = layers_of(self._drawing, partial(ink_of, self.app))
        rings = np.concatenate([np.zeros((0, 4)), *(layer.boxes for layer in self._layers)])
        self._reach = (
            [(*rings[:, :2].min(axis=0).tolist(), *rings[:, 2:].max(axis=0).tolist())] if len(rings) else []
        )
        self.light("")

    def light(self, label: str) -> None:
        """Show the one label of this name alone, as chosen; every label where it is empty."""
        self._marks = (*self._further, *marks_of(self._drawing, label))
        self.refresh()

    def closer(self, *, away: bool = False) -> None:
        """One step closer, or one away."""
        self._zoom = min(max(self._zoom * (1 / _CLOSER if away else _CLOSER), 1 / _CLOSEST), _CLOSEST)
        self.refresh()

    def pan(self, x: int, y: int) -> None:
        """One step aside: x to the right, y up."""
        step = _STEP * self.size.width * 2 / self._zoom
        self._moved = (self._moved[0] + x * step, self._moved[1] + y * step)
        self.refresh()

    def look_at(self, box: Box) -> None:
        """Show one box of it, in mm, as large as there is room."""
        self._at, self._moved, self._zoom = box, (0.0, 0.0), 1.0
        self.refresh()

    def everything(self) -> None:
        """The whole picture again."""
        self._at, self._moved, self._zoom = None, (0.0, 0.0), 1.0
        self.refresh()

    @property
    def view(self) -> View:
        """What is looked at now."""
        at_first = whole([self._at] if self._at else self._reach, self._room())
        return at_first.moved(*self._moved).closer(self._zoom)

    def render_line(self, y: int) -> Strip:
        """One row, past textual's general way of text, which costs several times the drawing."""
        if not self._drawn:
            return super().render_line(y)
        if self._rows is None:
            self._rows = paint(self._layers, self._marks, self.view, self._room(), self.rich_style)
        return self._rows[y] if y < len(self._rows) else Strip.blank(self.size.width, self.rich_style)

    def refresh(
        self, *regions: Region, repaint: bool = True, layout: bool = False, recompose: bool = False
    ) -> Self:
        """Draw it anew at the next paint."""
        self._rows = None
        return super().refresh(*regions, repaint=repaint, layout=layout, recompose=recompose)

    def on_resize(self) -> None:
        self._rows = None

    def on_mount(self) -> None:
        self.watch(self.app, "theme", self._in_theme, init=False)

    def _in_theme(self) -> None:
        self._layers = layers_of(self._drawing, partial(ink_of, self.app))
        self.refresh()

    def render(self) -> Text:
        """The words instead of a picture."""
        return Text() if self._drawn else said(self._empty, "italic")

    def label_at(self, x: int, y: int) -> str:
        """The label whose rim is under this cell of the widget, its padding counted; the smallest where several are."""
        across, down = self._room().dots
        view, (dx, dy) = self.view, ((2, 4) if self._braille else (1, 1))
        px = view.middle[0] + ((x - self.gutter.left + 0.5) * dx - across / 2) * view.mm_per_dot
        py = (
            view.middle[1]
            - ((y - self.gutter.top + 0.5) * dy - down / 2) * view.mm_per_dot * self._room().tall
        )
        near = (dx * view.mm_per_dot, dy * view.mm_per_dot * self._room().tall)
        found = [
            label
            for label in self._drawing.labels
            if label.rim[0] - near[0] <= px <= label.rim[2] + near[0]
            and label.rim[1] - near[1] <= py <= label.rim[3] + near[1]
        ]
        return min(found, key=lambda one: one.rim[2] - one.rim[0]).text if found else ""

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        event.stop()
        self.closer()

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        event.stop()
        self.closer(away=True)

    @property
    def _drawn(self) -> bool:
        return any(layer.rings for layer in self._layers)

    def _room(self) -> Room:
        return Room(self.size.width, self.size.height, self._braille)


def layers_of(drawing: Drawing, ink: Callable[[Role], str]) -> tuple[Layer, ...]:
    """The strokes of a drawing as layers, one for each run of one role; `ink` gives the color of a role."""
    shown = [line for line in drawing.lines if line.role in _LETTERS]
    return tuple(
        Layer(
            tuple(Contour(line.vertices) for line in lines),
            ink(role),
            _LETTERS[role],
            dashed=PENS[role].dashes_mm is not None,
            closed=closed,
            over=role in _OVER,
        )
        for (role, closed), lines in groupby(shown, key=lambda line: (line.role, line.closed))
    )


def marks_of(drawing: Drawing, chosen: str = "") -> list[Mark]:
    """The labels of a drawing beside their rims; with one chosen, that one alone, and what is wrong."""
    return [
        Mark(
            label.middle,
            label.text,
            "bold reverse" if label.text == chosen else "bold" if label.role in _ALWAYS else "",
            rim=label.rim,
            must=label.text == chosen or label.role in _ALWAYS,
        )
        for label in drawing.labels
        if chosen in ("", label.text) or label.role in _ALWAYS
    ]
