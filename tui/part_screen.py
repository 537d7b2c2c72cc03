"""
One part, whole, as one list: what stops it, its record and everything known of it, what was not checked.

Enter on a row opens what is behind it: a stop opens the place where it is fixed, a value its editor.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from ledger.domain.plates import part_drawing
from tui import connection_edit
from tui.actions import bindings
from tui.fixes import Fix, fix_for
from tui.frame import JobScreen
from tui.part_edit import PartEditor
from tui.part_fixes import FindingFixes
from tui.part_rows import PartView, Row, rows_of
from tui.picture import Picture
from tui.signs import verdict_words

if TYPE_CHECKING:
    from ledger.domain.finding import Finding

_HOLE_KINDS = ("hole",)


class PartScreen(JobScreen):
    """A part's newest revision. With a `fix` the finding's place is opened at once."""

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

    def __init__(self, number: str, *, fix: Finding | None = None) -> None:
        super().__init__()
        self.number = number
        self.view: PartView | None = None
        self._fix = fix
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

    @property
    def chosen(self) -> Row | None:
        """The row under the cursor."""
        at = self.query_one(OptionList).highlighted
        return self._rows[at] if at is not None and at < len(self._rows) else None

    def action_open(self) -> None:
        """Open what is behind the row under the cursor."""
        row = self.chosen
        if row:
            self.open(row)

    def action_dimension(self) -> None:
        """A new key dimension."""
        self.editor().dimension("")

    def action_take(self) -> None:
        """Take the drawing from a file."""
        self.editor().take()

    def action_group(self) -> None:
        """Name a group of holes."""
        self.editor().group("")

    def action_connection(self) -> None:
        """Record a connection of this part."""
        connection_edit.declare(self, self.number)

    def action_operation(self) -> None:
        """What is done to the hole under the cursor after cutting."""
        row = self.chosen
        self.editor().operation(row.name if row and row.kind == "hole" else "")

    def action_bend(self) -> None:
        """What is done at the bend line under the cursor."""
        row = self.chosen
        self.editor().bend(row.name if row and row.kind == "bend" else "")

    def action_hole(self) -> None:
        """A hole or stud of a site or bought part, by its coordinates."""
        self.editor().hole("")

    def action_point(self) -> None:
        """A point of a structure."""
        self.editor().point("")

    def action_distance(self) -> None:
        """A measured distance between two points."""
        self.editor().distance("")

    def action_permit(self) -> None:
        """Accept the finding under the cursor in writing."""
        from tui.permit_window import permit

        row = self.chosen
        if row and row.finding:
            permit(self, self.number, row.finding)
        else:
            self.tell("put the cursor on a stop or a warning, then press p")

    def action_why(self) -> None:
        """Everything known of the finding under the cursor."""
        from tui.why_window import WhyWindow

        row = self.chosen
        if row and row.finding:
            code = row.finding.code
            show = lambda why: self.window(WhyWindow(why), lambda _closed: None)  # noqa: E731 - one call
            self.ask(lambda: self.job.why(self.number, code), show)
        else:
            self.tell("put the cursor on a stop, a warning or a note, then press e")

    def action_remove(self) -> None:
        """Remove what is under the cursor from the record."""
        from tui.removal import remove

        if self.view:
            remove(self, self.view.part, self.chosen)

    def action_write(self) -> None:
        """What can be written to a file."""
        if self.view:
            from tui.files_screen import FilesScreen

            self.app.push_screen(FilesScreen(self.view))

    def action_question(self) -> None:
        """Ask what is still to be decided."""
        self.editor().question()

    def action_links(self) -> None:
        """What the question under the cursor holds up, and what it depends on."""
        row = self.chosen
        asked = row.name if row and row.kind == "question" else ""
        if row and row.finding and row.finding.code == "question_open":
            asked = fix_for(row.finding, ()).name
        self.editor().links(asked)

    def action_revise(self) -> None:
        """Open a new revision of a locked part."""
        self.editor().revise()

    @property
    def together(self) -> tuple[str, ...]:
        """The part of this screen, and those it was last signed together with."""
        return (self.view.together if self.view else ()) or (self.number,)

    def action_sign(self) -> None:
        """Sign this part, with those it was last signed together with."""
        from tui.sign_screen import SignScreen

        self.app.push_screen(SignScreen(self.together))

    def action_changes(self) -> None:
        """What changed since each person signed, and from revision to revision."""
        from tui.changes_screen import ChangesScreen

        self.app.push_screen(ChangesScreen(self.number))

    def action_lock(self) -> None:
        """Lock this part, with those it was last signed together with."""
        from tui.lock_screen import LockScreen

        self.app.push_screen(LockScreen(self.together))

    def open(self, row: Row) -> None:
        """Open what is behind a row."""
        if row.finding and self.view:
            self.fix(fix_for(row.finding, [m.name for m in self.view.connections]))
        elif row.kind:
            self.fix(Fix(row.kind, row.name))

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
            self.query_one(Picture).light(row.name if row.kind == "bend" else label)

    def fix(self, fix: Fix) -> None:
        """Open the place of a fix."""
        FindingFixes(self).open(fix)

    def editor(self) -> PartEditor:
        """The verbs of this part."""
        return PartEditor(self, self.number, self.view)

    def _look(self) -> PartView:
        part = self.job.part(self.number)
        (found,) = self.job.each_verdict([self.number], changes=True)
        connections = tuple(m for m in self.job.connections() if any(p.part == self.number for p in m.plies))
        return PartView(
            part,
            found.verdict,
            connections,
            self.job.permits(self.number),
            self.job.revisions(self.number),
            found.together,
            self.job.figures(part).rows,
        )

    def _show(self, view: Any) -> None:
        self.view = view
        part, listed = view.part, self.query_one(OptionList)
        at, kept = listed.highlighted or 0, self.chosen
        state = "locked" if part.locked else "open"
        verdict = verdict_words(self.signs, go=view.verdict.go)
        self.head(f"{part.number} {part.revision} ({state}) {verdict}  {part.title}")
        self._rows = tuple(rows_of(self.app, self.signs, view))
        listed.clear_options()
        listed.add_options([Option(r.text, disabled=r.heading) for r in self._rows])
        expected = (
            (self._fix.code, self._fix.where) if self._fix else kept.key if kept and any(kept.key) else ()
        )
        same = (i for i, r in enumerate(self._rows) if r.key == expected and not r.heading)
        listed.highlighted = next(same, min(max(at, 1), len(self._rows) - 1))
        picture = self.query_one(Picture)
        picture.show(part_drawing(part), empty="no drawing taken yet: t takes one")
        fix, self._fix = self._fix, None
        if fix:
            self.fix(fix_for(fix, [m.name for m in view.connections]))
