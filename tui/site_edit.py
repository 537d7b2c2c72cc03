"""Editing what was measured of an existing structure: holes and studs, points, distances between points."""

from __future__ import annotations

from ledger.words.forms import DISTANCE, HOLE, POINT
from ledger.words.holes import hole_line, hole_words
from ledger.words.line import Line
from ledger.words.points import distance_line, distance_words, point_line, point_words
from tui.part_editor import Editor


class SiteEditor(Editor):
    """The verbs of a site or bought part."""

    def hole(self, label: str) -> None:
        """A hole or stud by its coordinates; drawn ones come from the drawing."""
        if self.part and self.part.form == "cut":
            self.screen.tell(f"{self.number} is cut: its holes come from its drawing", fault=True)
            return
        old = (
            next((m for m in self.part.measured_holes if m.hole.label == label), None) if self.part else None
        )

        def take(text: str) -> None:
            self._do("RecordHole", number=self.number, **hole_line(text).fields)

        title = f"hole or stud of {self.number}"
        self.ask(
            title, lambda t: hole_line(t).reading, take, value=hole_words(old) if old else "", hint=HOLE.hint
        )

    def point(self, label: str) -> None:
        """A point of a structure, new or replaced."""
        if self._is_cut("points"):
            return
        known = {p.label: p for p in self.part.points} if self.part else {}

        def read(text: str) -> Line:
            """The line; of a point that is there already, and not the one that was opened, what is not said stays."""
            line = point_line(text)
            if line.fields["label"] not in known.keys() - {label}:
                return line
            said = {name: value for name, value in line.fields.items() if value}
            return Line(said, f"{line.reading}; its other data stays")

        def take(text: str) -> None:
            fields, screen = read(text).fields, self.screen
            self._work(
                lambda: screen.job.record_point(number=self.number, by=screen.fitup.workstation, **fields)
            )

        value = point_words(known[label]) if label in known else ""
        title = f"point of {self.number}"
        self.ask(title, lambda t: read(t).reading, take, value=value, hint=POINT.hint)

    def distance(self, name: str) -> None:
        """A measured distance between two points, new, measured again or removed."""
        if self._is_cut("points"):
            return
        known = {f"{d.a} to {d.b}": d for d in self.part.distances} if self.part else {}

        def take(text: str) -> None:
            screen, fields = self.screen, distance_line(text).fields
            if "reason" in fields:
                self._do("RemoveDistance", number=self.number, **fields)
            else:
                by = screen.fitup.workstation
                self._work(lambda: screen.job.record_distance(number=self.number, by=by, **fields))

        value = distance_words(known[name]) if name in known else ""
        title = f"distance between points of {self.number}"
        self.ask(title, lambda t: distance_line(t).reading, take, value=value, hint=DISTANCE.hint)

    def _is_cut(self, what: str) -> bool:
        if self.part and self.part.form == "cut":
            self.screen.tell(f"{self.number} is cut: its {what} come from its drawing", fault=True)
            return True
        return False
