"""The list of actions as textual's own search window, fed from the one list."""

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

    def _actions(self) -> tuple[Action, ...]:
        found = actions_at(getattr(self.screen, "WHERE", EVERYWHERE))
        return tuple(a for a in found if a.name != "command_palette")

    def _run(self, action: Action) -> partial[None]:
        return partial(cast("Fitup", self.app).run_named, action.name)
