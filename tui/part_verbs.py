"""What can be done on a part's screen, each by a key: entering, asking, removing, permitting, signing, locking."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui import connection_edit
from tui.fixes import Fix, fix_for
from tui.frame import JobScreen
from tui.part_edit import PartEditor
from tui.part_fixes import FindingFixes

if TYPE_CHECKING:
    from tui.part_row import PartView, Row


class PartVerbs(JobScreen):
    """The verbs of one part; whoever derives shows it, and says which row is under the cursor."""

    def __init__(self, number: str) -> None:
        super().__init__()
        self.number = number
        self.view: PartView | None = None

    @property
    def chosen(self) -> Row | None:
        """The row under the cursor."""
        raise NotImplementedError

    def action_tab(self, name: str) -> None:
        """Show a tab."""
        raise NotImplementedError

    def fix(self, fix: Fix) -> None:
        """Open the place of a fix."""
        FindingFixes(self).open(fix)

    def editor(self) -> PartEditor:
        """The verbs of this part."""
        return PartEditor(self, self.number, self.view)

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
        from tui.why_window import show_why

        row = self.chosen
        if row and row.finding:
            show_why(self, self.number, row.finding)
        else:
            self.tell("put the cursor on a finding, then press e")

    def action_first(self) -> None:
        """What to do next, wherever it is."""
        from tui.next_window import choose_first

        steps = self.job.first_steps
        self.ask(steps, lambda found: choose_first(self, found), busy="checking every open part")

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

    def action_enter_line(self, name: str) -> None:
        """An act that is entered as one line."""
        self.editor().line_act(name)

    def action_question(self) -> None:
        """Ask what is still to be decided."""
        self.editor().question()

    def action_evidence(self) -> None:
        """Keep a photograph or a paper with the part, or with the question under the cursor."""
        row = self.chosen
        self.editor().evidence(row.name if row and row.kind == "question" else "")

    def action_links(self) -> None:
        """What the question under the cursor holds up, and what it depends on."""
        row = self.chosen
        asked = row.name if row and row.kind == "question" else ""
        if row and row.finding and row.finding.code == "question_open":
            asked = fix_for(row.finding, ()).name
        self.editor().links(asked)

    def action_new(self) -> None:
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
