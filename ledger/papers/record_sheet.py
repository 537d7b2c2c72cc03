"""
The job record: what stays at home when a part has gone out, for whoever has to say why, or checks what came back.

It is made inside the lock, of what the lock judged, and kept under its SHA-256, which the lock's entry names; so it
cannot name that entry's hash, only its number and the journal's *seal* right before it. It holds findings, permits,
signatures and what was not checked, how the part connects, which clearances were measured, and an *inspection table*:
every key dimension, bend and hole with its limits and an empty *Actual* column.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from ledger.domain.connection import WELDED, Clearance, Connection, Ply
from ledger.domain.dimension_words import dimension_text, figure, hole_size, sizes_text
from ledger.domain.fields import RECORD, on_paper
from ledger.domain.finding import Finding
from ledger.domain.gate import Verdict
from ledger.domain.readings import as_read
from ledger.domain.record import Dimension, MeasuredHole, Part
from ledger.domain.shape import Hole
from ledger.papers.bends import bend_checks
from ledger.papers.cut_list import coating_text
from ledger.papers.figures import count_text, figures
from ledger.papers.lettering import POINT_MM
from ledger.papers.notes import CAUTIONS
from ledger.papers.page import Area, Page, Row, row_height

_EDGE_MM, _FOOT_MM = 14.0, 8.0
_SIZE, _HEADING = 7.5, 9.5
_CAUTION = "This record compares drawings and measurements. It does not certify a structure."
_ONE, _PAIR = (1.0,), (0.22, 0.78)
_CONNECTION = (0.25, 0.75)
_CLEARANCE = (0.22, 0.18, 0.3, 0.3)
_FINDING = (0.11, 0.15, 0.22, 0.52)
_PERMIT = (0.15, 0.2, 0.35, 0.12, 0.18)
_SIGNED = (0.12, 0.2, 0.2, 0.38, 0.1)
_INSPECT = (0.22, 0.24, 0.2, 0.14, 0.2)


@dataclass(frozen=True, slots=True)
class Signature:
    """One signature that counted: who, as what, when (UTC), what it was meant to say, at which entry."""

    person: str
    role: str
    at: str
    meaning: str
    seq: int
    self_check: bool = False


@dataclass(frozen=True, slots=True)
class Permitted:
    """One permit of this revision; of a connection with all `parts` that it names. `withdrawn` is by whom and why."""

    code: str
    where: str
    reason: str
    until: str
    person: str
    at: str
    up_to: str = ""
    parts: tuple[str, ...] = ()
    withdrawn: str = ""

    @property
    def bounds(self) -> str:
        """How far it reaches, in words."""
        reach = " with ".join(self.parts) if len(self.parts) > 1 else "this revision"
        value = [f"up to {self.up_to}"] if self.up_to else []
        gone = [f"withdrawn by {self.withdrawn}"] if self.withdrawn else []
        return ", ".join((reach, f"until {self.until}" if self.until else "no end date", *value, *gone))


@dataclass(frozen=True, slots=True)
class Record:
    """
    Everything a job record says. `seal` is the journal seal before the lock, `entry` the number of the lock's own
    entry right behind it, `locked_on` the day (ISO 8601, UTC).
    """

    owner: str
    part: Part
    verdict: Verdict
    locked_on: str
    locked_by: str
    entry: int
    seal: str
    connections: tuple[Connection, ...] = ()
    signatures: tuple[Signature, ...] = ()
    permits: tuple[Permitted, ...] = ()
    root: str = ""  # the short fingerprint of the job's root


def job_record(record: Record, *, paper: str = "A4") -> bytes:
    """The record as PDF, as many pages as it takes. Raises BadInput for a paper that is not known."""
    part = record.part
    name = f"{part.number} {part.revision}"
    page = Page(paper, title=f"{name} job record", owner=record.owner)
    flow = _Flow(page, f"Job record of {name}, lock at entry {record.entry}: not for the vendor")
    flow.heading(f"JOB RECORD  {name}  {part.title}")
    flow.rows([Row(pair, _PAIR) for pair in _facts(record)])
    flow.heading("Inspection: what came back")
    flow.rows(_inspection(part))
    flow.heading("Connections")
    flow.rows(_connections(record))
    flow.heading("Findings at the lock")
    flow.rows(_findings(record.verdict))
    flow.heading("Questions")
    flow.rows(_questions(part))
    flow.heading("Permits")
    flow.rows(_permits(record.permits))
    flow.heading("Signatures")
    flow.rows(_signatures(record.signatures))
    flow.heading("Not checked")
    flow.rows(
        [Row((said,), _ONE) for said in record.verdict.not_checked] or [Row(("nothing is listed",), _ONE)]
    )
    flow.heading("Caution")
    flow.rows([Row((" ".join((_CAUTION, *CAUTIONS[1:])),), _ONE)])
    flow.foot()
    return page.bytes()


class _Flow:
    """Rows down a page, and over to the next one."""

    def __init__(self, page: Page, foot: str) -> None:
        self.page, self.words, self.number = page, foot, 1
        self.left, self.width = _EDGE_MM, page.width - 2 * _EDGE_MM
        self.top = page.height - _EDGE_MM

    def heading(self, words: str) -> None:
        """A heading, kept together with the first rows under it."""
        self.top -= 3.0
        self._need(18.0)
        row = Row((words,), _ONE, bold=True, ruled=True)
        self.top -= self.page.row(self._rest(), row, size=_HEADING)

    def rows(self, rows: Iterable[Row]) -> None:
        """Rows, each whole on one page; the bold, ruled one that leads them stands on the next page again."""
        head: Row | None = None
        for row in rows:
            if self._need(row_height(row, self.width, size=_SIZE)) and head and not row.bold:
                self.top -= self.page.row(self._rest(), head, size=_SIZE)
            self.top -= self.page.row(self._rest(), row, size=_SIZE)
            if row.bold:
                head = row if row.ruled else None

    def foot(self) -> None:
        """The line at the bottom of a page."""
        area = Area(self.left, _EDGE_MM, self.width - 20, 4.0)
        self.page.block(area, self.words, sizes=(6.0, 5.0, 4.0), grey=0.3)
        place = (self.left + self.width, _EDGE_MM - 6 * POINT_MM)
        self.page.text(place, f"page {self.number}", size=6.0, anchor="end", grey=0.3)

    def _rest(self) -> Area:
        return Area(self.left, self.top, self.width, self.top - _EDGE_MM - _FOOT_MM)

    def _need(self, height: float) -> bool:
        """Go over to the next page where the height does not go in; whether it did."""
        if self.top - height >= _EDGE_MM + _FOOT_MM:
            return False
        self.foot()
        self.page.turn()
        self.number += 1
        self.top = self.page.height - _EDGE_MM
        return True


def _facts(record: Record) -> Iterator[tuple[str, str]]:
    part = record.part
    yield "legal owner", record.owner
    yield "fingerprint", record.verdict.subject
    yield "verdict locked", "GO" if record.verdict.go else "NO-GO"
    yield "locked", f"{record.locked_on} by {record.locked_by}"
    yield "entry of the lock", f"{record.entry}; it names this paper by its SHA-256"
    yield "seal before the lock", record.seal
    yield "root of the job", record.root or "nobody enrolled"
    stock = (part.material, str(part.thickness) if part.thickness else "", coating_text(part), part.process)
    yield "stock", ", ".join(piece for piece in stock if piece) or "not recorded"
    yield "quantity", count_text(part) or "not recorded"
    if part.etched:
        yield "etched number", part.etched
    yield from figures(part).rows
    yield "hand", f"opposite hand of {part.opposite_of}" if part.opposite_of else part.hand
    for label, words in on_paper(part, RECORD):
        yield label, words or "none recorded"
    if part.taken:
        yield "drawing", f"{part.taken.file_name}, SHA-256 {part.taken.dxf_sha256}"


def _connections(record: Record) -> Iterator[Row]:
    if not record.connections:
        alone = "connects to nothing, as recorded" if record.part.unconnected else "none"
        yield Row((alone,), _ONE)
    for connection in record.connections:
        plies = " on ".join(map(_ply, connection.plies))
        joint = " ".join(piece for piece in (connection.kind, connection.joint, connection.fastener) if piece)
        yield Row((connection.name, f"{joint}: {plies}"), _CONNECTION, bold=True)
        for more in connection.also:
            yield Row(("also", f"{more.fastener} {more.joint}: {' on '.join(more.groups)}"), _CONNECTION)
        if connection.position_written:
            yield Row(("position", connection.position_written), _CONNECTION)
        for finding in _of_connection(record.verdict, connection):
            yield Row(("", finding.message), _CONNECTION)
        if connection.weld_words:
            yield Row(("weld", ", ".join(connection.weld_words)), _CONNECTION)
        if connection.gap and connection.kind not in WELDED:
            yield Row(("gap expected", str(connection.gap)), _CONNECTION)
        if connection.clearances:
            yield Row(("clearance", "expected", "measured", "with, by, when"), _CLEARANCE, ruled=True)
        for clearance in connection.clearances:
            yield Row((clearance.name, str(clearance.required), *_reading(clearance)), _CLEARANCE)


def _ply(ply: Ply) -> str:
    return f"{ply.part} ({ply.group})" if ply.group else ply.part


def _of_connection(verdict: Verdict, connection: Connection) -> tuple[Finding, ...]:
    """What the lock's checks said of a connection; its margins are in them."""
    found = (*verdict.notes, *verdict.warnings, *verdict.permitted)
    return tuple(f for f in found if f.where == connection.name or f.where.startswith(f"{connection.name}/"))


