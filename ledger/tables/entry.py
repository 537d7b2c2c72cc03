"""
What a table of key dimensions or clearances would record: each row read, compared with what stands, or told wrong.

A row with a *part* is a key dimension, one with a *connection* is a clearance; a table may hold both. A column that
is not in the table leaves what stands as it is; an empty cell empties it, but never takes back a measured value. A
*preview* only looks. Nothing is run and nothing is guessed: a cell is read by the same grammar as on the command
line.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from sqlmodel import Session

from ledger.acts.base import Act, make, newest_part
from ledger.acts.connections import RecordClearance, RequireClearance, connection_named
from ledger.acts.dimensions import CalculateDimension, dimension_act, shown_value, written_of
from ledger.domain.errors import BadInput, FitupError, UnknownName, visible
from ledger.domain.plural import counted
from ledger.domain.quantity import read_bounds
from ledger.history.changes_of_part import Change, changed_fields
from ledger.store import facts as read
from ledger.store.formula_values import Key
from ledger.store.tables import ClearanceFact, DimensionFact, PartFact, ReadingFact
from ledger.tables.formulas import DIMENSION_VALUES, drafts_of, in_order, standing
from ledger.tables.text import MOST_ROWS, Line, TableText, read_table, write_table

DIMENSION_COLUMNS = ("part", "name", *DIMENSION_VALUES)
CLEARANCE_COLUMNS = ("connection", "clearance", "required", "measured", "critical")
COLUMNS = tuple(dict.fromkeys((*DIMENSION_COLUMNS, *CLEARANCE_COLUMNS)))
NEW, CHANGED, UNCHANGED, WRONG = "new", "changed", "unchanged", "wrong"

_OTHER_NAMES = {
    "number": "part",
    "dimension": "name",
    "on": "measured_on",
    "measured on": "measured_on",
    "clearance name": "clearance",
}
_YES_OR_NO = {
    **dict.fromkeys(("yes", "y", "true", "1", "x"), True),
    **dict.fromkeys(("no", "n", "false", "0", ""), False),
}

Cells = Mapping[str, str]
Measured = Callable[[Session, str, str, str], RecordClearance]


@dataclass(frozen=True, slots=True)
class Row:
    """One row: the line it stands on, what it is about, how it stands, in words, and what it would do."""

    line: int
    about: str
    state: str
    words: str
    changes: tuple[Change, ...] = ()
    acts: tuple[Act, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        changes = [c.to_json() for c in self.changes]
        return {
            "line": self.line,
            "about": self.about,
            "state": self.state,
            "words": self.words,
            "changes": changes,
        }


@dataclass(frozen=True, slots=True)
class Preview:
    """Every row of a table in its order, and what is to be known of how it was read."""

    rows: tuple[Row, ...]
    notes: tuple[str, ...] = ()

    def count(self, state: str) -> int:
        """How many rows stand so."""
        return sum(row.state == state for row in self.rows)

    @property
    def words(self) -> str:
        """The table in one line."""
        told = ", ".join(f"{self.count(s)} {s}" for s in (NEW, CHANGED, UNCHANGED, WRONG))
        return f"{counted(len(self.rows), 'row')}: {told}"


def preview(facts: Session, data: bytes, measured: Measured) -> Preview:
    """
    What a table would record. `measured` makes the reading of a clearance from the facts: connection, name, as written.

    Raises BadInput where the table as a whole cannot be read; a row that cannot is told in its place.
    """
    table = read_table(data)
    columns = _columns(table)
    cells = [_cells(columns, line) for line in table.lines]
    keys = [_key(c) for c in cells]
    first = {k: line.number for k, line in zip(reversed(keys), reversed(table.lines), strict=True)}
    often = Counter(keys)
    rows = []
    drafts = drafts_of(facts, cells)
    for line, of_row, key in zip(table.lines, cells, keys, strict=True):
        row = _row(facts, line, of_row, columns, measured, drafts=drafts)
        if often[key] > 1 and all(key):
            where = f"line {first[key]}" if first[key] != line.number else "a later line"
            row = Row(line.number, row.about, WRONG, f"the same as {where}: each may be in a table once")
        rows.append(row)
    return Preview(tuple(rows), table.notes)


def record_table(
    facts: Session,
    do: Callable[[Act], int],
    data: bytes,
    measured: Measured,
    *,
    only_good: bool,
    seen: Preview | None,
) -> Preview:
    """
    Record a table: all of it, or its good rows where that is asked for.

    Raises BadInput where a row is wrong, or reads otherwise than in the preview that was seen.
    """
    found = preview(facts, data, measured)
    if seen is not None and seen.rows != found.rows:
        raise BadInput("nothing was recorded: the job changed since the preview; look again")
    for act in to_record(found, only_good=only_good):
        do(act)
    return found


def to_record(found: Preview, *, only_good: bool) -> tuple[Act, ...]:
    """The acts of a table, in its order. Raises BadInput where a row is wrong, unless `only_good`."""
    wrong = [row for row in found.rows if row.state == WRONG]
    if wrong and not only_good:
        first = f"line {wrong[0].line}, {wrong[0].about}: {wrong[0].words}"
        raise BadInput(f"nothing was recorded, {len(wrong)} of {len(found.rows)} rows are wrong; {first}")
    return in_order(act for row in found.rows for act in row.acts)


def dimension_table(facts: Session, number: str = "") -> bytes:
    """The key dimensions of a part, or of every part, at the newest revision. Raises UnknownName, BadInput."""
    if number:
        newest = [newest_part(facts, number)]
    else:
        latest = {r.number: r for r in sorted(read.rows(facts, PartFact), key=lambda r: r.place)}
        newest = [latest[n] for n in sorted(latest)]
    found = (read.rows(facts, DimensionFact, number=p.number, revision=p.revision) for p in newest)
    rows = [d for of_part in found for d in of_part]
    if len(rows) > MOST_ROWS:
        raise BadInput(
            f"{len(rows)} key dimensions are more than the {MOST_ROWS} rows of a table; name one part"
        )
    return write_table(DIMENSION_COLUMNS, ((d.number, d.name, *_shown(d).values()) for d in rows))


def _columns(table: TableText) -> tuple[str, ...]:
    """The columns by our names; empty for one without a name. Raises BadInput, UnknownName."""
    plain = [" ".join(c.lower().replace("_", " ").split()) for c in table.columns]
    names = tuple(_OTHER_NAMES.get(c, c) for c in plain)
    for read_as, written in zip(names, table.columns, strict=True):
        if read_as and read_as not in COLUMNS:
            raise UnknownName("column", written, COLUMNS)
        if read_as and names.count(read_as) > 1:
            raise BadInput(f"the column {read_as} is there twice; leave one of them out")
    if "part" not in names and "connection" not in names:
        raise BadInput(
            f"no column part and no column connection; expected such as {', '.join(DIMENSION_COLUMNS[:4])}"
        )
    for expected, beside in (("name", "part"), ("clearance", "connection")):
        if beside in names and expected not in names:
            raise BadInput(
                f"no column {expected} beside the column {beside}; it says which {expected} of a {beside}"
            )
    return names


def _cells(columns: tuple[str, ...], line: Line) -> Cells:
    """The cells by column; a row may be short, and what has no column is kept under an empty name."""
    cells = dict.fromkeys(filter(None, columns), "")
    cells.update({c: v for c, v in zip(columns, line.cells, strict=False) if c})
    loose = [v for k, v in enumerate(line.cells) if v and (k >= len(columns) or not columns[k])]
    return {**cells, "": loose[0]} if loose else cells


def _key(cells: Cells) -> tuple[str, str]:
    if cells.get("part"):
        return f"part {cells['part']}", cells.get("name", "")
    return f"connection {cells.get('connection', '')}", cells.get("clearance", "")


def _row(
    facts: Session,
    line: Line,
    cells: Cells,
    columns: tuple[str, ...],
    measured: Measured,
    *,
    drafts: Mapping[Key, DimensionFact],
) -> Row:
    about = "/".join(filter(None, (cells.get("part") or cells.get("connection", ""), _key(cells)[1])))
    blank = Row(line.number, about, WRONG, "")
    try:
        if "" in cells:
            raise BadInput(
                f"read {visible(cells[''])!r} where no column has a name; is a separator too many there?"
            )
        if bool(cells.get("part")) == bool(cells.get("connection")):
            raise BadInput("expected either a part or a connection in each row")
        if cells.get("part"):
            return _dimension(facts, blank, cells, columns, drafts)
        return _clearance(facts, blank, cells, columns, measured)
    except FitupError as fault:
        return replace(blank, words=str(fault))


def _dimension(
    facts: Session, blank: Row, cells: Cells, columns: tuple[str, ...], drafts: Mapping[Key, DimensionFact]
) -> Row:
    number, name = cells["part"], cells["name"]
    part = newest_part(facts, number)
    old = facts.get(DimensionFact, (number, part.revision, name))
    given: dict[str, Any] = {c: cells[c] for c in columns if c in DIMENSION_VALUES}
    given.update({c: _yes_or_no(c, given[c]) for c in ("frozen", "critical") if c in given})
    if not given.get("source", "-"):
        given["source"] = "given"
    stands = standing(old) if old else {}
    if not (given.get("nominal") or (old and "nominal" not in given)):
        raise BadInput(f"{name or 'this row'} has no nominal; write it with its unit, such as 240 mm")
    act = dimension_act(facts, "", number=number, name=name, **{**stands, **given})
    said = written_of(act)
    now = {c: said[c] for c in DIMENSION_VALUES}
    read_as = f"{shown_value(facts, act, drafts)} {said['limits']}".rstrip()
    if old and now == stands:
        return replace(blank, state=UNCHANGED, words=read_as)
    if isinstance(act, CalculateDimension):
        act.check_with(facts, drafts)
    else:
        act.check(facts)
    return _found(blank, read_as, stands, now, (act,))


def _clearance(facts: Session, blank: Row, cells: Cells, columns: tuple[str, ...], measured: Measured) -> Row:
    connection, name = connection_named(facts, cells["connection"]).name, cells["clearance"]
    old = facts.get(ClearanceFact, (connection, name))
    stands: dict[str, Any] = {"required": old.required, "critical": old.critical} if old else {}
    required = cells.get("required") or (old.required if old else "")
    if not required:
        raise BadInput(f"{name or 'this row'} has no required clearance; write it such as '>= 2 mm'")
    critical = (
        _yes_or_no("critical", cells["critical"]) if "critical" in columns else bool(old and old.critical)
    )
    act = make(RequireClearance, connection=connection, name=name, required=required, critical=critical)
    now: dict[str, Any] = {"required": required, "critical": critical}
    acts: tuple[Act, ...] = ()
    if now != stands:
        act.check(facts)
        acts = (act,)
    read_as = str(read_bounds(required))
    if cells.get("measured"):
        reading = measured(facts, connection, name, cells["measured"])
        last = read.rows(facts, ReadingFact, connection=connection, name=name)[-1:]
        stands["measured"] = "".join(_reading(r) for r in last)
        now["measured"] = _reading(reading)
        read_as += f", measured {now['measured']}"
        acts += (reading,) if now["measured"] != stands["measured"] else ()
    if not acts:
        return replace(blank, state=UNCHANGED, words=read_as)
    return _found(blank, read_as, stands if old else {}, now, acts)


def _found(
    blank: Row, read_as: str, stands: Mapping[str, Any], now: Mapping[str, Any], acts: tuple[Act, ...]
) -> Row:
    if not stands:
        return replace(blank, state=NEW, words=read_as, acts=acts)
    told = tuple(changed_fields(stands, now))
    return replace(blank, state=CHANGED, words=read_as, changes=told, acts=acts)


def _reading(reading: RecordClearance | ReadingFact) -> str:
    value, sure = (getattr(one, "written", one) for one in (reading.value, reading.uncertainty))
    return f"{value} ±{sure} {reading.instrument}"


def _yes_or_no(column: str, cell: str) -> bool:
    if cell.lower() not in _YES_OR_NO:
        raise BadInput(f"read {visible(cell)!r} as {column}; expected yes or no")
    return _YES_OR_NO[cell.lower()]


def _shown(row: DimensionFact) -> dict[str, str]:
    return {c: _text(v) for c, v in standing(row).items()}


def _text(value: str | bool) -> str:
    return value if isinstance(value, str) else ("yes" if value else "no")
