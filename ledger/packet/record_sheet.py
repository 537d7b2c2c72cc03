"""
The shop record: what stays at home when a part has gone out, for whoever has to say why, or checks what came back.

It holds what the lock judged (findings, permits, sign-offs and what was not checked), how the part mates, which
clearances were measured, and an *inspection table*: every key dimension with its limits and an empty *Actual*
column. The verdict is the one that was locked, read again; it is never judged anew here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from ledger.domain.finding import Finding
from ledger.domain.gate import Verdict
from ledger.domain.record import Clearance, Dimension, Mate, Part, Ply
from ledger.packet.cut_list import figure
from ledger.packet.drawing import dimension_text, sizes_text
from ledger.packet.lettering import POINT_MM
from ledger.packet.notes import CAUTIONS
from ledger.packet.page import Area, Page, Row, row_height

_EDGE_MM, _FOOT_MM = 14.0, 8.0
_SIZE, _HEADING = 7.5, 9.5
_CAUTION = "This record compares drawings and measurements. It does not certify a structure."
_ONE, _PAIR = (1.0,), (0.22, 0.78)
_MATE = (0.25, 0.75)
_CLEARANCE = (0.22, 0.18, 0.3, 0.3)
_FINDING = (0.11, 0.15, 0.22, 0.52)
_PERMIT = (0.15, 0.2, 0.35, 0.12, 0.18)
_SIGNED = (0.12, 0.2, 0.2, 0.38, 0.1)
_INSPECT = (0.22, 0.24, 0.2, 0.14, 0.2)


@dataclass(frozen=True, slots=True)
class Signature:
    """One sign-off that counted: who, as what, when (UTC), what it was meant to say, at which entry."""

    person: str
    role: str
    at: str
    meaning: str
    seq: int
    self_check: bool = False


@dataclass(frozen=True, slots=True)
class Permitted:
    """One permit of this revision."""

    code: str
    where: str
    reason: str
    until: str
    person: str
    at: str


@dataclass(frozen=True, slots=True)
class Record:
    """
    Everything a shop record says. `lock_head` is the lock's own entry, `head` the journal's newest one.

    `unchanged` is whether the facts of today still make the subject that was locked: where they do not, mates and
    clearances are those of today, and the record says so.
    """

    owner: str
    part: Part
    verdict: Verdict
    lock_head: str
    locked_at: str
    locked_by: str
    head: str
    unchanged: bool
    mates: tuple[Mate, ...] = ()
    signatures: tuple[Signature, ...] = ()
    permits: tuple[Permitted, ...] = ()


def shop_record(record: Record, *, paper: str = "A4") -> bytes:
    """The record as PDF, as many pages as it takes. Raises BadInput for a paper that is not known."""
    part = record.part
    name = f"{part.number} {part.revision}"
    page = Page(paper, title=f"{name} shop record", owner=record.owner)
    flow = _Flow(page, f"Shop record of {name}, lock {record.lock_head[:24]}: stays in the shop")
    flow.heading(f"SHOP RECORD  {name}  {part.title}")
    flow.rows([Row(pair, _PAIR) for pair in _facts(record)])
    flow.heading("Inspection: what came back")
    flow.rows(_inspection(part))
    flow.heading("Mates")
    flow.rows(_mates(record))
    flow.heading("Findings at the lock")
    flow.rows(_findings(record.verdict))
    flow.heading("Permits")
    flow.rows(_permits(record.permits))
    flow.heading("Sign-offs")
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
        """Rows, each whole on one page."""
        for row in rows:
            self._need(row_height(row, self.width, size=_SIZE))
            self.top -= self.page.row(self._rest(), row, size=_SIZE)

    def foot(self) -> None:
        """The line at the bottom of a page."""
        area = Area(self.left, _EDGE_MM, self.width - 20, 4.0)
        self.page.block(area, self.words, sizes=(6.0, 5.0, 4.0), grey=0.3)
        place = (self.left + self.width, _EDGE_MM - 6 * POINT_MM)
        self.page.text(place, f"page {self.number}", size=6.0, anchor="end", grey=0.3)

    def _rest(self) -> Area:
        return Area(self.left, self.top, self.width, self.top - _EDGE_MM - _FOOT_MM)

    def _need(self, height: float) -> None:
        if self.top - height >= _EDGE_MM + _FOOT_MM:
            return
        self.foot()
        self.page.turn()
        self.number += 1
        self.top = self.page.height - _EDGE_MM


def _facts(record: Record) -> Iterator[tuple[str, str]]:
    part = record.part
    yield "legal owner", record.owner
    yield "fingerprint", record.verdict.subject
    yield "verdict locked", "GO" if record.verdict.go else "NO-GO"
    yield "locked", f"{record.locked_at} by {record.locked_by}"
    yield "entry of the lock", record.lock_head
    yield "journal head now", record.head
    same = "make this fingerprint still: mates and clearances below are those that were locked"
    other = "have CHANGED since the lock: mates and clearances below are those of today"
    yield "facts of today", same if record.unchanged else other
    stock = (part.material, str(part.thickness) if part.thickness else "", part.finish, part.process)
    yield "stock", ", ".join(piece for piece in stock if piece) or "not recorded"
    yield "quantity", "not recorded" if part.quantity is None else str(part.quantity)
    if part.taken:
        yield "drawing", f"{part.taken.file_name}, SHA-256 {part.taken.dxf_sha256}"


def _mates(record: Record) -> Iterator[Row]:
    if not record.mates:
        alone = "stands alone, as declared" if record.part.stands_alone else "none"
        yield Row((alone,), _ONE)
    for mate in record.mates:
        plies = " on ".join(map(_ply, mate.plies))
        joint = " ".join(piece for piece in (mate.kind, mate.joint, mate.fastener) if piece)
        yield Row((mate.name, f"{joint}: {plies}"), _MATE, bold=True)
        for finding in _of_mate(record.verdict, mate):
            yield Row(("", finding.message), _MATE)
        if mate.gap:
            yield Row(("drawn gap wanted", str(mate.gap)), _MATE)
        if mate.clearances:
            yield Row(("clearance", "wanted", "measured", "with, by, when"), _CLEARANCE, ruled=True)
        for clearance in mate.clearances:
            yield Row((clearance.name, str(clearance.required), *_reading(clearance)), _CLEARANCE)


def _ply(ply: Ply) -> str:
    return f"{ply.part} ({ply.group})" if ply.group else ply.part


def _of_mate(verdict: Verdict, mate: Mate) -> tuple[Finding, ...]:
    """What the lock's checks said of a mate; its margins are in them."""
    found = (*verdict.notes, *verdict.warnings, *verdict.permitted)
    return tuple(f for f in found if f.where == mate.name or f.where.startswith(f"{mate.name}/"))


