"""A picture of one plate or two, as a widget: it fits itself to its room, and can be moved and looked at closer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Self

import numpy as np
from rich.text import Text
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from ledger.domain.shape import Box, Contour, Hole, Profile, Stroke
from tui.raster import Layer, Mark, Room, View, paint, whole
from tui.signs import BETWEEN, FIRST_PLATE, said

_STEP = 0.2  # of the width, for one key
_CLOSER = 1.4
_CLOSEST = 200.0


class Picture(Widget, can_focus=False):
    """Layers with marks on top. Without anything to draw it says why."""

    DEFAULT_CSS = "Picture { height: 1fr; min-height: 4; }"

    def __init__(self, *, braille: bool, id: str | None = None) -> None:  # noqa: A002 - textual's own word
        self._rows: list[Strip] | None = None
        super().__init__(id=id)
        self._braille = braille
        self._layers: tuple[Layer, ...] = ()
        self._marks: tuple[Mark, ...] = ()
        self._moved = (0.0, 0.0)
        self._zoom = 1.0
        self._empty = "no picture yet"
        self._reach: list[Box] = []

    def show(
        self, layers: Sequence[Layer], marks: Sequence[Mark] = (), *, empty: str = "nothing drawn"
    ) -> None:
        """Draw these; where nothing has a ring, the words of `empty` instead."""
        self._layers, self._marks, self._empty = tuple(layers), tuple(marks), empty
        rings = np.concatenate([np.zeros((0, 4)), *(layer.boxes for layer in self._layers)])
        self._reach = (
            [(*rings[:, :2].min(axis=0).tolist(), *rings[:, 2:].max(axis=0).tolist())] if len(rings) else []
        )
        self.refresh()

    def mark(self, marks: Sequence[Mark]) -> None:
        """Other marks on the same picture."""
        self._marks = tuple(marks)
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

    def everything(self) -> None:
        """The whole picture again."""
        self._moved, self._zoom = (0.0, 0.0), 1.0
        self.refresh()

    @property
    def view(self) -> View:
        """What is looked at now."""
        at_first = whole(self._reach, self._room())
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

    def render(self) -> Text:
        """The words instead of a picture."""
        return Text() if self._drawn else said(self._empty, "italic")

    @property
    def _drawn(self) -> bool:
        return any(layer.rings for layer in self._layers)

    def _room(self) -> Room:
        return Room(self.size.width, self.size.height, self._braille)


def plate(profile: Profile | None, holes: Sequence[Hole]) -> list[Layer]:
    """A part as layers: its outer rings, openings and holes; its bend lines, dashed."""
    rings = (*profile.outlines, *profile.openings) if profile else ()
    bends = tuple(Contour(s.vertices) for s in profile.bends) if profile else ()
    bent = [Layer(bends, BETWEEN, ":", dashed=True, closed=False)] if bends else []
    return [Layer((*rings, *(h.contour() for h in holes)), FIRST_PLATE), *bent]


def bend_labels(lines: Mapping[str, Stroke], chosen: str) -> list[Mark]:
    """The label of the chosen bend line in its middle."""
    ends = ((label, s.vertices[0], s.vertices[-1]) for label, s in lines.items() if label == chosen)
    return [Mark(((a[0] + b[0]) / 2, (a[1] + b[1]) / 2), label, "bold reverse") for label, a, b in ends]


def labels(holes: Sequence[Hole], chosen: str = "") -> list[Mark]:
    """The label of every hole beside its centre; of the chosen one alone where one is."""
    return [
        Mark(h.centre, h.label, "bold reverse" if chosen else "") for h in holes if chosen in ("", h.label)
    ]
