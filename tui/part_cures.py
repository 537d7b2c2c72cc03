"""From a cure to its place on the screens: what opens over the part screen, or in its stead."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tui import mate_edit
from tui.choosing import Choose
from tui.part_edit import PartEditor

if TYPE_CHECKING:
    from ledger.domain.mated import Mate
    from tui.cures import Cure
    from tui.part_screen import PartScreen

_EDITORS = {
    "dimension": "dimension",
    "field": "field",
    "question": "answer",
    "group": "group",
    "hole": "open_hole",
    "finish": "finish",
    "bend": "bend",
    "point": "point",
    "distance": "distance",
}


@dataclass(frozen=True)
class Curing:
    """What cures lead to from a part's screen."""

    screen: PartScreen

    def open(self, cure: Cure) -> None:
        """Open the place of a cure."""
        if cure.kind == "mate":
            from tui.mate_screen import MateScreen

            self.screen.app.push_screen(MateScreen(cure.name, place=cure.place))
        elif cure.kind == "sign":
            self.screen.action_sign()
        elif cure.kind == "profile":
            self.screen.editor().take()
        elif cure.kind == "mend":
            self._mend()
        elif cure.kind == "no mate":
            self._no_mate()
        elif cure.kind in ("declaration", "reading", "group") and self._mate(cure.name):
            self._cure_mate(cure)
        elif cure.kind == "revision":
            self.screen.action_revise()
        elif cure.kind in _EDITORS:
            getattr(self.screen.editor(), _EDITORS[cure.kind])(cure.name)
        else:
            self.screen.tell("nothing to edit here: read what it says")

    def _mend(self) -> None:
        """A clean copy of the drawing, or another file; what the copy cannot know is asked for first."""
        from tui.mending import Mending

        if self.screen.view:
            Mending(self.screen, self.screen.view.part).start(self.screen.editor().take)

    def _no_mate(self) -> None:
        """It is in no mate: either one is declared, or it is said that there is none."""

        def chosen(way: str | None) -> None:
            if way == "mate":
                self.screen.action_mate()
            elif way == "alone":
                self.screen.editor().stands_alone()

        ways = {"mate": "declare the mate it is in", "alone": "it stands alone: it mates with nothing"}
        self.screen.window(Choose(f"{self.screen.number} is in no mate", ways), chosen)

    def _cure_mate(self, cure: Cure) -> None:
        """What is wrong with how a mate is declared, with a group of its holes, or with a reading."""
        mate = self._mate(cure.name)
        if mate is None:
            return
        if cure.kind == "declaration":
            mate_edit.change(self.screen, mate)
        elif cure.kind == "reading":
            wanted = next((c.required.written for c in mate.clearances if c.name == cure.place), "")
            mate_edit.measure(self.screen, mate.name, cure.place, wanted)
        else:
            self._cure_group(mate, cure.place)

    def _cure_group(self, mate: Mate, number: str) -> None:
        group = next((p.group for p in mate.plies if p.part == number), "")

        def chosen(way: str | None) -> None:
            editor = (
                self.screen.editor()
                if number == self.screen.number
                else PartEditor(self.screen, number, None)
            )
            if way == "group":
                editor.group(group)
            elif way == "take":
                editor.take()
            elif way == "mate":
                mate_edit.change(self.screen, mate)

        ways = {
            "group": f"name the holes of group {group or 'of bolts'} on {number}",
            "mate": f"declare {mate.name} with another group",
            "take": f"take the drawing of {number}",
        }
        self.screen.window(Choose(f"{mate.name}: the holes of {number}", ways), chosen)

    def _mate(self, name: str) -> Mate | None:
        return next((m for m in self.screen.view.mates if m.name == name), None) if self.screen.view else None