def _reading(clearance: Clearance) -> tuple[str, str]:
    reading = clearance.reading
    if reading is None:
        return "not measured", ""
    measured = f"{reading.value.written} ± {reading.uncertainty.written} (U)"
    warm = as_read(reading.how)
    return measured, ", ".join(filter(None, (warm, reading.instrument, reading.by, reading.when)))


def _findings(verdict: Verdict) -> Iterator[Row]:
    found = [
        *((f.severity, f) for f in (*verdict.stops, *verdict.warnings)),
        *(("permitted", f) for f in verdict.permitted),
        *((f.severity, f) for f in verdict.notes),
    ]
    if found:
        yield Row(("severity", "code", "where", "what"), _FINDING, bold=True, ruled=True)
    else:
        yield Row(("none",), _ONE)
    for severity, f in found:
        yield Row((severity, f.code, f.where, f.message), _FINDING)


def _permits(permits: Sequence[Permitted]) -> Iterator[Row]:
    if permits:
        yield Row(("code", "where", "reason", "bounds", "who, when"), _PERMIT, bold=True, ruled=True)
    else:
        yield Row(("none",), _ONE)
    for p in permits:
        yield Row((p.code, p.where, p.reason, p.bounds, f"{p.person}, {p.at}"), _PERMIT)


