"""
The job record: what stays at home when a part has gone out, for whoever has to say why, or checks what came back.

It is made inside the lock, of what the lock judged, and kept under its SHA-256, which the lock's entry names; so it
cannot name that entry's hash, only its number and the journal's *seal* right before it. It holds findings, permits,
signatures and what was not checked, how the part connects, which clearances were measured, and an *inspection table*:
every key dimension, bend and hole with its limits and an empty *Actual* column.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from ledger.domain.connection import WELDED, Clearance, Connection, Ply
from ledger.domain.dimension_words import dimension_text, figure, hole_size, sizes_text
from ledger.domain.fields import RECORD, on_paper
from ledger.domain.finding import Finding
from ledger.domain.readings import as_read
from ledger.domain.record import Dimension, MeasuredHole, Part
from ledger.domain.shape import Hole
from ledger.domain.verdict import Verdict
from ledger.papers.bends import bend_checks
from ledger.papers.cut_list import coating_text
from ledger.papers.figures import figures
from ledger.papers.flow import Flow, Heading, Piece, Table, flowed, foot
from ledger.papers.hand import hand_text
from ledger.papers.notes import CAUTIONS
from ledger.words.counts import count_text

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
    name = f"{record.part.number} {record.part.revision}"
    told = f"Job record of {name}, lock at entry {record.entry}: not for the vendor"
    flow = Flow(paper, f"{name} job record", record.owner, partial(foot, told))
    return flowed(flow, list(_pieces(record, name)))[0]


def _pieces(record: Record, name: str) -> Iterator[Piece]:
    part, verdict = record.part, record.verdict
    yield Heading(f"JOB RECORD  {name}  {part.title}")
    yield Table(_PAIR, list(_facts(record)))
    yield Heading("Inspection: what came back")
    yield Table(
        _INSPECT,
        list(_inspection(part)),
        ("dimension", "nominal, limits", "from, to; place in mm", "Actual", "with, by, when"),
        ruled=True,
    )
    yield Heading("Connections")
    yield from _connections(record)
    for words, table in (
        (
            "Findings at the lock",
            Table(_FINDING, list(_findings(verdict)), ("severity", "code", "where", "what")),
        ),
        ("Questions", Table(_PAIR, list(_questions(part)))),
        ("Template tried", Table(_ONE, [(t.words,) for t in part.trials])),
        (
            "Permits",
            Table(
                _PERMIT, list(_permits(record.permits)), ("code", "where", "reason", "bounds", "who, when")
            ),
        ),
        (
            "Signatures",
            Table(_SIGNED, list(_signatures(record.signatures)), ("role", "who", "when", "meaning", "entry")),
        ),
    ):
        yield Heading(words)
        yield table if table.rows else Table(_ONE, [("none",)])
    yield Heading("Not checked")
    yield Table(_ONE, [(said,) for said in verdict.not_checked] or [("nothing is listed",)])
    yield Heading("Caution")
    yield Table(_ONE, [(" ".join((_CAUTION, *CAUTIONS[1:])),)])


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
    yield "hand", hand_text(part)
    for label, words in on_paper(part, RECORD):
        yield label, words or "none recorded"
    if part.taken:
        yield "drawing", f"{part.taken.file_name}, SHA-256 {part.taken.dxf_sha256}"


def _connections(record: Record) -> Iterator[Piece]:
    if not record.connections:
        alone = "connects to nothing, as recorded" if record.part.unconnected else "none"
        yield Table(_ONE, [(alone,)])
    for connection in record.connections:
        plies = " on ".join(map(_ply, connection.plies))
        joint = " ".join(piece for piece in (connection.kind, connection.joint, connection.fastener) if piece)
        rows = [
            ("also", f"{more.fastener} {more.joint}: {' on '.join(more.groups)}") for more in connection.also
        ]
        if connection.position_written:
            rows.append(("position", connection.position_written))
        rows += [("", finding.message) for finding in _of_connection(record.verdict, connection)]
        if connection.weld_words:
            rows.append(("weld", ", ".join(connection.weld_words)))
        if connection.gap and connection.kind not in WELDED:
            rows.append(("gap expected", str(connection.gap)))
        yield Table(_CONNECTION, rows, (connection.name, f"{joint}: {plies}"))
        if connection.clearances:
            clearances = [(c.name, str(c.required), *_reading(c)) for c in connection.clearances]
            yield Table(_CLEARANCE, clearances, ("clearance", "expected", "measured", "with, by, when"))


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


def _findings(verdict: Verdict) -> Iterator[tuple[str, ...]]:
    found = [
        *((f.severity, f) for f in (*verdict.stops, *verdict.warnings)),
        *(("permitted", f) for f in verdict.permitted),
        *((f.severity, f) for f in verdict.notes),
    ]
    for severity, f in found:
        yield severity, f.code, f.where, f.message


def _permits(permits: Sequence[Permitted]) -> Iterator[tuple[str, ...]]:
    for p in permits:
        yield p.code, p.where, p.reason, p.bounds, f"{p.person}, {p.at}"


def _signatures(signatures: Sequence[Signature]) -> Iterator[tuple[str, ...]]:
    for s in signatures:
        role = f"{s.role}, self-checked" if s.self_check else s.role
        yield role, s.person, s.at, s.meaning, str(s.seq)


def _inspection(part: Part) -> Iterator[tuple[str, ...]]:
    """Key dimensions first, then every hole with its place; Actual stays empty for the pencil."""
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


def _questions(part: Part) -> Iterator[tuple[str, ...]]:
    for question in part.questions:
        yield question.ident, f"{question.text} Answer: {question.answer or 'none yet'}"


def _named(key: Dimension) -> str:
    return f"{key.name} ({', '.join(key.marks)})" if key.marks else key.name


def _to_fill(name: str, nominal: str, sizes: str) -> tuple[str, ...]:
    return (name, nominal, sizes, "", "")
