"""
A text of the job beside what is recorded: what would change, line by line, and recording all of it or nothing.

What a text says of a kind of thing of a part, its groups say, is all there is of that kind there. What it does not
speak of stays, unless the whole job is asked for. Each record is done by the act that a person would do, so the same
is refused; where and why is said with the line of the text.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import Any

from ledger.acts.part_record import part_recorded
from ledger.domain.canonical import sha256
from ledger.domain.errors import BadInput, FitupError, visible
from ledger.domain.formula import names_in, read_formula
from ledger.drawings.taking import Drawn, take_drawing
from ledger.history.changes_of_part import Change
from ledger.job_text.kinds import Tools
from ledger.job_text.of_job import enter_plain
from ledger.job_text.places import FIELDS, KINDS, OF_CONNECTION, ORDER, PART, kind_at, named, require_known
from ledger.job_text.statements import Text
from ledger.job_text.written import DRAWING, PLAIN, Path, in_words, records, told_job
from ledger.store import facts as read
from ledger.store.journal import Store
from ledger.words.dimensions import dimension_line


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a text changes, in order, and the records that are written otherwise and mean what is there already."""

    changes: tuple[Change, ...]
    same: frozenset[Path]


@dataclass
class Reader:
    """One text, what is recorded, and what acts are done with. `beside` is where drawings are looked for."""

    text: Text
    tools: Tools
    store: Store
    beside: FilePath
    whole: bool = False
    same: frozenset[Path] = frozenset()
    _asked: dict[Path, Any] = field(default_factory=dict)

    def done(self) -> Outcome:
        """Do every act that the text asks for. Raises BadInput with line and column."""
        require_known(self.text)
        was = told_job(self.tools.facts)
        before, self._asked = records(was), records(self.text.values)
        self._refuse_signed(was)
        todo = [
            p
            for p, told in self._asked.items()
            if before.get(p) != told and p not in self.same and p[0] != "policy"
        ]
        self._enter(sorted(self._by_part(todo), key=lambda group: ORDER.index(kind_at(group[0]))))
        self._remove(before)
        after = records(told_job(self.tools.facts))
        self._refuse_readings(before, after, todo)
        same = frozenset(p for p in todo if before.get(p) == after.get(p))
        return Outcome(tuple(_changes(before, after)), same)

    def _refuse_signed(self, was: Mapping[str, Any]) -> None:
        said = self.text.values.get("policy")
        for name, value in said.items() if isinstance(said, Mapping) else ():
            if value != was["policy"].get(name, [] if name == "raised" else ""):
                raise BadInput(
                    f"{self.text.at(('policy', name))}: the policy is signed by a keeper and not read from a file: "
                    "fitup policy --help"
                )

    def _refuse_readings(
        self, before: Mapping[Path, Any], after: Mapping[Path, Any], todo: Sequence[Path]
    ) -> None:
        for path in todo:
            kind, was = KINDS.get(kind_at(path)), before.get(path)
            if kind and was is not None and kind.is_reading(was) and after.get(path) != was:
                raise BadInput(
                    f"{self.text.at(path)}: {named(path)} is recorded as read, {in_words(was)!r}; a file does not "
                    "write over a reading: put that back, and enter the new reading by its own command"
                )

    def _by_part(self, todo: Sequence[Path]) -> Iterator[tuple[Path, ...]]:
        """The records one by one, but the fields of a part together: they are one act."""
        fields: dict[str, list[Path]] = {}
        for path in todo:
            if path[0] == "parts" and kind_at(path) == "":
                fields.setdefault(path[1], []).append(path)
            else:
                yield (path,)
        yield from (tuple(paths) for paths in fields.values())

    def _enter(self, groups: Sequence[tuple[Path, ...]]) -> None:
        """One after the other; what rests on a record further down waits for it."""
        left, first = list(groups), ""
        while left:
            waiting, first = [], ""
            for group in left:
                try:
                    self._enter_one(group)
                except BadInput as fault:
                    first = first or f"{self.text.at(group[-1])}: {named(group[-1])}: {fault}"
                    waiting.append(group)
            if len(waiting) == len(left):
                raise BadInput(self._ring([g[0] for g in waiting]) or first)
            left = waiting

    def _enter_one(self, group: tuple[Path, ...]) -> None:
        path = group[0]
        told = self._asked[path]
        if path[0] == "parts" and kind_at(path) == "":
            fields = {p[2]: self._asked[p] for p in group if len(p) > len(PART)}
            self.tools.do(part_recorded(self.tools.facts, path[1], _typed(fields)))
        elif path[0] == "parts" and path[2] == "drawing":
            self._take(path[1], told)
        elif path[0] in PLAIN:
            enter_plain(self.tools, path[0], str(told))
        else:
            kind = KINDS[kind_at(path)]
            owner = path[1] if path[0] == "parts" or path[0] in OF_CONNECTION else ""
            kind.enter(self.tools, owner, path[-1], told)

    def _take(self, number: str, told: Any) -> None:
        from ledger.comparison.look import look

        if not isinstance(told, Mapping) or "file" not in told or set(told) - set(DRAWING):
            raise BadInput('expected { file = "BASE.dxf", sha256 = "…" }')
        path = self.beside / FilePath(str(told["file"])).name
        try:
            data = path.read_bytes()
        except OSError as fault:
            raise BadInput(
                f"{visible(path.name)} is not beside the file; put it there, or take the drawing by fitup take"
            ) from fault
        if told.get("sha256", sha256(data)) != sha256(data):
            raise BadInput(
                f"{visible(path.name)} beside the file has other bytes than it names; take the drawing by fitup take, "
                "or leave sha256 out"
            )
        unit, vendor = told.get("unit"), str(told.get("vendor", ""))
        roles = {**read.layer_roles(self.tools.facts, vendor), **told.get("layers", {})}
        profile = look(path.name, data, unit=unit, roles=roles).profile
        take_drawing(
            self.tools.facts,
            self.tools.do,
            self.store,
            number,
            Drawn(path.name, data, profile, unit, roles, vendor),
        )

    def _remove(self, before: Mapping[Path, Any]) -> None:
        gone = [p for p in before if p not in self._asked and self._is_whole(p)]
        for path in sorted(gone, key=lambda p: -ORDER.index(kind_at(p))):
            kind = KINDS.get(kind_at(path))
            at = self.text.at(path[:-1])
            if kind is None or kind.remove is None or kind.is_reading(before[path]):
                if kind is None and path[0] == "parts" and len(path) > len(PART) and path[2] in FIELDS:
                    self.tools.do(
                        part_recorded(self.tools.facts, path[1], _typed({path[2]: _blank(path[2])}))
                    )
                    continue
                what = named(path)
                raise BadInput(
                    f"{at}: {what} is recorded and not in the file; it is not taken out by a file: put it back"
                )
            owner = path[1] if path[0] == "parts" or path[0] in OF_CONNECTION else ""
            try:
                kind.remove(self.tools, owner, path[-1])
            except BadInput as fault:
                raise BadInput(f"{at}: {named(path)} is not in the file: {fault}") from fault

    def _is_whole(self, path: Path) -> bool:
        """Whether the text speaks of everything of that kind there, so that what is not in it is to go."""
        if path[0] == "parts":
            part = self.text.values.get("parts", {}).get(path[1])
            if part is None or path[2:] in ((), ("drawing",)):
                return False
            return path[2] in part if path[2] in KINDS else self.whole and not FIELDS[path[2]].fixed
        return self.whole and path[0] in KINDS

    def _ring(self, left: Sequence[Path]) -> str:
        """What calculated dimensions that wait on each other say; empty where none do."""
        of = {(p[1], p[3]): p for p in left if kind_at(p) == "dimensions"}
        for start in of:
            trail = [start]
            while nexts := [n for n in self._rests_on(of[trail[-1]]) if n in of]:
                if nexts[0] in trail:
                    ring = [*trail[trail.index(nexts[0]) :], nexts[0]]
                    words = " from ".join(visible(f"{part}.{name}") for part, name in ring)
                    return (
                        f"{self.text.at(of[ring[0]])}: a ring: {words}; one of them needs a value of its own"
                    )
                trail.append(nexts[0])
        return ""

    def _rests_on(self, path: Path) -> list[tuple[str, str]]:
        try:
            told = self._asked[path]
            nominal = (
                dimension_line(f"{path[3]} = {told}").fields["nominal"]
                if isinstance(told, str)
                else told["nominal"]
            )
            return [(ref.part or path[1], ref.name) for ref in names_in(read_formula(nominal))]
        except (FitupError, KeyError):
            return []


def _typed(fields: Mapping[str, Any]) -> dict[str, Any]:
    """Fields of a part as its act takes them. Raises BadInput for another type."""
    for name, value in fields.items():
        number, truth = FIELDS[name].number, name == "unconnected"
        kind = int if number else bool if truth else str
        if value is not None and type(value) is not kind:
            expected = (
                "a whole number" if number else "true or false" if truth else "a text in quotation marks"
            )
            raise BadInput(f"read {in_words(value)!r} as the {FIELDS[name].label}; expected {expected}")
    return dict(fields)


def _blank(name: str) -> Any:
    return (
        None
        if FIELDS[name].number
        else False
        if name == "unconnected"
        else "either"
        if name == "hand"
        else ""
    )


def _changes(before: Mapping[Path, Any], after: Mapping[Path, Any]) -> Iterator[Change]:
    for path in dict.fromkeys((*before, *after)):
        was, now = before.get(path), after.get(path)
        if was != now and path[2:] + path[:1] != ("parts",):  # of a part alone its fields speak
            said = (in_words(was) if was is not None else "", in_words(now) if now is not None else "")
            yield Change("", named(path), *said)
