"""
What goes out with an order: the drawings of its parts, byte for byte as they were locked, their sheets, the order.

Only the parts of that order are in it. The order itself is a PDF for people and a table for the vendor's program.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import replace
from functools import partial

from sqlmodel import Session

from ledger.acts.orders import order_named
from ledger.domain.errors import BadInput, visible
from ledger.domain.order import Order
from ledger.domain.record import Part
from ledger.domain.short_key import short_key
from ledger.packet.names import dxf_name, require_distinct
from ledger.papers import of_part
from ledger.papers.cut_list import cell, coating_text
from ledger.papers.flow import Flow, Heading, Piece, Table, flowed, foot
from ledger.store import facts as read
from ledger.store.orders import orders
from ledger.store.rows import the_row
from ledger.store.tables import JobFact, PartFact

ORDER_PDF, ORDER_CSV = "order.pdf", "order.csv"
HEADINGS = (
    "part",
    "revision",
    "title",
    "material",
    "thickness",
    "coating",
    "process",
    "pieces",
    "file",
    "SHA-256",
)
_SHARES = (0.14, 0.08, 0.24, 0.14, 0.1, 0.12, 0.1, 0.08)
_FILE = (0.34, 0.66)
_CAUTION = (
    "Cut these files and no others: what was checked is these very bytes. Whoever cuts, lifts and deburrs keeps to "
    "their own safety rules and to local codes."
)

Row = tuple[str, ...]


def order_folder(facts: Session, ident: str, paper: str = "A4") -> dict[str, bytes]:
    """
    The files of an order by name. Raises UnknownName, Tampered, and BadInput for one that is canceled.
    """
    order_named(facts, ident)
    (order,) = (o for o in orders(facts) if o.ident == ident)
    if order.canceled:
        raise BadInput(f"order {visible(ident)} is canceled: {visible(order.canceled)}")
    files: dict[str, bytes] = {}
    rows: list[Row] = []
    notes: list[str] = []
    for line in order.lines:
        lock = of_part.kept_lock(facts, line.part, line.revision)
        part = read.part(facts, the_row(facts, PartFact, line.part, line.revision))
        name = dxf_name(replace(part, quantity=None))  # how many, the order says
        require_distinct([*files, name])
        rows.append(_row(part, line.quantity, name, lock.dxf))
        files[name] = read.kept_file(facts, lock.dxf)
        files[name.removesuffix(".dxf") + ".pdf"] = of_part.kept_sheet(facts, part)
        if part.quantity not in (None, line.quantity):
            notes.append(
                f"{part.number}: {line.quantity} are ordered; its sheet names {part.quantity}. The order counts."
            )
    (job,) = read.rows(facts, JobFact)
    files[ORDER_CSV] = _csv(rows)
    files[ORDER_PDF] = _pdf(order, rows, notes, job, paper)
    return files


def _row(part: Part, quantity: int, name: str, digest: str) -> Row:
    thickness = str(part.thickness) if part.thickness else ""
    stock = (part.material, thickness, coating_text(part), part.process)
    return (part.number, part.revision, part.title, *stock, str(quantity), name, digest)


def _csv(rows: list[Row]) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(HEADINGS)
    writer.writerows([cell(value) for value in row] for row in rows)
    return text.getvalue().encode("utf-8")


def _pdf(order: Order, rows: list[Row], notes: list[str], job: JobFact, paper: str) -> bytes:
    title = f"Order {order.ident} to {order.vendor}"
    flow = Flow(paper, title, job.firm, partial(foot, title))
    pieces: list[Piece] = [
        Heading(f"ORDER {order.ident}"),
        Table((0.22, 0.78), list(_facts(order, job))),
        Heading("Parts"),
        Table(_SHARES, [row[:8] for row in rows], HEADINGS[:8], ruled=True),
        Heading("Files to cut"),
        Table(_FILE, [row[8:] for row in rows], HEADINGS[8:], ruled=True),
        *((Heading("Notes"), Table((1.0,), [(note,) for note in notes])) if notes else ()),
        Heading("Caution"),
        Table((1.0,), [(_CAUTION,)]),
    ]
    return flowed(flow, pieces)[0]


def _facts(order: Order, job: JobFact) -> Iterator[tuple[str, str]]:
    yield "from", job.firm
    yield "to", order.vendor
    yield "sent", order.sent
    yield "due", order.due or "no day agreed"
    yield "reference", order.reference or "none"
    if order.price:
        yield "price", order.price
    yield "root of the job", short_key(job.root) if job.root else "nobody enrolled"
