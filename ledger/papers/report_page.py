"""
The report of a job as one HTML page: it opens offline, runs nothing, and prints.

Pictures stand in the page; there is no script and no address outside. Every word from the record is made visible and
escaped (`ledger.papers.markup`). A verdict is a glyph and a word, colour is an extra. It is a view of what stood at
one journal seal: it proves nothing, a packet and `verify` do.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ledger.domain.cause import Following, grouped
from ledger.domain.connection import WELDED, Clearance, Connection
from ledger.domain.dimension_words import dimension_text, figure, hole_size, sizes_text
from ledger.domain.fields import REPORT, on_paper
from ledger.domain.finding import Finding
from ledger.domain.gate import Verdict
from ledger.domain.readings import as_read
from ledger.domain.record import Dimension, Part
from ledger.papers.cut_list import coating_text
from ledger.papers.figures import count_text, figures
from ledger.papers.markup import document, element, listing, said, table
from ledger.papers.notes import CAUTIONS
from ledger.papers.record_sheet import Permitted, Signature, hole_place

_SAYS = "This report compares drawings and measurements. It does not certify a structure."


@dataclass(frozen=True, slots=True)
class PartPage:
    """What the report says of a part; `picture` is SVG, empty without a drawing."""

    part: Part
    verdict: Verdict
    connections: tuple[str, ...] = ()
    picture: bytes = b""
    signatures: tuple[Signature, ...] = ()
    permits: tuple[Permitted, ...] = ()


@dataclass(frozen=True, slots=True)
class ConnectionPage:
    """What the report says of a connection: margins where its holes were fitted; why there is no picture, if so."""

    connection: Connection
    margin_mm: float | None = None
    worst_case_mm: float | None = None
    odds: str = ""
    findings: tuple[Finding, ...] = ()
    picture: bytes = b""
    no_picture: str = ""


@dataclass(frozen=True, slots=True)
class JobPage:
    """
    Everything the report says; `seal` is the journal seal, `root` the short fingerprint of the job's root, `at` the
    moment in words.
    """

    firm: str
    ident: str
    seal: str
    root: str
    at: str
    parts: tuple[PartPage, ...]
    connections: tuple[ConnectionPage, ...]


def report_page(job: JobPage) -> bytes:
    """The page as UTF-8. The same value gives the same bytes."""
    places = {page.part.number: f"part-{k}" for k, page in enumerate(job.parts, start=1)}
    connections = {page.connection.name: f"connection-{k}" for k, page in enumerate(job.connections, start=1)}
    body = [
        element("h1", said(f"{job.firm}: report of the job")),
        table(
            (),
            [
                ("made", said(job.at)),
                ("job", said(job.ident)),
                ("journal seal", said(job.seal)),
                ("root of the job", said(job.root)),
            ],
        ),
        element("h2", "Parts"),
        _overview(job, places),
        *(_part(page, places[page.part.number], connections) for page in job.parts),
        element("h2", "Connections"),
        *(_connection(page, connections[page.connection.name], places) for page in job.connections),
        *([] if job.connections else [element("p", "none")]),
        element("h2", "Caution"),
        element("p", said(" ".join((_SAYS, *CAUTIONS[1:])))),
    ]
    return document(f"{job.firm}: report", body)


def _overview(job: JobPage, places: dict[str, str]) -> str:
    rows = [
        (
            _link(page.part.number, places),
            said(page.part.revision),
            said(page.part.title),
            "locked" if page.part.locked else "open",
            _verdict(page.verdict),
            str(len(page.verdict.stops)),
            str(len(page.verdict.warnings)),
        )
        for page in job.parts
    ]
    return table(("part", "revision", "title", "state", "verdict", "stops", "warnings"), rows)


def _verdict(verdict: Verdict) -> str:
    glyph, word, kind = ("✓", "GO", "go") if verdict.go else ("✗", "NO-GO", "stop")
    return f'<strong class="{kind}">{glyph} {word}</strong>'


def _link(name: str, places: dict[str, str]) -> str:
    return f'<a href="#{places[name]}">{said(name)}</a>' if name in places else said(name)


def _part(page: PartPage, place: str, connections: dict[str, str]) -> str:
    part, verdict = page.part, page.verdict
    inner = [
        f"<h3>{said(f'{part.number} {part.revision}  {part.title}')} {_verdict(verdict)}</h3>",
        *([f"<figure>{page.picture.decode('utf-8')}</figure>"] if page.picture else []),
        table((), [(label, said(words)) for label, words in _stock(part, verdict)]),
        element("h4", "Stops, warnings, notes"),
        _findings((*verdict.stops, *verdict.warnings, *verdict.notes), verdict.permitted),
        element("h4", "Key dimensions"),
        _dimensions(part.dimensions),
        element("h4", "Holes"),
        _holes(part),
        element("h4", "Connections"),
        listing([_link(name, connections) for name in page.connections]),
        element("h4", "Questions"),
        _questions(part),
        element("h4", "Signatures"),
        _signatures(page.signatures),
        element("h4", "Permits"),
        _permits(page.permits),
        element("h4", "Not checked"),
        listing([said(words) for words in verdict.not_checked]),
    ]
    return f'<section id="{place}">\n{"".join(inner)}</section>\n'


def _stock(part: Part, verdict: Verdict) -> Iterator[tuple[str, str]]:
    yield "fingerprint", verdict.subject
    yield "state", "locked: the verdict is the one at the lock" if part.locked else "open: checked just now"
    yield "form", part.form
    yield "hand", f"opposite hand of {part.opposite_of}" if part.opposite_of else part.hand
    for label, words in (
        ("material", part.material),
        ("thickness", str(part.thickness) if part.thickness else ""),
        ("coating", coating_text(part)),
        *on_paper(part, REPORT),
        ("process", part.process),
        ("quantity", count_text(part)),
        ("etched", part.etched),
        *figures(part).rows,
        ("note", part.note),
    ):
        if words or label in ("material", "thickness", "process", "quantity"):
            yield label, words or "not recorded"
    if part.taken:
        yield "drawing", f"{part.taken.file_name}, SHA-256 {part.taken.dxf_sha256}"


def _findings(found: Iterable[Finding], permitted: Iterable[Finding]) -> str:
    glyphs = {"stop": "✗", "warning": "!", "note": "·", "permitted": "✓"}

    def row(how: str, f: Finding) -> tuple[str, ...]:
        return f"{glyphs[how]} {how}", said(f.code), said(f.where), said(f.message), said(f.fix)

    rows = [
        ("", "", "", said(shown.text), "") if isinstance(shown, Following) else row(shown.severity, shown)
        for shown in grouped(found)
    ]
    return table(
        ("severity", "code", "where", "what", "fix"), rows + [row("permitted", f) for f in permitted]
    )


def _dimensions(dimensions: Iterable[Dimension]) -> str:
    rows = []
    for key in dimensions:
        marks = ", ".join(key.marks)
        source = f"{key.source} {key.instrument}".strip()
        if key.uncertainty:
            source += f" ± {key.uncertainty.written} (U)"
        rows.append(
            tuple(map(said, (key.name, dimension_text(key), sizes_text(key), key.measured_on, source, marks)))
        )
    return table(("name", "nominal, limits", "from, to in mm", "on", "source", "marks"), rows)


def _holes(part: Part) -> str:
    after = {f.label: f"{f.operation} {f.thread}".strip() for f in part.operations}
    rows = [
        tuple(map(said, (h.label, f"{hole_size(h)} mm", hole_place(h), after.get(h.label, ""))))
        for h in part.holes
    ]
    return table(("hole", "size", "centre, mm", "after cutting"), rows)


def _questions(part: Part) -> str:
    rows = [(said(q.ident), said(q.text), said(q.answer or "still open")) for q in part.questions]
    return table(("name", "question", "answer"), rows)


def _signatures(signatures: Iterable[Signature]) -> str:
    rows = [
        (said(f"{s.role}, self-checked" if s.self_check else s.role), *map(said, (s.person, s.at, s.meaning)))
        for s in signatures
    ]
    return table(("role", "who", "when", "meaning"), rows)


def _permits(permits: Iterable[Permitted]) -> str:
    rows = [tuple(map(said, (p.code, p.where, p.reason, p.bounds, f"{p.person}, {p.at}"))) for p in permits]
    return table(("code", "where", "reason", "bounds", "who, when"), rows)


def _connection(page: ConnectionPage, place: str, parts: dict[str, str]) -> str:
    connection = page.connection
    joint = " ".join(word for word in (connection.kind, connection.joint, connection.fastener) if word)
    plies = " on ".join(
        _link(p.part, parts) + (said(f" ({p.group})") if p.group else "") for p in connection.plies
    )
    inner = [
        f"<h3>{said(connection.name)}</h3>",
        f"<figure>{page.picture.decode('utf-8')}</figure>"
        if page.picture
        else element("p", said(f"No picture: {page.no_picture}")),
        table((), [("joint", said(joint)), ("plies", plies), *_margins(page)]),
        element("h4", "Findings"),
        _findings(page.findings, ()),
        element("h4", "Clearances"),
        table(
            ("name", "expected", "measured", "with, by, when"), [_clearance(c) for c in connection.clearances]
        ),
    ]
    return f'<section id="{place}">\n{"".join(inner)}</section>\n'


def _margins(page: ConnectionPage) -> Iterator[tuple[str, str]]:
    for label, value in (("margin, nominal", page.margin_mm), ("margin, worst case", page.worst_case_mm)):
        if value is not None:
            yield label, f"{figure(value, 3)} mm"
    if page.odds:
        yield "odds", said(page.odds)
    for more in page.connection.also:
        yield "also", said(f"{more.fastener} {more.joint}: {' on '.join(more.groups)}")
    if page.connection.position_written:
        yield "position", said(page.connection.position_written)
    if page.connection.weld_words:
        yield "weld", said(", ".join(page.connection.weld_words))
    if page.connection.gap and page.connection.kind not in WELDED:
        yield "drawn gap expected", said(str(page.connection.gap))


def _clearance(clearance: Clearance) -> tuple[str, ...]:
    reading = clearance.reading
    critical = " (critical)" if clearance.critical else ""
    expected = (said(clearance.name + critical), said(str(clearance.required)))
    if reading is None:
        return (*expected, "not measured", "")
    measured = f"{reading.value.written} ± {reading.uncertainty.written} (U)"
    told = ", ".join(filter(None, (as_read(reading.how), reading.instrument, reading.by, reading.when)))
    return (*expected, said(measured), said(told))
