"""A mate field by field: Enter on a row asks for it, the last row records the whole."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, Any, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from ledger.domain.errors import BadInput
from ledger.domain.located import read_also, read_located
from ledger.domain.mated import HOLES_MADE, JOINTS, MATE_KINDS, WELD_SIDES, WELDED
from ledger.domain.quantity import read_bounds
from ledger.standards.weldments import CLASSES
from tui.actions import bindings
from tui.choosing import Choose
from tui.frame import ShopScreen
from tui.mate_lines import FACES, FLIP_WORDS, WELD_FIELDS, also_words, mate_fields, mate_reading, new_name
from tui.recording import do
from tui.signs import said

if TYPE_CHECKING:
    from ledger.domain.mated import Mate

_EMPTY = {
    "mate_kind": "bolted",
    "fastener": "",
    "joint": "through",
    "flip": "no",
    "located": "",
    "also": (),
    "gap": "",
    **dict.fromkeys(WELD_FIELDS, ""),
}
_WELD_CHOICES = {"weld_side": WELD_SIDES, "weldment": CLASSES, "holes_made": HOLES_MADE}
_UNSAID = {"": "(not said)"}
_LABELS = {
    "name": "name",
    "mate_kind": "kind",
    "fastener": "fastener",
    "joint": "joint",
    "flip": "lies",
    "located": "held",
    "also": "other fasteners",
    "gap": "drawn or root gap",
    "weld_side": "welded on",
    "weldment": "class of ISO 13920",
    "holes_made": "holes across it",
}
_ALL_HOLES = "(every hole)"


class MateForm(ShopScreen):
    """A new mate of a part, or a declared one to be changed."""

    WHERE = "mate form"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]
    DEFAULT_CSS = "MateForm OptionList { height: 1fr; }"

    def __init__(self, number: str, mate: Mate | None = None) -> None:
        super().__init__()
        self._mate = mate
        first = {"part": number, "group": "", "face_up": "top"}
        self.fields: dict[str, Any] = mate_fields(mate) if mate else {"name": "", **_EMPTY, "plies": (first,)}
        self._groups: dict[str, tuple[str, ...]] = {}
        self._taken: tuple[str, ...] = ()
        self._ways: list[Callable[[], None] | None] = []

    def body(self) -> ComposeResult:
        yield OptionList(markup=False)

    def on_mount(self) -> None:
        self.head(f"change the mate {self._mate.name}" if self._mate else "a new mate")
        self.query_one(OptionList).focus()

    def refreshed(self) -> None:
        def known() -> tuple[dict[str, tuple[str, ...]], tuple[str, ...]]:
            groups = {p.number: tuple(g.name for g in p.groups) for p in self.shop.parts()}
            return groups, tuple(m.name for m in self.shop.mates())

        self.ask(known, self._show)

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
        if not self._mate:
            rows.append(self._row("name", lambda: self._text("name", self._a_name, "such as TURN-BASE")))
        rows.append(self._row("mate_kind", lambda: self._pick("mate_kind", {k: k for k in MATE_KINDS})))
        if f["mate_kind"] == "bolted":
            rows.append(self._row("fastener", lambda: self._text("fastener", _a_fastener, "M12, 1/2-13")))
            rows.append(self._row("joint", lambda: self._pick("joint", {j: j for j in JOINTS})))
        for place, ply in enumerate(f["plies"]):
            lead = f"part {place + 1}" if place else "part 1, laid on 2"
            words = f"{ply['part']}, {ply['group'] or 'every hole'}, {ply['face_up']} up"
            rows.append((f"{lead:<20}{words}", lambda place=place: self._ply(place)))  # type: ignore[misc]  # mypy does not see through the default
        rows.append(("add a part", lambda: self._ply(len(f["plies"]))))
        rows.append(self._row("flip", lambda: self._pick("flip", FLIP_WORDS)))
        rows.append(
            self._row("located", lambda: self._text("located", _a_place, "X Y ANGLE, pins, left on left"))
        )
        if f["mate_kind"] == "bolted":
            rows += [self._also(place) for place in range(len(f["also"]) + 1)]
        else:
            rows.append(self._row("gap", lambda: self._text("gap", _a_gap, "such as >= 2 mm")))
        if f["mate_kind"] in WELDED:
            rows += [self._weld_row(name) for name in WELD_FIELDS]
        try:
            rows.append((f"record it: {mate_reading(self._whole())}", self._record))
        except BadInput as fault:
            rows.append((f"not whole yet: {fault}", None))
        return rows

    def _row(self, name: str, way: Callable[[], None]) -> tuple[str, Callable[[], None]]:
        value = FLIP_WORDS[self.fields[name]] if name == "flip" else self.fields[name]
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
            raise BadInput("it has no name")
        if len(self.fields["plies"]) < 2:  # noqa: PLR2004 - two parts
            raise BadInput("add the other part")
        bolted = self.fields["mate_kind"] == "bolted"
        welded = self.fields["mate_kind"] in WELDED
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
            self._choose(f"which holes of {part}?", groups, lambda group: face_asked(part, group))

        def face_asked(part: str, group: str) -> None:
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
            self.tell("there is no other part yet: record it first", fault=True)

    def _choose(
        self, title: str, ways: Mapping[str, str], take: Callable[[str], None], chosen: str = ""
    ) -> None:
        self.window(
            Choose(title, ways, chosen=chosen), lambda value: take(value) if value is not None else None
        )

    def _record(self) -> None:
        do(self, "mates", "DeclareMate", then=lambda _entry: self.fitup.one_back(), **self._whole())


def _a_fastener(text: str) -> str:
    from ledger.standards.fasteners import fastener

    return fastener(text.strip()).designation


def _a_place(text: str) -> str:
    if not text.strip():
        return "by nothing: the holes decide"
    read_located(text)
    return text.strip()


def _another(text: str) -> str:
    return also_words(asdict(read_also(text))) if text.strip() else "none"


def _a_gap(text: str) -> str:
    return str(read_bounds(text.strip())) if text.strip() else "none is wanted"
