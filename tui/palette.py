"""The list of actions as textual's own search window, fed from the one list; and every part, to jump to."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, cast

from textual.command import DiscoveryHit, Hit, Hits, Provider

from tui.actions import EVERYWHERE, Action, actions_at

if TYPE_CHECKING:
    from tui.app import Fitup


class ActionProvider(Provider):
    """The actions of the screen that the window was opened over."""

    async def discover(self) -> Hits:
        for action in self._actions():
            yield DiscoveryHit(action.label, self._run(action), help=action.shown_key)

    async def search(self, query: str) -> Hits:
        matcher = self.matcher(query)
        for action in self._actions():
            score = matcher.match(action.label)
            if score > 0:
                yield Hit(score, matcher.highlight(action.label), self._run(action), help=action.shown_key)
        for number in self._parts():
            score = matcher.match(number)
            if score > 0:
                yield Hit(
                    score,
                    matcher.highlight(number),
                    partial(self._go_to, number),
                    text=number,
                    help="open the part",
                )

    def _parts(self) -> tuple[str, ...]:
        """The numbers of the parts, where the list of parts lies below."""
        from tui.judged_parts import JudgedParts

        lists = [s for s in self.app.screen_stack if isinstance(s, JudgedParts)]
        return tuple(sorted(lists[0].rows)) if lists else ()

    def _go_to(self, number: str) -> None:
        from tui.part_screen import PartScreen

        self.app.push_screen(PartScreen(number))

    def _actions(self) -> tuple[Action, ...]:
        found = actions_at(getattr(self.screen, "WHERE", EVERYWHERE))
        return tuple(a for a in found if a.name != "command_palette")

    def _run(self, action: Action) -> partial[None]:
        return partial(cast("Fitup", self.app).run_named, action.name)
