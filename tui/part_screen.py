"""
One part in five tabs: what stops it, its record, its dimensions and holes, its connections, its history.

Each finding is one line; the hole of the selected one is lit in the picture, with the arrow of its move, and what else
is known of it stands below. Enter on a row opens what is behind it: a finding the place where it is fixed, a value its
editor. After a fix the cursor is on the next finding.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from rich.style import Style
from rich.text import Text
from textual import events, on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from ledger.domain.plates import part_drawing, with_hole_lit
from ledger.domain.todo import todos
from tui.actions import bindings
from tui.fixes import Fix, fix_for
from tui.part_row import PartView, Row
from tui.part_rows import TABS, tabs_of
from tui.part_verbs import PartVerbs
from tui.picture import Picture
from tui.signs import known_of, verdict_words

if TYPE_CHECKING:
    from ledger.domain.finding import Finding


class PartScreen(PartVerbs):
    """A part's newest revision. With a `fix` the finding's place is opened at once."""

    WHERE = "part"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]
    DEFAULT_CSS = """
    PartScreen #both { height: 1fr; }
    PartScreen #list { width: 3fr; height: 100%; }
    PartScreen #tabs { height: 1; background: $surface; link-style: none; link-color: $foreground; }
    PartScreen #rows { height: 1fr; }
    PartScreen #known { height: auto; max-height: 45%; padding: 0 1; background: $surface; display: none; }
    PartScreen #known.any { display: block; }
    PartScreen #known Static { height: auto; }
    PartScreen #picture { width: 2fr; height: 100%; padding: 0 1; }
    PartScreen.-narrow #picture { display: none; width: 1fr; }
    PartScreen.-narrow.beside #picture { display: block; }
    PartScreen.-narrow.beside #list { display: none; }
    """

    def __init__(self, number: str, *, fix: Finding | None = None) -> None:
        super().__init__(number)
        self.tab = TABS[0]
        self.tabs: dict[str, tuple[Row, ...]] = {}
        self._fix = fix
        self._at: dict[str, int] = {}
        self._lit = ""

    def body(self) -> ComposeResult:
        with Horizontal(id="both"):
            with Vertical(id="list"):
                yield Static("", id="tabs")
                yield OptionList(id="rows", markup=False)
                with VerticalScroll(id="known", can_focus=False):
                    yield Static("", id="detail")
            yield Picture(braille=self.signs.braille, id="picture")

    def on_mount(self) -> None:
        self.head(f"{self.number}: reading")
        self.query_one(OptionList).focus()

    def refreshed(self) -> None:
        self.ask(self._look, self._show)

    @property
    def rows(self) -> tuple[Row, ...]:
        """The rows of the tab that is shown."""
        return self.tabs.get(self.tab, ())

    def action_tab(self, name: str) -> None:
        """Show a tab; the cursor is where it was there."""
        if self.has_class("beside"):
            self.remove_class("beside")
        self._at[self.tab] = self.query_one(OptionList).highlighted or 0
        self.tab = name
        if self.view:
            self._fill(self._at.get(name, 0))
        self.query_one(OptionList).focus()

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
        return self.rows[at] if at is not None and at < len(self.rows) else None

    def action_open(self) -> None:
        """Open what is behind the row under the cursor."""
        row = self.chosen
        if row:
            self.open(row)

    def open(self, row: Row) -> None:
        """Open what is behind a row."""
        if row.finding and self.view:
            fix = fix_for(row.finding, [m.name for m in self.view.connections])
            if fix.kind == "look":
                self.action_why()
            else:
                self.fix(fix)
        elif row.kind:
            self.fix(Fix(row.kind, row.name))

    @on(OptionList.OptionSelected, "#rows")
    def row_selected(self) -> None:
        self.action_open()

    @on(OptionList.OptionHighlighted, "#rows")
    def row_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        if event.option_index >= len(self.rows) or self.view is None:
            return
        row = self.rows[event.option_index]
        known = known_of(row.finding) if row.finding else Text()
        self.query_one("#detail", Static).update(known)
        self.query_one("#known").set_class(bool(known), "any")
        self._light(_label_of(row, self.view))

    def on_click(self, event: events.Click) -> None:
        """A click on a hole of the picture puts the cursor on its row."""
        picture = self.query_one(Picture)
        if event.widget is picture and self.view:
            label = picture.label_at(event.x, event.y)
            at = next(
                (i for i, r in enumerate(self.tabs["dimensions"]) if r.kind == "hole" and r.name == label), -1
            )
            if at >= 0:
                self.action_tab("dimensions")
                self.query_one(OptionList).highlighted = at

    def _light(self, label: str, *, anew: bool = False) -> None:
        """The picture with this hole lit and the arrow of its move; anything else by its label alone."""
        if self.view is None or (label == self._lit and not anew):
            return
        self._lit = label
        part, picture = self.view.part, self.query_one(Picture)
        drawing, hole = part_drawing(part), part.hole(label)
        if hole:
            drawing = with_hole_lit(drawing, hole, self.view.moves.get(label))
        picture.show(drawing, empty="no drawing taken yet: t takes one")
        picture.light(label)

    def _look(self) -> PartView:
        job = self.job
        part = job.part(self.number)
        (found,) = job.each_verdict([self.number], changes=True)
        connections = tuple(m for m in job.connections() if any(p.part == self.number for p in m.plies))
        off = {f.where.partition("/")[0] for f in found.verdict.stops if f.code == "offset"}
        views = [job.connection_view(m.name) for m in connections if m.name in off]
        return PartView(
            part,
            found.verdict,
            connections,
            job.permits(self.number),
            job.revisions(self.number),
            found.together,
            job.figures(part).rows,
            {label: move for seen in views for label, move in seen.moves_of(self.number).items()},
            tuple(one.words for one in job.evidence() if one.owner == self.number),
        )

    def _show(self, view: Any) -> None:
        self.view = view
        part, kept = view.part, self.chosen
        state = "locked" if part.locked else "open"
        count = todos(view.verdict.stops)
        asks = "  ".join(f"{what} {n}" for what, n in count.items() if n)
        words = verdict_words(self.signs, go=view.verdict.go)
        self.head(
            f"{part.number} {part.revision} ({state}) {words}  {asks}{'  ' if asks else ''}{part.title}"
        )
        self.tabs = tabs_of(self.app, self.signs, view)
        if self._fix:
            self.tab = TABS[0]
        at = self.query_one(OptionList).highlighted or 0
        expected = (
            (self._fix.code, self._fix.where) if self._fix else kept.key if kept and any(kept.key) else ()
        )
        same = (i for i, r in enumerate(self.rows) if r.key == expected and not r.heading)
        self._fill(next(same, at))
        self._light(self._lit, anew=True)
        fix, self._fix = self._fix, None
        if fix:
            self.fix(fix_for(fix, [m.name for m in view.connections]))

    def _fill(self, at: int) -> None:
        """The rows of the tab that is shown, the cursor on this one, or on the next that is no heading."""
        rows, listed = self.rows, self.query_one(OptionList)
        self.query_one("#tabs", Static).update(self._tabs_line())
        listed.clear_options()
        listed.add_options([Option(r.text, disabled=r.heading) for r in rows])
        can = [i for i, r in enumerate(rows) if not r.heading]
        listed.highlighted = next((i for i in can if i >= at), can[-1] if can else None)
        listed.scroll_to_highlight()

    def _tabs_line(self) -> Text:
        """The names of the tabs with their keys, the one that is shown set off."""
        line = Text(no_wrap=True)
        for key, name in enumerate(TABS, 1):
            look = Style(bold=name == self.tab, reverse=name == self.tab)
            go = Style(meta={"@click": f"screen.tab('{name}')"})
            line.append(f" {key} {name} ", look + go)
        return line


def _label_of(row: Row, view: PartView) -> str:
    """The hole, bend line or point that a row speaks of, as its label in the drawing; empty where there is none."""
    if row.finding:
        for piece in reversed(row.finding.where.split("/")):
            if view.part.hole(piece) or piece in view.part.bend_lines:
                return piece if _is_own(row.finding, view) else _counterpart(row.finding, view)
        return _counterpart(row.finding, view)
    return row.name if row.kind in ("hole", "bend") else ""


def _is_own(finding: Finding, view: PartView) -> bool:
    """Whether the place of a finding is of this part: CONNECTION/PART/HOLE names whose it is."""
    pieces = finding.where.split("/")
    return len(pieces) < 3 or pieces[-2] == view.part.number  # noqa: PLR2004 - connection, part, hole


def _counterpart(finding: Finding, view: PartView) -> str:
    """Of a hole of another part that is off, the hole of this part that it should meet."""
    return next(iter(view.moves), "") if finding.code == "offset" and len(view.moves) == 1 else ""
