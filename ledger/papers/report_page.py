"""
The report of a job as one HTML page: it opens offline, runs nothing, and prints.

Pictures stand in the page; there is no script and no address outside. Every word from the record is made visible and
escaped (`ledger.papers.markup`). A verdict is a glyph and a word, colour is an extra. It is a view of what stood at
one journal seal: it proves nothing, a packet and `verify` do.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, TypeAlias, TypedDict

from ledger.domain.cause import Following, grouped
from ledger.domain.connection import WELDED, Clearance, Connection
from ledger.domain.dimension_words import dimension_text, figure, hole_size, sizes_text
from ledger.domain.errors import visible
from ledger.domain.fields import REPORT, on_paper
from ledger.domain.finding import Finding
from ledger.domain.readings import as_read
from ledger.domain.record import Dimension, Part
from ledger.domain.verdict import Verdict
from ledger.papers.cut_list import coating_text
from ledger.papers.figures import figures
from ledger.papers.hand import hand_text
from ledger.papers.notes import CAUTIONS
from ledger.papers.record_sheet import Permitted, Signature, hole_place
from ledger.words.counts import count_text

if TYPE_CHECKING:
    from jinja2 import Template

_MOST = 10_000
_MOST_WORD = 36  # letters
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
    moment in words; `evidence` is what is kept, in words, with a small picture of it (JPEG), or nothing.
    """

    firm: str
    ident: str
    seal: str
    root: str
    at: str
    parts: tuple[PartPage, ...]
    connections: tuple[ConnectionPage, ...]
    evidence: tuple[tuple[str, bytes], ...] = ()


@dataclass(frozen=True, slots=True)
class Table:
    """Cells under heads; a cell is words, or a `Link`."""

    heads: tuple[str, ...]
    rows: Sequence[tuple[Cell, ...]]


class Link(TypedDict):
    """Words that lead to a place in the page, and words behind them."""

    text: str
    to: str
    more: str


Cell: TypeAlias = str | Link


def report_page(job: JobPage) -> bytes:
    """The page as UTF-8. The same value gives the same bytes."""
    places = {page.part.number: f"part-{k}" for k, page in enumerate(job.parts, start=1)}
    connections = {page.connection.name: f"connection-{k}" for k, page in enumerate(job.connections, start=1)}
    return (
        _template()
        .render(
            job=job,
            parts=[_part(page, places, connections) for page in job.parts],
            connections=[_connection(page, connections, places) for page in job.connections],
            evidence=[(words, _address(picture)) for words, picture in job.evidence],
            caution=" ".join((_SAYS, *CAUTIONS[1:])),
        )
        .encode("utf-8")
    )


