"""Editing a part from its screen: each verb asks for one line, then records one act in a thread."""

from __future__ import annotations

from typing import Any

from ledger.domain.bend_words import bend_words
from ledger.words.bends import bend_line
from ledger.words.dimensions import dimension_line, dimension_value_words
from ledger.words.forms import BEND, DIMENSION, GROUP, LINE_ACTS, OPERATION
from ledger.words.groups import group_line, group_words
from ledger.words.line import reader_named
from ledger.words.operations import operation_line
from ledger.words.parts import field_value
from tui.drawing_intake import Taking
from tui.part_editor import words_expected
from tui.part_known import value_of
from tui.question_edit import QuestionEditor
from tui.site_edit import SiteEditor


class PartEditor(QuestionEditor, SiteEditor, Taking):
    """The verbs of one part."""

    def dimension(self, name: str) -> None:
        """Record a key dimension, or edit one."""
        known = {d.name: d for d in self.part.dimensions} if self.part else {}
        old = known.get(name)

        def read(text: str) -> Any:
            head = text.partition("=")[0].strip()
            return dimension_line(text, known.get(head))

        def take(text: str) -> None:
            fields, screen = read(text).fields, self.screen
            by = screen.fitup.workstation
            self._work(lambda: screen.job.record_dimension(number=self.number, by=by, **fields))

        value = dimension_value_words(old) if old else f"{name} = " if name else ""
        self.ask(
            f"key dimension of {self.number}",
            lambda t: read(t).reading,
            take,
            value=value,
            hint=DIMENSION.hint,
        )

    def field(self, name: str) -> None:
        """Write one field of the record."""
        screen = self.screen

        def take(text: str) -> None:
            fields = field_value(name, text).fields
            self._work(lambda: screen.job.write_part(self.number, fields, by=screen.fitup.workstation))

        value = value_of(self.part, name) if self.part else ""
        title = f"{name.replace('_', ' ')} of {self.number}"
        self.ask(title, lambda t: field_value(name, t).reading, take, value=value)

    def group(self, name: str) -> None:
        """Name a group of holes, and say what it is placed from."""
        part = self.part
        old = part.group(name) if part else None
        groups = [g.name for g in part.groups] if part else []
        holes = [h.label for h in part.holes] if part else []

        def take(text: str) -> None:
            fields, screen = group_line(text, groups, holes).fields, self.screen
            self._work(lambda: screen.job.name_group(self.number, by=screen.fitup.workstation, **fields))

        value = group_words(old) if old else f"{name} = " if name else ""
        self.ask(
            f"hole group of {self.number}",
            lambda t: group_line(t, groups, holes).reading,
            take,
            value=value,
            hint=GROUP.hint,
        )

    def open_hole(self, label: str) -> None:
        """A measured hole is replaced; of a drawn one the operation is asked for."""
        measured = {m.hole.label for m in self.part.measured_holes} if self.part else set()
        if label in measured:
            self.hole(label)
        else:
            self.operation(label)

    def operation(self, label: str) -> None:
        """What is done to holes after cutting."""
        operations = {f.label: f for f in self.part.operations} if self.part else {}
        old = operations.get(label)

        def take(text: str) -> None:
            self._do("RecordOperation", number=self.number, **operation_line(text).fields)

        value = f"{label}: " if label else ""
        if old:
            value += f"{old.operation} {old.thread}".strip()
        title = f"operation on holes of {self.number}"
        self.ask(title, lambda t: operation_line(t).reading, take, value=value, hint=OPERATION.hint)

    def line_act(self, name: str) -> None:
        """An act that is entered as one line."""
        one = LINE_ACTS[name]
        read = reader_named(one.reader)

        def take(text: str) -> None:
            self._do(one.act, **{one.before[0]: self.number}, **read(text).fields)

        self.ask(one.asks.format(self.number), lambda t: read(t).reading, take, hint=one.form.hint)

    def tried(self, _label: str = "") -> None:
        """What came of laying the paper template on what is there."""
        self.line_act("tried")

    def bend(self, label: str) -> None:
        """What is done at a bend line; `label` may be the place of a finding about it."""
        drawn = self.part.bend_lines if self.part else {}
        stated = {b.label: b for b in self.part.bends} if self.part else {}
        word = label.partition("/")[0]
        first = word if word in drawn or word in stated else next((b for b in drawn if b not in stated), "B1")
        if not drawn and not stated:
            self.screen.tell(f"{self.number} has no bend lines; bend lines come from its drawing", fault=True)
            return

        def take(text: str) -> None:
            fields = bend_line(text).fields
            screen, named = self.screen, fields.pop("labels")
            self._work(lambda: screen.job.bend(self.number, named, by=screen.fitup.workstation, **fields))

        old = stated.get(first)
        value = f"{first}: " + (bend_words(old) if old else "")
        title = f"bend data of {self.number}"
        self.ask(title, lambda t: bend_line(t).reading, take, value=value, hint=BEND.hint)

    def unconnected(self) -> None:
        """Connects to nothing."""
        screen = self.screen
        self._work(
            lambda: screen.job.write_part(self.number, {"unconnected": True}, by=screen.fitup.workstation)
        )

    def revise(self) -> None:
        """A new revision, with its reason."""

        def take(text: str) -> None:
            self._do("NewRevision", number=self.number, reason=text)

        self.screen.enter(
            f"new revision of {self.number}: what changes, and why?", words_expected("a reason"), take
        )
