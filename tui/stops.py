"""A list of what a verdict found, a line each; stops first. Enter on one is answered by the screen around it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.widgets import OptionList
from textual.widgets.option_list import Option

from tui.signs import finding_lines, said

if TYPE_CHECKING:
    from ledger.domain.finding import Finding
    from ledger.domain.verdict import Verdict
    from tui.signs import Signs


class Stops(OptionList):
    """Stops, warnings, notes; of what is GO also what was not checked."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - textual's own word
        super().__init__(id=id, markup=False)
        self._found: tuple[Finding | None, ...] = ()

    @property
    def chosen(self) -> Finding | None:
        """The finding under the cursor."""
        at = self.highlighted
        return self._found[at] if at is not None and at < len(self._found) else None

    def show(self, verdict: Verdict | None) -> None:
        """The findings of this verdict, a line each, the first with its fix; None while it is not known."""
        signs: Signs = self.app.signs  # type: ignore[attr-defined]  # the program's own, not textual's
        self.clear_options()
        if verdict is None:
            self._found = ()
            self.add_option(Option(said(f"not checked yet {signs.wait}"), disabled=True))
            return
        found = (*verdict.stops, *verdict.warnings, *verdict.notes)
        shown = [*finding_lines(self.app, signs, found, first_fix=True)]
        shown += [
            (said(f"{signs.note} not checked: {m}"), None)
            for m in (verdict.not_checked if verdict.go else ())
        ]
        self._found = tuple(finding for _, finding in shown)
        self.add_options([Option(text, disabled=finding is None) for text, finding in shown])
        self.highlighted = 0 if found else None
