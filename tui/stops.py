"""A list of what a verdict found, each with its fix; stops first. Enter on one is answered by the screen around it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.widgets import OptionList
from textual.widgets.option_list import Option

from tui.signs import finding_texts, said

if TYPE_CHECKING:
    from ledger.domain.finding import Finding
    from ledger.domain.gate import Verdict
    from tui.signs import Signs


class Stops(OptionList):
    """Stops, warnings, notes, then what was not checked."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - textual's own word
        super().__init__(id=id, markup=False)
        self._found: tuple[Finding | None, ...] = ()

    @property
    def chosen(self) -> Finding | None:
        """The finding under the cursor."""
        at = self.highlighted
        return self._found[at] if at is not None and at < len(self._found) else None

    def show(self, verdict: Verdict | None) -> None:
        """The findings of this verdict; None while it is not known."""
        signs: Signs = self.app.signs  # type: ignore[attr-defined]  # the program's own, not textual's
        self.clear_options()
        findings = (*verdict.stops, *verdict.warnings, *verdict.notes) if verdict else ()
        shown = tuple(finding_texts(self.app, signs, findings))
        self._found = tuple(found for _, found in shown)
        if verdict is None:
            self.add_option(Option(said(f"not checked yet {signs.wait}"), disabled=True))
            return
        self.add_options([Option(text, disabled=found is None) for text, found in shown])
        self.add_option(Option(said("not checked:", "bold"), disabled=True))
        self.add_options([Option(said(f"- {m}"), disabled=True) for m in verdict.not_checked])
        self.highlighted = 0 if self._found else None
