"""The hardware list as a table: CSV for a spreadsheet or a shop's counter, PDF to tick off."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from functools import partial

from ledger.domain.errors import BadInput, visible
from ledger.domain.needed import HardwareList
from ledger.papers.cut_list import cell
from ledger.papers.flow import Flow, Heading, Piece, Table, flowed, foot
from ledger.words.hardware import uses_words

HEADINGS = ("to buy", "item", "size", "length", "needed", "spares", "on hand", "where", "remarks")
_SHARES = (0.08, 0.14, 0.14, 0.1, 0.08, 0.08, 0.08, 0.3)
_CAUTION = (
    "Counted from the connections of the job. Property class, coating and locking of fasteners are not recorded: "
    "choose them for the load, by local codes and licensed practice where somebody can be hurt."
)


def hardware_paper(found: HardwareList, kind: str, *, owner: str, day: str, paper: str = "A4") -> bytes:
    """The list as `csv` or `pdf`. Raises BadInput for another kind, and for a paper that is not known."""
    if kind == "csv":
        return _csv(found)
    if kind == "pdf":
        return _pdf(found, owner, day, paper)
    raise BadInput(f"read {visible(kind)!r} as the kind of file; expected a name that ends .csv or .pdf")


def _csv(found: HardwareList) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(HEADINGS)
    for row in _rows(found):
        writer.writerow([cell(value) for value in row])
    return text.getvalue().encode("utf-8")


def _pdf(found: HardwareList, owner: str, day: str, paper: str) -> bytes:
    flow = Flow(paper, "Hardware list", owner, partial(foot, f"Hardware list, {day}"))
    rows = [(*row[:8],) if not row[8] else (*row[:7], f"{row[7]}; {row[8]}") for row in _rows(found)]
    pieces: list[Piece] = [Heading(f"HARDWARE LIST  {owner}  {day}")]
    pieces.append(Table(_SHARES, rows or [("",) * 8], HEADINGS[:8], ruled=True))
    if found.not_counted:
        pieces += [Heading("Not counted"), Table((1.0,), [(one.words,) for one in found.not_counted])]
    pieces += [Heading("Caution"), Table((1.0,), [(_CAUTION,)])]
    return flowed(flow, pieces)[0]


def _rows(found: HardwareList) -> Iterator[tuple[str, ...]]:
    for line in found.lines:
        counts = (str(line.count), str(line.spares), str(line.on_hand))
        told = (uses_words(line), "; ".join(line.remarks))
        yield (str(line.to_buy), line.item, line.size, line.length, *counts, *told)
    for part in found.bought:
        count = "" if part.quantity is None else str(part.quantity)
        yield (
            count,
            "bought part",
            part.number,
            "",
            count,
            "",
            "",
            part.title,
            "" if count else "quantity not entered",
        )
