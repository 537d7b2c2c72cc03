"""Editing a part from its screen: each verb asks for one line, then records one act in a thread."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ledger.domain.bend_words import bend_words
from ledger.domain.errors import BadInput, Unreadable
from tui.desk_lines import (
    BEND_HINT,
    DISTANCE_HINT,
    FINISH_HINT,
    HOLE_HINT,
    POINT_HINT,
    QUESTION_HINT,
    bend_line,
    distance_line,
    distance_words,
    finish_line,
    hole_line,
    hole_words,
    layers_line,
    layers_words,
    point_line,
    point_words,
    question_line,
)
from tui.frame import ASIDE
from tui.lines import DIMENSION_HINT, dimension_line, dimension_words, field_value, group_line
from tui.part_rows import PartView, value_of

if TYPE_CHECKING:
    from ledger.acts.base import Act
    from ledger.compare import Look
    from ledger.domain.record import Part
    from tui.frame import ShopScreen

UNITS = ("mm", "in", "cm", "m", "ft")


@dataclass(frozen=True)
class PartEditor:
    """The verbs of one part; `screen` asks and shows."""

    screen: ShopScreen
    number: str
    view: PartView | None

    @property
    def part(self) -> Part | None:
        """The part as last read."""
        return self.view.part if self.view else None

    def dimension(self, name: str) -> None:
        """Record a key dimension, or write one anew."""
        known = {d.name: d for d in self.part.dimensions} if self.part else {}
        old = known.get(name)

        def read(text: str) -> Any:
            head = text.partition("=")[0].strip()
            return dimension_line(text, known.get(head))

        def take(text: str) -> None:
            from ledger.acts.dimensions import dimension_act

            made = partial(dimension_act, number=self.number, **read(text).fields)
            self._made(made)

        value = dimension_words(old) if old else f"{name} = " if name else ""
        self.screen.enter(
            f"key dimension of {self.number}",
            lambda t: read(t).reading,
            take,
            value=value,
            hint=DIMENSION_HINT,
        )

    def field(self, name: str) -> None:
        """Write one field of the record."""
        screen = self.screen

        def take(text: str) -> None:
            fields = field_value(name, text).fields
            work = lambda: screen.shop.write_part(self.number, fields, by=screen.fitup.seat)  # noqa: E731 - one call
            screen.ask(work, screen.recorded, busy="recording", group="change")

        value = value_of(self.part, name) if self.part else ""
        title = f"{name.replace('_', ' ')} of {self.number}"
        screen.enter(title, lambda t: field_value(name, t).reading, take, value=value)

    def answer(self, ident: str) -> None:
        """Answer a question."""
        own = {q.ident: q.text for q in self.part.questions} if self.part else {}
        number, name = self.number, ident
        if ident not in own and "/" in ident:  # of another part, which it blocks this one from
            number, _, name = ident.rpartition("/")
        asked = own.get(ident, "")

        def take(text: str) -> None:
            self._do("questions", "AnswerQuestion", number=number, ident=name, answer=text)

        self.screen.enter(f"{ident}: {asked}", words_wanted("an answer"), take, hint="say what was decided")

    def question(self) -> None:
        """Ask something; it stops the part until it is answered."""
        asked = {q.ident for q in self.part.questions} if self.part else set()
        ident = next(f"Q{n}" for n in range(1, len(asked) + 2) if f"Q{n}" not in asked)

        def take(text: str) -> None:
            self._do(
                "questions", "AskQuestion", number=self.number, ident=ident, **question_line(text).fields
            )

        title = f"question {ident} about {self.number}"
        self.screen.enter(title, lambda t: question_line(t).reading, take, hint=QUESTION_HINT)

    def group(self, name: str) -> None:
        """Name a group of holes."""
        old = self.part.group(name) if self.part else None

        def take(text: str) -> None:
            self._do("parts", "NameGroup", number=self.number, **group_line(text).fields)

        value = f"{old.name} = {' '.join(old.labels)}" if old else f"{name} = " if name else ""
        hint = "GROUP = HOLES, such as bolts = H1 H2 H3 H4"
        self.screen.enter(
            f"hole group of {self.number}", lambda t: group_line(t).reading, take, value=value, hint=hint
        )

    def open_hole(self, label: str) -> None:
        """A measured hole is written anew; of a drawn one the finish is asked for."""
        measured = {m.hole.label for m in self.part.measured_holes} if self.part else set()
        if label in measured:
            self.hole(label)
        else:
            self.finish(label)

    def finish(self, label: str) -> None:
        """What is done to holes after cutting."""
        finishes = {f.label: f for f in self.part.hole_finishes} if self.part else {}
        old = finishes.get(label)

        def take(text: str) -> None:
            self._do("parts", "FinishHole", number=self.number, **finish_line(text).fields)

        value = f"{label}: " if label else ""
        if old:
            value += f"{old.finish} {old.thread}".strip()
        title = f"holes of {self.number} after cutting"
        self.screen.enter(title, lambda t: finish_line(t).reading, take, value=value, hint=FINISH_HINT)

    def bend(self, label: str) -> None:
        """What is done at a bend line; `label` may be the place of a finding about it."""
        drawn = self.part.bend_lines if self.part else {}
        stated = {b.label: b for b in self.part.bends} if self.part else {}
        word = label.partition("/")[0]
        first = word if word in drawn or word in stated else next((b for b in drawn if b not in stated), "B1")
        if not drawn and not stated:
            self.screen.tell(f"{self.number} has no bend lines: they come from its drawing", fault=True)
            return

        def take(text: str) -> None:
            fields = bend_line(text).fields
            screen, named = self.screen, fields.pop("labels")
            work = lambda: screen.shop.bend(self.number, named, by=screen.fitup.seat, **fields)  # noqa: E731 - one call
            screen.ask(work, screen.recorded, busy="recording", group="change")

        old = stated.get(first)
        value = f"{first}: " + (bend_words(old) if old else "")
        title = f"bends of {self.number}"
        self.screen.enter(title, lambda t: bend_line(t).reading, take, value=value, hint=BEND_HINT)

    def hole(self, label: str) -> None:
        """A hole or stud by its coordinates; drawn ones come from the drawing."""
        if self.part and self.part.form == "cut":
            self.screen.tell(f"{self.number} is cut from a drawing: its holes come from there", fault=True)
            return
        old = (
            next((m for m in self.part.measured_holes if m.hole.label == label), None) if self.part else None
        )

        def take(text: str) -> None:
            self._do("parts", "RecordHole", number=self.number, **hole_line(text).fields)

        title = f"a hole or stud of {self.number}"
        self.screen.enter(
            title, lambda t: hole_line(t).reading, take, value=hole_words(old) if old else "", hint=HOLE_HINT
        )

    def point(self, label: str) -> None:
        """A point of a structure, new or written anew."""
        if self._is_cut("points"):
            return
        known = {p.label: p for p in self.part.points} if self.part else {}

        def take(text: str) -> None:
            from ledger.acts.survey import point_act

            self._made(partial(point_act, number=self.number, **point_line(text).fields))

        value = point_words(known[label]) if label in known else ""
        title = f"a point of {self.number}"
        self.screen.enter(title, lambda t: point_line(t).reading, take, value=value, hint=POINT_HINT)

    def distance(self, name: str) -> None:
        """A measured distance between two points, new, measured again or dropped."""
        if self._is_cut("points"):
            return
        known = {f"{d.a} to {d.b}": d for d in self.part.distances} if self.part else {}

        def take(text: str) -> None:
            from ledger.acts.survey import distance_act

            fields = distance_line(text).fields
            if "reason" in fields:
                self._do("survey", "DropDistance", number=self.number, **fields)
            else:
                self._made(partial(distance_act, number=self.number, **fields))

        value = distance_words(known[name]) if name in known else ""
        title = f"a distance between points of {self.number}"
        self.screen.enter(title, lambda t: distance_line(t).reading, take, value=value, hint=DISTANCE_HINT)

    def _is_cut(self, what: str) -> bool:
        if self.part and self.part.form == "cut":
            self.screen.tell(f"{self.number} is cut from a drawing: its {what} come from there", fault=True)
            return True
        return False

    def _made(self, made: Callable[[Any, str], Any]) -> None:
        screen = self.screen
        work = lambda: screen.shop.do_made(made, by=screen.fitup.seat)  # noqa: E731 - one call
        screen.ask(work, screen.recorded, busy="recording", group="change")

    def stands_alone(self) -> None:
        """It mates with nothing."""
        screen = self.screen
        work = lambda: screen.shop.write_part(self.number, {"stands_alone": True}, by=screen.fitup.seat)  # noqa: E731 - one call
        screen.ask(work, screen.recorded, busy="recording", group="change")

    def revise(self) -> None:
        """A new revision, with its reason."""

        def take(text: str) -> None:
            self._do("parts", "NewRevision", number=self.number, reason=text)

        self.screen.enter(
            f"new revision of {self.number}: what changes, and why?", words_wanted("a reason"), take
        )

    def take(self) -> None:
        """Take the profile from a file; the unit is asked for where the file does not say it."""
        self.screen.enter(f"DXF file of {self.number}", _file, self._look_at, hint="a path, from this folder")

    def _look_at(self, path: str) -> None:
        def work() -> tuple[Look, bytes, str]:
            from ledger.compare import look

            data = _bytes(path)
            vendor, roles = self.screen.shop.agreed_layers(self.number)
            return look(path, data, roles=roles), data, vendor

        self.screen.ask(work, lambda seen: self._unit(*seen), busy="reading the drawing", group=ASIDE)

    def _unit(self, seen: Look, data: bytes, vendor: str) -> None:
        if seen.profile.unit_sure:
            self._layers(seen, data, vendor, None)
            return
        weighed = next((f.message for f in seen.profile.findings if f.code.startswith("unit_")), "")
        self.screen.enter(
            f"{weighed}: which unit is it?",
            unit_words,
            lambda unit: self._layers(seen, data, vendor, unit.strip()),
            hint=f"one of {', '.join(UNITS)}",
        )

    def _layers(self, seen: Look, data: bytes, vendor: str, unit: str | None) -> None:
        """What the layers are for is shown where there is anything to say about it, and can be written otherwise."""
        if all(role == "cut" for _, role in seen.roles):
            self._take(seen.file, data, unit, {}, vendor)
            return
        self.screen.enter(
            f"what the layers of {Path(seen.file).name} are for",
            lambda t: layers_line(t).reading,
            lambda t: self._take(seen.file, data, unit, **layers_line(t).fields),
            value=layers_words(seen.roles, vendor),
            hint="LAYER=cut, mark, bend or ignore; with 'for VENDOR' it is remembered for them",
        )

    def _take(self, path: str, data: bytes, unit: str | None, roles: dict[str, str], vendor: str) -> None:
        screen = self.screen

        def work() -> None:
            screen.shop.take_profile(
                self.number, path, data, unit=unit, roles=roles, vendor=vendor, by=screen.fitup.seat
            )

        screen.ask(work, screen.recorded, busy="taking the profile", group="change")

    def _do(self, module: str, kind: str, **fields: Any) -> None:
        do(self.screen, module, kind, **fields)


def do(
    screen: ShopScreen, module: str, kind: str, *, then: Callable[[Any], None] | None = None, **fields: Any
) -> None:
    """Record one act by the seat, in a thread; then show it, unless `then` does something else."""

    def work() -> int:
        from importlib import import_module

        from ledger.acts.base import make

        act: type[Act] = getattr(import_module(f"ledger.acts.{module}"), kind)
        return screen.shop.do(make(act, **fields), by=screen.fitup.seat)

    screen.ask(work, then or screen.recorded, busy="recording", group="change")


def _bytes(path: str) -> bytes:
    try:
        return Path(path).expanduser().read_bytes()
    except (OSError, ValueError) as fault:
        raise Unreadable(f"cannot read {path}: {fault}") from fault


def _file(path: str) -> str:
    try:
        size = Path(path).expanduser().stat().st_size
    except (OSError, ValueError) as fault:
        raise BadInput("no such file yet") from fault
    return f"{size} bytes"


def unit_words(text: str) -> str:
    """What a typed unit means. Raises BadInput."""
    if text.strip() not in UNITS:
        raise BadInput(f"one of {', '.join(UNITS)}")
    return f"its numbers are {text.strip()}"


def words_wanted(what: str) -> Callable[[str], str]:
    """A reader of prose that must not be empty."""

    def read(text: str) -> str:
        if not text.strip():
            raise BadInput(f"{what} is wanted")
        return "Enter records it"

    return read