def _signatures(signatures: Sequence[Signature]) -> Iterator[Row]:
    if signatures:
        yield Row(("role", "who", "when", "meaning", "entry"), _SIGNED, bold=True, ruled=True)
    else:
        yield Row(("none",), _ONE)
    for s in signatures:
        role = f"{s.role}, self-checked" if s.self_check else s.role
        yield Row((role, s.person, s.at, s.meaning, str(s.seq)), _SIGNED)


def _inspection(part: Part) -> Iterator[Row]:
    """Key dimensions first, then every hole with its place; Actual stays empty for the pencil."""
    yield Row(
        ("dimension", "nominal, limits", "from, to; place in mm", "Actual", "with, by, when"),
        _INSPECT,
        bold=True,
        ruled=True,
    )
    if part.thickness:
        yield _to_fill("thickness", str(part.thickness), "")
    for key in part.dimensions:
        yield _to_fill(_named(key), dimension_text(key), sizes_text(key))
    for name, expected, place in bend_checks(part):
        yield _to_fill(name, expected, place)
    holes = part.taken.profile.holes if part.taken else ()
    after = {f.label: f"{f.operation} {f.thread}".strip() for f in part.operations}
    for hole in holes:
        done = f", {after[hole.label]}" if hole.label in after else ""
        yield _to_fill(f"hole {hole.label}", f"{hole_size(hole)} mm, drawn{done}", hole_place(hole))
    for measured in part.measured_holes:
        hole = measured.hole
        yield _to_fill(f"hole {hole.label}", f"{hole_size(hole)} mm, {_doubt(measured)}", hole_place(hole))


def _doubt(measured: MeasuredHole) -> str:
    return (
        f"{measured.source} ± {measured.uncertainty.written} (U)" if measured.uncertainty else measured.source
    )


def hole_place(hole: Hole) -> str:
    """Where its centre is, in the drawing's own x and y."""
    return f"at {figure(hole.centre[0], 3)}, {figure(hole.centre[1], 3)}"


def _questions(part: Part) -> Iterator[Row]:
    for question in part.questions:
        yield Row((question.ident, f"{question.text} Answer: {question.answer or 'none yet'}"), _PAIR)
    if not part.questions:
        yield Row(("none",), _ONE)


def _named(key: Dimension) -> str:
    return f"{key.name} ({', '.join(key.marks)})" if key.marks else key.name


def _to_fill(name: str, nominal: str, sizes: str) -> Row:
    return Row((name, nominal, sizes, "", ""), _INSPECT, ruled=True)
