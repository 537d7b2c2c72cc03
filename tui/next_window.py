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
        if chosen is not None:
            open_step(screen, steps[int(chosen)])

    ways = {str(k): _words(step) for k, step in enumerate(steps[:_MOST])}
    screen.window(Choose("Do next (unblocks most parts)", ways), opened)


def open_step(screen: JobScreen, step: Step) -> None:
    """Open the place where a step is done."""
    from tui.part_screen import PartScreen

    screen.app.push_screen(PartScreen(step.part, fix=step.finding))


def step_words(step: Step) -> str:
    """What is to be done, in a line: decide, measure or fix, and what is wrong."""
    does = {"question_open": "decide", "not_measured": "measure", "not_proven": "measure"}
    return f"{does.get(step.finding.code, 'fix'):<8}{step.finding.headline}"


def _words(step: Step) -> str:
    frees = f"  unblocks {', '.join(step.frees)}" if len(step.frees) > 1 else ""
    return f"{step.part}  {step_words(step)}{frees}"
