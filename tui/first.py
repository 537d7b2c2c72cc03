"""The window of what to do first: a step that is chosen opens the place where it is done."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui.choosing import Choose

if TYPE_CHECKING:
    from ledger.domain.first import Step
    from tui.frame import ShopScreen

_MOST = 12


def choose_first(screen: ShopScreen, steps: tuple[Step, ...]) -> None:
    """Offer the steps that free the most; open the one that is taken."""
    if not steps:
        screen.tell("nothing to decide or measure: what is left are signatures")
        return

    def opened(chosen: str | None) -> None:
        from tui.part_screen import PartScreen

        if chosen is not None:
            step = steps[int(chosen)]
            screen.app.push_screen(PartScreen(step.part, cure=step.finding))

    ways = {str(k): _words(step) for k, step in enumerate(steps[:_MOST])}
    screen.window(Choose("what to do first, because it frees the most", ways), opened)


def _words(step: Step) -> str:
    frees = f"frees {', '.join(step.frees)}: " if len(step.frees) > 1 else ""
    return f"{frees}{step.finding.code.replace('_', ' ')} [{step.finding.where}], {step.part}"
