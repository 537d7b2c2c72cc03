"""
A table as text: bytes to rows of cells, and rows of cells to bytes. What the cells mean is for others.

The first line names the columns. It also decides what parts the cells: a tab where it holds one, else a semicolon, else
a comma. Text is UTF-8, UTF-16 where its mark says so, else Windows-1252 (of which Latin-1 is the larger part), and then
that is told, because ± and µ may have become something else on the way.

*Shielding*: a spreadsheet takes a cell that begins with = + - @ for a formula, and makes -2 of "+0.2/-0.1". So each
cell that begins so, or with apostrophes before one of these, goes out with one more apostrophe in front, and on the way
in one apostrophe there is taken off. Every text survives the way out and in; nothing that comes in is ever run.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ledger.domain.errors import BadInput, visible

MOST_BYTES = 4_000_000
MOST_ROWS = 2_000
LONGEST_LINE = 4_000
_SHIELDED = re.compile(r"'*[=+\-@\t\r]")
_MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))


@dataclass(frozen=True, slots=True)
class Line:
    """One row of a table: the line of the file that it begins on, and its cells."""

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TableText:
    """A table's columns and rows, and what is to be known of how they were read."""

    columns: tuple[str, ...]
    lines: tuple[Line, ...]
    notes: tuple[str, ...] = ()


def read_table(data: bytes) -> TableText:
    """The cells of a table. Raises BadInput, naming the line, for what cannot be one."""
    text, notes = _decoded(data)
    lines = list(_lines(text))
    if not lines:
        raise BadInput("the table is empty; its first line names the columns, such as part,name,nominal")
    if len(lines) == 1:
        raise BadInput("the table has a line of column names and no rows below it")
    return TableText(lines[0].cells, tuple(lines[1:]), notes)


def write_table(columns: Iterable[str], rows: Iterable[Iterable[str]]) -> bytes:
    """A table as UTF-8 with its mark, cells parted by commas and shielded."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(columns)
    writer.writerows([_shielded(cell) for cell in row] for row in rows)
    return out.getvalue().encode("utf-8-sig")


def _decoded(data: bytes) -> tuple[str, tuple[str, ...]]:
    if len(data) > MOST_BYTES:
        raise BadInput(
            f"the table has {len(data)} bytes; at most {MOST_BYTES} are read: part it into several"
        )
    named = next((name for mark, name in _MARKS if data.startswith(mark)), "")
    try:
        return _sound(data.decode(named or "utf-8")), ()
    except UnicodeDecodeError as fault:
        if named:
            raise BadInput(f"the table says that it is {named}, but is not; save it as UTF-8") from fault
    try:
        text = data.decode("cp1252")
    except UnicodeDecodeError as fault:
        raise BadInput("the table is in no encoding that is read here; save it as UTF-8") from fault
    return _sound(text), ("the table is not UTF-8 and was read as Windows-1252 (Latin-1): look at ± and µ",)


def _sound(text: str) -> str:
    """The text, if it has no NUL and no line that no table has."""
    at = text.find("\0")
    if at >= 0:
        line = text.count("\n", 0, at) + 1
        raise BadInput(
            f"line {line} holds NUL: this is no table of text, or UTF-16 without its mark; save it as UTF-8"
        )
    for number, line_text in enumerate(re.split(r"\r\n|\r|\n", text), 1):
        if len(line_text) > LONGEST_LINE:
            raise BadInput(f"line {number} has {len(line_text)} characters; at most {LONGEST_LINE} are read")
    return text


def _lines(text: str) -> Iterator[Line]:
    head = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = next((c for c in "\t;" if c in head), ",")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    before, count = 0, 0
    try:
        for cells in reader:
            number, before = before + 1, reader.line_num
            if not any(cell.strip() for cell in cells):
                continue
            count += 1
            if count > MOST_ROWS + 1:
                raise BadInput(f"the table has more than {MOST_ROWS} rows; part it into several")
            yield Line(number, tuple(_bare(cell.strip()) for cell in cells))
    except csv.Error as fault:
        raise BadInput(
            f"line {reader.line_num}: {visible(str(fault))}; a quote in a cell is written twice"
        ) from fault


def _shielded(cell: str) -> str:
    return f"'{cell}" if _SHIELDED.match(cell) else cell


def _bare(cell: str) -> str:
    return cell[1:] if cell.startswith("'") and _SHIELDED.match(cell) else cell