def _reading(clearance: Clearance) -> tuple[str, str]:
    reading = clearance.reading
    if reading is None:
        return "not measured", ""
    measured = f"{reading.value.written} ± {reading.uncertainty.written} (U)"
    return measured, f"{reading.instrument}, {reading.by}, {reading.when}"


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
        yield Row(("code", "where", "reason", "until", "who, when"), _PERMIT, bold=True, ruled=True)
    else:
        yield Row(("none",), _ONE)
    for p in permits:
        yield Row((p.code, p.where, p.reason, p.until or "no last day", f"{p.person}, {p.at}"), _PERMIT)


def _signatures(signatures: Sequence[Signature]) -> Iterator[Row]:
    if signatures:
        yield Row(("role", "who", "when", "meaning", "entry"), _SIGNED, bold=True, ruled=True)
    else:
        yield Row(("none",), _ONE)
    for s in signatures:
        role = f"{s.role}, self-checked" if s.self_check else s.role
        yield Row((role, s.person, s.at, s.meaning, str(s.seq)), _SIGNED)


def _inspection(part: Part) -> Iterator[Row]:
    """Key dimensions first, then the holes that a gauge can try; Actual stays empty for the pencil."""
    yield Row(
        ("dimension", "nominal, limits", "from, to in mm", "Actual", "with, by, when"),
        _INSPECT,
        bold=True,
        ruled=True,
    )
    if part.thickness:
        yield _to_fill("thickness", str(part.thickness), "")
    for key in part.dimensions:
        yield _to_fill(_named(key), dimension_text(key), sizes_text(key))
    holes = part.taken.profile.holes if part.taken else ()
    for hole in holes:
        size = f"{figure(hole.diameter_mm, 3)} mm, drawn"
        yield _to_fill(f"hole {hole.label}{' width' if hole.is_slot else ''}", size, "")


def _named(key: Dimension) -> str:
    marks = [word for word, on in (("critical", key.critical), ("held", key.held)) if on]
    return f"{key.name} ({', '.join(marks)})" if marks else key.name


def _to_fill(name: str, nominal: str, sizes: str) -> Row:
    return Row((name, nominal, sizes, "", ""), _INSPECT, ruled=True)
