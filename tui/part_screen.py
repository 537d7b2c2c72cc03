"""
One part, whole, as one list: what stops it, its record and everything known of it, what was not checked.

Enter on a row opens what is behind it: a stop opens the place where it is cured, a value its editor.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from tui.actions import bindings
from tui.cures import Cure, cure_for
from tui.frame import ShopScreen
from tui.part_edit import PartEditor
from tui.part_rows import PartView, Row, rows_of
from tui.picture import Picture, labels, plate
from tui.signs import verdict_words

if TYPE_CHECKING:
    from ledger.domain.finding import Finding

_HOLE_KINDS = ("hole",)


class PartScreen(ShopScreen):
    """A part's newest revision. With a `cure` the finding's place is opened at once."""

    WHERE = "part"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]
    DEFAULT_CSS = """
    PartScreen #both { height: 1fr; }
    PartScreen #rows { width: 3fr; height: 100%; }
    PartScreen #picture { width: 2fr; height: 100%; padding: 0 1; }
    PartScreen.-narrow #picture { display: none; width: 1fr; }
    PartScreen.-narrow.beside #picture { display: block; }
    PartScreen.-narrow.beside #rows { display: none; }
    """

    def __init__(self, number: str, *, cure: Finding | None = None) -> None:
        super().__init__()
        self.number = number
        self.view: PartView | None = None
        self._cure = cure
        self._rows: tuple[Row, ...] = ()

    def body(self) -> ComposeResult:
        with Horizontal(id="both"):
            yield OptionList(id="rows", markup=False)
            yield Picture(braille=self.signs.braille, id="picture")

    def on_mount(self) -> None:
        self.head(f"{self.number}: reading")
        self.query_one(OptionList).focus()

    def refreshed(self) -> None:
        self.ask(self._look, self._show)

    def action_view(self) -> None:
        """In a narrow terminal: the picture instead of the list, and back."""
        self.toggle_class("beside")

    def leave(self) -> None:
        """Out of the picture, then out of the part."""
        if self.has_class("beside"):
            self.remove_class("beside")
        else:
            self.fitup.one_back()

    def action_open(self) -> None:
        """Open what is behind the row under the cursor."""
        at = self.query_one(OptionList).highlighted
        if at is not None and at < len(self._rows):
            self.open(self._rows[at])

    def action_dimension(self) -> None:
        """A new key dimension."""
        self._editor().dimension("")

    def action_take(self) -> None:
        """Take the profile from a file."""
        self._editor().take()

    def action_group(self) -> None:
        """Name a group of holes."""
        self._editor().group("")

    def action_question(self) -> None:
        """Ask what is still to be decided."""
        self._editor().question()

    def action_revise(self) -> None:
        """Open a new revision of a locked part."""
        self._editor().revise()

    def action_sign(self) -> None:
        """Sign this part alone."""
        from tui.sign_screen import SignScreen

        self.app.push_screen(SignScreen((self.number,)))

    def action_lock(self) -> None:
        """Lock this part alone."""
        from tui.lock_screen import LockScreen

        self.app.push_screen(LockScreen((self.number,)))

    def open(self, row: Row) -> None:
        """Open what is behind a row."""
        if row.finding and self.view:
            self.cure(cure_for(row.finding, [m.name for m in self.view.mates]))
        elif row.kind:
            self.cure(Cure(row.kind, row.name))

    def cure(self, cure: Cure) -> None:
        """Open the place of a cure."""
        if cure.kind == "mate":
            from tui.mate_screen import MateScreen

            self.app.push_screen(MateScreen(cure.name, place=cure.place))
        elif cure.kind == "sign":
            self.action_sign()
        elif cure.kind == "profile":
            self._editor().take()
        elif cure.kind == "group":
            self._editor().group("" if "/" in cure.name else cure.name)
        elif cure.kind in ("dimension", "field", "question"):
            getattr(self._editor(), {"question": "answer"}.get(cure.kind, cure.kind))(cure.name)
        else:
            self.tell("nothing to edit here: read what it says")

    @on(OptionList.OptionSelected, "#rows")
    def row_selected(self) -> None:
        self.action_open()

    @on(OptionList.OptionHighlighted, "#rows")
    def row_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        row = self._rows[event.option_index]
        label = row.name if row.kind in _HOLE_KINDS else ""
        if row.finding and self.view:
            last = row.finding.where.rpartition("/")[2]
            label = last if self.view.part.hole(last) else ""
        if self.view:
            self.query_one(Picture).mark(labels(self.view.part.holes, label))

    def _editor(self) -> PartEditor:
        return PartEditor(self, self.number, self.view)

    def _look(self) -> PartView:
        part = self.shop.part(self.number)
        (verdict,) = self.shop.verdicts([self.number])
        mates = tuple(m for m in self.shop.mates() if any(p.part == self.number for p in m.plies))
        return PartView(part, verdict, mates)

    def _show(self, view: Any) -> None:
        self.view = view
        part, listed = view.part, self.query_one(OptionList)
        at = listed.highlighted or 0
        state = "locked" if part.locked else "open"
        verdict = verdict_words(self.signs, go=view.verdict.go)
        self.head(f"{part.number} {part.revision} ({state}) {verdict}  {part.title}")
        self._rows = tuple(rows_of(self.app, self.signs, view))
        listed.clear_options()
        listed.add_options([Option(r.text, disabled=r.heading) for r in self._rows])
        listed.highlighted = min(max(at, 1), len(self._rows) - 1)
        picture = self.query_one(Picture)
        picture.show(
            [plate(part.profile, part.holes)], labels(part.holes), empty="no profile taken yet: t takes one"
        )
        cure, self._cure = self._cure, None
        if cure:
            self.cure(cure_for(cure, [m.name for m in view.mates]))
