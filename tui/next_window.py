"""The window of what to do next: a step that is chosen opens the place where it is done."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui.choice_window import Choose

if TYPE_CHECKING:
    from ledger.domain.next_steps import Step
    from tui.frame import JobScreen

_MOST = 12


def choose_first(screen: JobScreen, steps: tuple[Step, ...]) -> None:
    """Offer the steps that unblock the most parts; open the one that is taken."""
    if not steps:
        screen.tell("nothing to decide or measure; only signatures are missing")
        return

    def opened(chosen: str | None) -> None:
        from tui.part_screen import PartScreen

        if chosen is not None:
            step = steps[int(chosen)]
            screen.app.push_screen(PartScreen(step.part, fix=step.finding))

    ways = {str(k): _words(step) for k, step in enumerate(steps[:_MOST])}
    screen.window(Choose("Do next (unblocks most parts)", ways), opened)


def _words(step: Step) -> str:
    frees = f"unblocks {', '.join(step.frees)}: " if len(step.frees) > 1 else ""
    return f"{frees}{step.finding.code.replace('_', ' ')} [{step.finding.where}], {step.part}"
