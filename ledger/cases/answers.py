"""What a rule can answer besides findings: that it could not look, had nothing to look at, or left a matter alone."""

from __future__ import annotations

from dataclasses import dataclass


class NotRun(Exception):  # a state of a check, not a fault
    """A check could not look at this case; the reason is shown and stops the release."""


class NoDrawing(NotRun):
    """It could not look because a drawing, or the outline in it, is not there: of the part `number`, else its own."""

    def __init__(self, reason: str, number: str = "") -> None:
        super().__init__(reason)
        self.number = number


class DoesNotApply(Exception):  # likewise
    """A check has nothing to look at here; the reason joins what was not checked, where it matters."""

    def __init__(self, reason: str = "") -> None:
        super().__init__(reason)


@dataclass(frozen=True, slots=True)
class NotChecked:
    """A matter of this case that the check left alone; it joins what every GO says was not checked."""

    text: str