@cache
def _template() -> Template:
    """The page's template: whatever it is given is made visible, then escaped; what it was not given is an error."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    pages = Environment(
        autoescape=True,
        loader=PackageLoader("ledger.papers"),
        undefined=StrictUndefined,
        finalize=_seen,
        keep_trailing_newline=True,
    )
    pages.tests["wide"] = _is_wide
    return pages.get_template("report.html")


def _is_wide(value: Cell) -> bool:
    """Whether a cell holds a word too long for any column, which alone may be broken inside."""
    words = value if isinstance(value, str) else value["text"] + value["more"]
    return any(len(word) > _MOST_WORD for word in words.split())


def _seen(value: object) -> object:
    """Words with everything that hides or acts shown as an escape; markup that was made here is left alone."""
    from markupsafe import Markup

    return visible(value, most=_MOST) if isinstance(value, str) and not isinstance(value, Markup) else value


def _address(jpeg: bytes) -> object:
    """A picture as an address that holds all of it."""
    from markupsafe import Markup

    return Markup("data:image/jpeg;base64," + b64encode(jpeg).decode("ascii") if jpeg else "")  # noqa: S704 - base64


def _picture(data: bytes) -> object:
    """A picture that was painted here (`ledger.papers.svg`), as markup."""
    from markupsafe import Markup

    return Markup(data.decode("utf-8"))  # noqa: S704 - its words are escaped by its painter


def _link(name: str, places: Mapping[str, str], more: str = "") -> Cell:
    return Link(text=name, to=places[name], more=more) if name in places else name + more


def _part(page: PartPage, places: Mapping[str, str], connections: Mapping[str, str]) -> dict[str, object]:
    part, verdict = page.part, page.verdict
    found = (*verdict.stops, *verdict.warnings, *verdict.notes)
    return {
        "place": places[part.number],
        "link": _link(part.number, places),
        "heading": f"{part.number} {part.revision}  {part.title}",
        "revision": part.revision,
        "title": part.title,
        "state": "locked" if part.locked else "open",
        "go": verdict.go,
        "stops": len(verdict.stops),
        "warnings": len(verdict.warnings),
        "picture": _picture(page.picture),
        "facts": list(_stock(part, verdict)),
        "tables": [
            ("Stops, warnings, notes", _findings(found, verdict.permitted)),
            ("Key dimensions", _dimensions(part.dimensions)),
            ("Holes", _holes(part)),
            ("Questions", _questions(part)),
            ("Signatures", _signatures(page.signatures)),
            ("Permits", _permits(page.permits)),
        ],
        "connections": [_link(name, connections) for name in page.connections],
        "not_checked": verdict.not_checked,
    }


def _stock(part: Part, verdict: Verdict) -> Iterator[tuple[str, str]]:
    yield "fingerprint", verdict.subject
    yield "state", "locked: the verdict is the one at the lock" if part.locked else "open: checked just now"
    yield "form", part.form
    yield "hand", hand_text(part)
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


def _findings(found: Iterable[Finding], permitted: Iterable[Finding]) -> Table:
    glyphs = {"stop": "✗", "warning": "!", "note": "·", "permitted": "✓"}

    def row(how: str, f: Finding) -> tuple[str, ...]:
        return f"{glyphs[how]} {how}", f.code, f.where, f.message, f.fix

    rows = [
        ("", "", "", shown.text, "") if isinstance(shown, Following) else row(shown.severity, shown)
        for shown in grouped(found)
    ]
    heads = ("severity", "code", "where", "what", "fix")
    return Table(heads, rows + [row("permitted", f) for f in permitted])


def _dimensions(dimensions: Iterable[Dimension]) -> Table:
    rows = []
    for key in dimensions:
        marks = ", ".join(key.marks)
        source = f"{key.source} {key.instrument}".strip()
        if key.uncertainty:
            source += f" ± {key.uncertainty.written} (U)"
        rows.append(
            (key.name, dimension_text(key), sizes_text(key), str(key.measured_on or ""), source, marks)
        )
    return Table(("name", "nominal, limits", "from, to in mm", "on", "source", "marks"), rows)


def _holes(part: Part) -> Table:
    after = {f.label: f"{f.operation} {f.thread}".strip() for f in part.operations}
    rows = [(h.label, f"{hole_size(h)} mm", hole_place(h), after.get(h.label, "")) for h in part.holes]
    return Table(("hole", "size", "centre, mm", "after cutting"), rows)


def _questions(part: Part) -> Table:
    rows = [(q.ident, q.text, q.answer or "still open") for q in part.questions]
    return Table(("name", "question", "answer"), rows)


def _signatures(signatures: Iterable[Signature]) -> Table:
    rows = [
        (f"{s.role}, self-checked" if s.self_check else s.role, s.person, s.at, s.meaning) for s in signatures
    ]
    return Table(("role", "who", "when", "meaning"), rows)


def _permits(permits: Iterable[Permitted]) -> Table:
    rows = [(p.code, p.where, p.reason, p.bounds, f"{p.person}, {p.at}") for p in permits]
    return Table(("code", "where", "reason", "bounds", "who, when"), rows)


def _connection(
    page: ConnectionPage, connections: Mapping[str, str], parts: Mapping[str, str]
) -> dict[str, object]:
    connection = page.connection
    joint = " ".join(word for word in (connection.kind, connection.joint, connection.fastener) if word)
    plies: list[Cell] = []
    for ply in connection.plies:
        plies += [" on "] if plies else []
        plies.append(_link(ply.part, parts, f" ({ply.group})" if ply.group else ""))
    rows = [_clearance(clearance) for clearance in connection.clearances]
    return {
        "place": connections[connection.name],
        "name": connection.name,
        "picture": _picture(page.picture),
        "no_picture": page.no_picture,
        "facts": [("joint", joint), ("plies", *plies), *_margins(page)],
        "tables": [
            ("Findings", _findings(page.findings, ())),
            ("Clearances", Table(("name", "expected", "measured", "with, by, when"), rows)),
        ],
    }


def _margins(page: ConnectionPage) -> Iterator[tuple[str, str]]:
    for label, value in (("margin, nominal", page.margin_mm), ("margin, worst case", page.worst_case_mm)):
        if value is not None:
            yield label, f"{figure(value, 3)} mm"
    if page.odds:
        yield "odds", page.odds
    for more in page.connection.also:
        yield "also", f"{more.fastener} {more.joint}: {' on '.join(more.groups)}"
    if page.connection.position_written:
        yield "position", page.connection.position_written
    if page.connection.weld_words:
        yield "weld", ", ".join(page.connection.weld_words)
    if page.connection.gap and page.connection.kind not in WELDED:
        yield "drawn gap expected", str(page.connection.gap)


def _clearance(clearance: Clearance) -> tuple[str, ...]:
    reading = clearance.reading
    critical = " (critical)" if clearance.critical else ""
    expected = (clearance.name + critical, str(clearance.required))
    if reading is None:
        return (*expected, "not measured", "")
    measured = f"{reading.value.written} ± {reading.uncertainty.written} (U)"
    told = ", ".join(filter(None, (as_read(reading.how), reading.instrument, reading.by, reading.when)))
    return (*expected, measured, told)
