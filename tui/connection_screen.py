"""
One connection: both plates over each other as fitted, what is wrong with them, every pair of holes, clearances.

The first ply is drawn solid, the second dashed, each in its own color; where both share a cell it is bold. Where a hole
is wrong the picture opens at it, with the arrow of its move and whose hole is which.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Container, Vertical, VerticalScroll
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from ledger.domain.errors import BadInput
from ledger.words.bolts import bolt_line, bolt_words
from ledger.words.clearances import clearance_line
from ledger.words.forms import BOLT, CLEARANCE
from tui import connection_edit
from tui.actions import bindings
from tui.connection_rows import Row, box_of, marks_of, picture_of, rows_of, title_of, worst_pair
from tui.frame import JobScreen
from tui.part_editor import do
from tui.picture import Picture
from tui.removal import remove_clearance

if TYPE_CHECKING:
    from ledger.job import ConnectionView

_STEPS = {"up": (0, 1), "down": (0, -1), "left": (-1, 0), "right": (1, 0)}


class ConnectionPicture(Picture, can_focus=True):
    """The picture of a connection takes the arrows when it has the focus."""

    DEFAULT_CSS = "ConnectionPicture:focus { background: $boost; }"


class ConnectionScreen(JobScreen):
    """A connection; `place` is the place of the finding that led here, selected at once."""

    WHERE = "connection"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]
    DEFAULT_CSS = """
    ConnectionScreen #both { height: 1fr; layout: horizontal; }
    ConnectionScreen #picture { width: 1fr; height: 100%; }
    ConnectionScreen #list { width: 1fr; height: 100%; }
    ConnectionScreen #rows { width: 100%; height: 1fr; }
    ConnectionScreen #known { height: auto; max-height: 40%; padding: 0 1; background: $surface; display: none; }
    ConnectionScreen #known.any { display: block; }
    ConnectionScreen #known Static { height: auto; }
    ConnectionScreen.-narrow #both { layout: vertical; }
    ConnectionScreen.-narrow #picture { width: 100%; height: 1fr; }
    ConnectionScreen.-narrow #list { width: 100%; height: 1fr; }
    ConnectionScreen.-narrow #known { display: none; }
    """

    def __init__(self, name: str, *, place: str = "") -> None:
        super().__init__()
        self.connection = name
        self.view: ConnectionView | None = None
        self._place = place
        self._rows: tuple[Row, ...] = ()

    def body(self) -> ComposeResult:
        with Container(id="both"):
            yield ConnectionPicture(braille=self.signs.braille, id="picture")
            with Vertical(id="list"):
                yield OptionList(id="rows", markup=False)
                with VerticalScroll(id="known", can_focus=False):
                    yield Static("", id="detail")

    def on_mount(self) -> None:
        self.head(f"{self.connection}: fitting")
        self.query_one(OptionList).focus()

    @property
    def picture(self) -> Picture:
        """The picture of both plates."""
        return self.query_one(Picture)

    def refreshed(self) -> None:
        self.ask(lambda: self.job.connection_view(self.connection), self._show, busy="fitting")

    def action_closer(self) -> None:
        """Zoom in."""
        self.picture.closer()

    def action_farther(self) -> None:
        """Zoom out."""
        self.picture.closer(away=True)

    def action_whole(self) -> None:
        """Show all of both plates."""
        self.picture.everything()

    def action_pan(self, way: str) -> None:
        """Look further up, down, left or right."""
        self.picture.pan(*_STEPS[way])

    @property
    def chosen(self) -> Row | None:
        """The row under the cursor."""
        at = self.query_one(OptionList).highlighted
        return self._rows[at] if at is not None and at < len(self._rows) else None

    def action_open(self) -> None:
        """Measure the clearance under the cursor, or open what it speaks of."""
        if self.chosen:
            self._open(self.chosen)

    def action_why(self) -> None:
        """Everything known of the finding under the cursor."""
        from tui.why_window import show_why

        row = self.chosen
        number = self._owner(row) if row else ""
        if row and row.finding and number:
            show_why(self, number, row.finding)
        else:
            self.tell("put the cursor on a finding, then press e")

    def action_new(self) -> None:
        """Require a clearance of this connection."""

        def take(text: str) -> None:
            do(
                self,
                "RequireClearance",
                connection=self.connection,
                **clearance_line(text).fields,
            )

        self.enter(
            f"required clearance of {self.connection}",
            lambda t: clearance_line(t).reading,
            take,
            hint=CLEARANCE.hint,
        )

    def action_bolts(self) -> None:
        """How long the bolts are, and how many washers each has."""
        if not self.view or self.view.connection.kind != "bolted":
            self.tell(f"{self.connection} has no bolts", fault=True)
            return

        def take(text: str) -> None:
            do(self, "RecordBolt", connection=self.connection, **bolt_line(text).fields)

        self.enter(
            f"bolts of {self.connection}",
            lambda t: bolt_line(t).reading,
            take,
            value=bolt_words(self.view.connection),
            hint=BOLT.hint,
        )

    def action_freeze(self) -> None:
        """Freeze the interface that one of the plies shows to this connection."""
        numbers = [p.part.number for p in self.view.plies] if self.view else []

        def read(text: str) -> str:
            if text.strip() not in numbers:
                raise BadInput(f"one of {', '.join(numbers)}")
            return f"from now on a change to that interface stops {text.strip()}"

        def take(text: str) -> None:
            work = lambda: self.job.freeze(self.connection, text.strip(), by=self.fitup.workstation)  # noqa: E731 - one call
            self.ask(work, self.recorded, busy="recording", group="change")

        self.enter("freeze the interface of which part?", read, take, hint=", ".join(numbers))

    def action_connection(self) -> None:
        """Edit the connection."""
        if self.view:
            connection_edit.change(self, self.view.connection)

    def action_remove(self) -> None:
        """Remove the clearance under the cursor with a reason, else the connection, by its name typed and a reason."""
        row = self.chosen
        if row and row.clearance:
            remove_clearance(self, self.connection, row.clearance)
        elif self.view:
            connection_edit.remove(self, self.view.connection, lambda _entry: self.fitup.one_back())

    @on(OptionList.OptionSelected, "#rows")
    def row_selected(self) -> None:
        self.action_open()

    @on(OptionList.OptionHighlighted, "#rows")
    def row_highlighted(self) -> None:
        known = self.chosen.known if self.chosen else None
        self.query_one("#detail", Static).update(known or "")
        self.query_one("#known").set_class(bool(known), "any")

    def _owner(self, row: Row) -> str:
        """A part of this connection at which the finding of a row is told: an open one, where there is any."""
        plies = self.view.plies if self.view else ()
        still_open = [p.part.number for p in plies if not p.part.locked]
        return row.number or next(iter(still_open), plies[0].part.number if plies else "")

    def _open(self, row: Row) -> None:
        if row.clearance:
            connection_edit.measure(self, self.connection, row.clearance)
        elif row.bolts:
            self.action_bolts()
        elif row.recorded:
            self.action_connection()
        elif row.number:
            from tui.part_screen import PartScreen

            self.app.push_screen(PartScreen(row.number))
        elif row.pair:
            self._look_at(row.pair)
            self.tell("to move a hole, edit its drawing, then take the drawing again; 0 shows all")
        elif row.finding:
            self.action_why()
        else:
            self.picture.everything()
            self.tell("all of both plates; Enter on a pair of holes shows it close")

    def _look_at(self, pair: str) -> None:
        box = box_of(self.view, pair) if self.view and pair else None
        if box:
            self.picture.look_at(box)

    def _show(self, view: Any) -> None:
        again = self.view is not None
        self.view = view
        self.head(f"{self.connection}  {title_of(self.signs, view)}")
        empty = "no drawing taken for either part yet"
        self.picture.show(picture_of(view), marks_of(self.signs, view), empty=empty)
        if not again:
            self._look_at(worst_pair(view))
        self._rows = tuple(rows_of(self.app, self.signs, view))
        listed = self.query_one(OptionList)
        at = listed.highlighted
        listed.clear_options()
        listed.add_options([Option(r.text) for r in self._rows])
        place, self._place = self._place, ""
        expected = next((i for i, r in enumerate(self._rows) if place and r.where == place), at or 0)
        listed.highlighted = min(expected, len(self._rows) - 1)
