"""A connection field by field: Enter on a row asks for it, the last row records the whole."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, Any, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from ledger.domain.connection import CONNECTION_KINDS, HOLES_MADE, JOINTS, WELD_SIDES, WELDED
from ledger.domain.errors import BadInput
from ledger.domain.position import read_also, read_position
from ledger.domain.quantity import read_bounds
from ledger.words.connections import (
    FACES,
    TURNED_OVER_WORDS,
    WELD_CLASSES,
    WELD_FIELDS,
    also_words,
    connection_fields,
    connection_reading,
    fastener_words,
    new_name,
)
from tui.actions import bindings
from tui.choice_window import Choose
from tui.frame import JobScreen
from tui.part_editor import do
from tui.signs import said

if TYPE_CHECKING:
    from ledger.domain.connection import Connection

_EMPTY = {
    "connection_kind": "bolted",
    "fastener": "",
    "joint": "through",
    "turned_over": "no",
    "position": "",
    "also": (),
    "gap": "",
    **dict.fromkeys(WELD_FIELDS, ""),
}
_WELD_CHOICES = {"weld_side": WELD_SIDES, "weld_class": WELD_CLASSES, "holes_made": HOLES_MADE}
_UNSAID = {"": "(not entered)"}
_LABELS = {
    "name": "name",
    "connection_kind": "kind",
    "fastener": "fastener",
    "joint": "joint",
    "turned_over": "turned over",
    "position": "position",
    "also": "other fasteners",
    "gap": "drawn or root gap",
    "weld_side": "welded on",
    "weld_class": "class (ISO 13920)",
    "holes_made": "holes across weld",
}
_ALL_HOLES = "(every hole)"


class ConnectionForm(JobScreen):
    """A new connection of a part, or a recorded one to be edited."""

    WHERE = "connection form"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]
    DEFAULT_CSS = "ConnectionForm OptionList { height: 1fr; }"

    def __init__(self, number: str, connection: Connection | None = None) -> None:
        super().__init__()
        self._connection, self._number = connection, number
        first = {"part": number, "group": "", "face_up": "top"}
        self.fields: dict[str, Any] = (
            connection_fields(connection) if connection else {"name": "", **_EMPTY, "plies": (first,)}
        )
        self._groups: dict[str, tuple[str, ...]] = {}
        self._taken: tuple[str, ...] = ()
        self._ways: list[Callable[[], None] | None] = []

    def body(self) -> ComposeResult:
        yield OptionList(markup=False)

    def on_mount(self) -> None:
        self.head(f"edit the connection {self._connection.name}" if self._connection else "new connection")
        self.query_one(OptionList).focus()

    def refreshed(self) -> None:
        def known() -> tuple[dict[str, tuple[str, ...]], tuple[str, ...]]:
            groups = {p.number: tuple(g.name for g in p.groups) for p in self.job.parts()}
            return groups, tuple(m.name for m in self.job.connections())

        left = self.fitup.unfinished.get(self._key)
        if left and not self._groups:
            self.fields = left
        self.ask(known, self._show)

    def leave(self) -> None:
        """Out of the form; what was filled in is there when it is opened again."""
        self.fitup.unfinished[self._key] = dict(self.fields)
        self.fitup.one_back()

    @property
    def _key(self) -> str:
        """What the form is for: it names what was left half-filled."""
        return f"connection form of {self._connection.name if self._connection else self._number}"

    def action_open(self) -> None:
        """Ask for what is under the cursor."""
        at = self.query_one(OptionList).highlighted
        way = self._ways[at] if at is not None and at < len(self._ways) else None
        if way:
            way()

    @on(OptionList.OptionSelected)
    def row_selected(self) -> None:
        self.action_open()

    def _show(self, known: tuple[dict[str, tuple[str, ...]], tuple[str, ...]]) -> None:
        self._groups, self._taken = known
        self._fill()

    def _fill(self) -> None:
        listed = self.query_one(OptionList)
        at = listed.highlighted or 0
        rows = list(self._rows())
        self._ways = [way for _words, way in rows]
        listed.clear_options()
        listed.add_options([Option(said(words), disabled=way is None) for words, way in rows])
        listed.highlighted = min(at, len(rows) - 1)

    def _rows(self) -> list[tuple[str, Callable[[], None] | None]]:
        f = self.fields
        rows: list[tuple[str, Callable[[], None] | None]] = []
        if not self._connection:
            rows.append(self._row("name", lambda: self._text("name", self._a_name, "such as TURN-BASE")))
        rows.append(
            self._row(
                "connection_kind", lambda: self._pick("connection_kind", {k: k for k in CONNECTION_KINDS})
            )
        )
        if f["connection_kind"] == "bolted":
            rows.append(self._row("fastener", lambda: self._text("fastener", fastener_words, "M12, 1/2-13")))
            rows.append(self._row("joint", lambda: self._pick("joint", {j: j for j in JOINTS})))
        for place, ply in enumerate(f["plies"]):
            lead = f"part {place + 1}" if place else "part 1, on part 2"
            words = f"{ply['part']}, {ply['group'] or 'every hole'}, {ply['face_up']} up"
            rows.append((f"{lead:<20}{words}", lambda place=place: self._ply(place)))  # type: ignore[misc]  # mypy does not see through the default
        rows.append(("add a part", lambda: self._ply(len(f["plies"]))))
        rows.append(self._row("turned_over", lambda: self._pick("turned_over", TURNED_OVER_WORDS)))
        rows.append(
            self._row("position", lambda: self._text("position", _a_place, "X Y ANGLE, pins, left on left"))
        )
        if f["connection_kind"] == "bolted":
            rows += [self._also(place) for place in range(len(f["also"]) + 1)]
        else:
            rows.append(self._row("gap", lambda: self._text("gap", _a_gap, "such as >= 2 mm")))
        if f["connection_kind"] in WELDED:
            rows += [self._weld_row(name) for name in WELD_FIELDS]
        try:
            rows.append((f"record: {connection_reading(self._whole())}", self._record))
        except BadInput as fault:
            rows.append((f"incomplete: {fault}", None))
        return rows

    def _row(self, name: str, way: Callable[[], None]) -> tuple[str, Callable[[], None]]:
        value = TURNED_OVER_WORDS[self.fields[name]] if name == "turned_over" else self.fields[name]
        return f"{_LABELS[name]:<20}{value or '-'}", way

    def _also(self, place: int) -> tuple[str, Callable[[], None]]:
        """One other fastener, or the row to add one."""
        known = self.fields["also"]
        words = also_words(known[place]) if place < len(known) else ""

        def put(text: str) -> None:
            more = (asdict(read_also(text)),) if text.strip() else ()
            self._set("also", (*known[:place], *more, *known[place + 1 :]))

        label = _LABELS["also"] if not place else ""
        return f"{label:<20}{words or 'add one'}", lambda: self.enter(
            _LABELS["also"], _another, put, value=words, hint="M6 dowel PINS on PINS; empty: none"
        )

    def _weld_row(self, name: str) -> tuple[str, Callable[[], None]]:
        return self._row(name, lambda: self._pick(name, {**_UNSAID, **{w: w for w in _WELD_CHOICES[name]}}))

    def _a_name(self, text: str) -> str:
        return new_name(text.strip(), self._taken)

    def _whole(self) -> dict[str, Any]:
        """The fields as the act takes them. Raises BadInput for what is missing."""
        if not self.fields["name"]:
            raise BadInput("name missing")
        if len(self.fields["plies"]) < 2:  # noqa: PLR2004 - two parts
            raise BadInput("second part missing")
        bolted = self.fields["connection_kind"] == "bolted"
        welded = self.fields["connection_kind"] in WELDED
        put_aside = (*(("gap",) if bolted else ("fastener", "joint")), *(() if welded else WELD_FIELDS))
        also = self.fields["also"] if bolted else ()
        return {**self.fields, **dict.fromkeys(put_aside, ""), "also": also}

    def _pick(self, name: str, ways: Mapping[str, str]) -> None:
        self._choose(_LABELS[name], ways, lambda value: self._set(name, value), self.fields[name])

    def _text(self, name: str, read: Callable[[str], str], hint: str) -> None:
        self.enter(
            _LABELS[name], read, lambda t: self._set(name, t.strip()), value=self.fields[name], hint=hint
        )

    def _set(self, name: str, value: Any) -> None:
        self.fields[name] = value
        self._fill()

    def _ply(self, place: int) -> None:
        """Ask which part, which of its groups, which face is up."""

        def part_taken(part: str) -> None:
            groups = {"": _ALL_HOLES, **{g: f"group {g}" for g in self._groups.get(part, ())}}
            self._choose(f"which holes of {part}?", groups, lambda group: interface_asked(part, group))

        def interface_asked(part: str, group: str) -> None:
            faces = {f: f"{f} up" for f in FACES}
            self._choose(f"which face of {part}?", faces, lambda face: taken(part, group, face))

        def taken(part: str, group: str, face: str) -> None:
            plies = list(self.fields["plies"])
            plies[place : place + 1] = [{"part": part, "group": group, "face_up": face}]
            self._set("plies", tuple(plies))

        kept = self.fields["plies"]
        others = {p["part"] for i, p in enumerate(kept) if i != place}
        chosen = kept[place]["part"] if place < len(kept) else ""
        ways = {n: n for n in self._groups if n not in others}
        if ways:
            self._choose("which part?", ways, part_taken, chosen)
        else:
            self.tell("no other part yet: record one first", fault=True)

    def _choose(
        self, title: str, ways: Mapping[str, str], take: Callable[[str], None], chosen: str = ""
    ) -> None:
        self.window(
            Choose(title, ways, chosen=chosen), lambda value: take(value) if value is not None else None
        )

    def _done(self, _entry: int) -> None:
        self.fitup.unfinished.pop(self._key, None)
        self.fitup.one_back()

    def _record(self) -> None:
        do(
            self,
            "RecordConnection",
            then=self._done,
            **self._whole(),
        )


def _a_place(text: str) -> str:
    if not text.strip():
        return "not entered: the holes decide"
    read_position(text)
    return text.strip()


def _another(text: str) -> str:
    return also_words(asdict(read_also(text))) if text.strip() else "none"


def _a_gap(text: str) -> str:
    return str(read_bounds(text.strip())) if text.strip() else "none required"
