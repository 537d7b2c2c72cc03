"""
The sheet that a vendor reads: a page for each part, with a picture to a stated scale, and more where lists are long.

Everything on it is read from the part's record and from the profile that goes out; nothing is typed here. What a vendor
has to know and the record does not say is named as not recorded. A *preview* says so across the page.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from ledger.domain.dimension_words import dimension_text, figure, hole_size, sizes_text
from ledger.domain.errors import BadInput, visible
from ledger.domain.fields import SHEET, on_paper
from ledger.domain.plates import part_drawing
from ledger.domain.plural import counted
from ledger.domain.record import Part
from ledger.domain.shape import Profile, Stroke
from ledger.packet.names import dxf_name
from ledger.papers.bends import bend_rows
from ledger.papers.cut_list import coating_text
from ledger.papers.figures import figures
from ledger.papers.flow import Flow, Piece, Table, flowed
from ledger.papers.hand import face_text
from ledger.papers.notes import CAUTIONS
from ledger.papers.page import Area, Page, Row, how_many, total_height
from ledger.papers.sheet_picture import Drawn, draw_on
from ledger.papers.side_view import side_views
from ledger.papers.title_block import DOCUMENT, Issue, title_block
from ledger.words.counts import count_text

NET = "Net profile: the finished size. The vendor compensates kerf."
_MM_PER_INCH = 25.4
_EDGE_MM, _TITLE_MM, _CAUTION_MM, _TABLES_MM, _HEAD_MM = 10.0, 44.0, 9.0, 98.0, 6.0
_SIZES = (7.0, 6.5, 6.0)
_SMALL = (5.5, 5.0)
_MORE = "see the next sheet"
_SIDE, _SIDE_WORDS_MM, _SIDE_MARGIN_MM = (
    0.36,
    8.0,
    5.0,
)  # of the room for pictures, where there is a view from the side
_PAIR = (0.27, 0.73)
_KEY = (0.27, 0.34, 0.39)
_HOLE = (0.14, 0.2, 0.2, 0.21, 0.25)
_HOLE_HEAD = Row(("hole", "x", "y", "size", "after"), _HOLE, bold=True, ruled=True)
_ONE_COLUMN = 25  # rows that go into one column
_MOST_LABELS = 30  # named for one kind of work; the rest is counted
_INTRO_MM, _LEAST_MM = 7.5, 50.0


def vendor_sheet(part: Part, issue: Issue, *, paper: str = "A4") -> bytes:
    """
    The sheet as PDF: one page, and further ones for what its tables have no room for.

    Raises BadInput for a part without a profile or a paper that is not known.
    """
    if part.profile is None:
        raise BadInput(f"{visible(part.number)} has no drawing, so there is no sheet; take a drawing first")
    title = f"{part.number} {part.revision} {DOCUMENT}"
    page = Page(paper, title=title, owner=issue.owner)
    left = _first(page, part, issue, count=1)
    if not left:
        return page.bytes()
    flow = Flow(
        paper,
        title,
        issue.owner,
        on_page=partial(_further, part, issue),
        first=partial(_leading, part, issue),
        size=_SIZES[0],
        columns=2,
    )
    return flowed(flow, left)[0]


def _leading(part: Part, issue: Issue, page: Page, _number: int, count: int) -> None:
    _first(page, part, issue, count=count)


def _first(page: Page, part: Part, issue: Issue, *, count: int) -> list[Piece]:
    """Draw the first page of `count`; what its tables have no room for, as it goes on on the next."""
    profile = part.profile
    if profile is None:
        return []
    if issue.is_preview:
        _across(page)
    wide = page.width - 2 * _EDGE_MM
    whole = Area(_EDGE_MM, page.height - _EDGE_MM, wide, page.height - 2 * _EDGE_MM)
    half = wide * 0.5
    columns = _columns(part, profile, half - 1)
    tables = _tables_height(profile, columns, half)
    picture = Area(
        whole.x, whole.top - _HEAD_MM, wide, whole.height - _HEAD_MM - tables - _CAUTION_MM - _TITLE_MM
    )
    below = picture.top - picture.height
    drawn = _pictures(page, picture, part)
    page.frame(whole, width=0.5)
    _heading(page, Area(whole.x, whole.top, wide, _HEAD_MM), profile, drawn)
    shown = _holes(page, Area(whole.x, below, half, tables), profile, columns)
    left = _continued(columns.holes, shown, _HOLE_HEAD)
    beside = Area(whole.x + half, below, wide - half, tables)
    page.frame(beside)
    inner = Area(beside.x + 0.5, beside.top - 0.5, beside.width - 1, beside.height - 1)
    shown = page.rows(inner, columns.facts, sizes=columns.sizes, more=_MORE)
    left += _continued(columns.facts, shown, None)
    below -= tables
    _cautions(page, Area(whole.x, below, wide, _CAUTION_MM))
    block = Area(whole.x, below - _CAUTION_MM, wide, _TITLE_MM)
    title_block(page, block, part, issue, drawn.scale.name, sheets=count)
    return left


def _pictures(page: Page, area: Area, part: Part) -> Drawn:
    """The part in plan, to scale; below it its sides, where its bends are recorded."""
    views = side_views(part)
    if not views:
        return draw_on(page, area, part_drawing(part))
    below = Area(area.x, area.top - area.height * (1 - _SIDE), area.width, area.height * _SIDE)
    each = below.width / len(views)
    for k, view in enumerate(views):
        room = Area(below.x + k * each, below.top, each, below.height - _SIDE_WORDS_MM)
        drawn = draw_on(page, room, view, margin_mm=_SIDE_MARGIN_MM)
        words = f"{view.title}; scale {drawn.scale.name}. {' '.join(view.notes)}"
        told = Area(room.x + 1, room.top - room.height, each - 2, _SIDE_WORDS_MM)
        page.block(told, words, sizes=(6.5, 6.0, 5.5, 5.0, 4.5))
    page.line((area.x, below.top), (area.x + area.width, below.top), width=0.1, grey=0.5)
    return draw_on(page, Area(area.x, area.top, area.width, area.height * (1 - _SIDE)), part_drawing(part))


def _continued(rows: Sequence[Row], shown: int, head: Row | None) -> list[Piece]:
    """The rows from `shown` on as tables, each under the head that it stands under on the first page."""
    pieces: list[Piece] = []
    table: list[tuple[str, ...]] = []
    shares = head.shares if head else _PAIR

    def close() -> None:
        if table:
            same = head if head and len(head.cells) == len(shares) else None
            pieces.append(Table(shares, list(table), same.cells if same else ()))
            table.clear()

    for k, row in enumerate(rows):
        if row.bold or len(row.cells) != len(shares):
            close()
            shares = row.shares
            if row.bold:
                head = row
                continue
        if k >= shown:
            table.append(row.cells)
    close()
    return pieces


def _further(part: Part, issue: Issue, page: Page, number: int, count: int) -> None:
    """What stands on a further page besides its tables: of which part and state, which of how many."""
    if issue.is_preview:
        _across(page)
    kind = f"{DOCUMENT}, PREVIEW: not released, do not cut" if issue.is_preview else DOCUMENT
    name = f"{part.number} {part.revision}, {kind}, continued; fingerprint {issue.subject}"
    page.block(Area(14.0, 14.0, page.width - 55, 4.0), name, sizes=(6.0, 5.0, 4.0, 3.5), grey=0.3)
    page.text((page.width - 14.0, 11.9), f"sheet {number} of {count}", size=6.0, anchor="end", grey=0.3)


def _across(page: Page) -> None:
    middle = (page.width / 2 + 12, page.height / 2 - 8)
    page.text(middle, "PREVIEW", size=112, bold=True, anchor="middle", turned=52, grey=0.88)


def _heading(page: Page, area: Area, profile: Profile, drawn: Drawn) -> None:
    lines = [
        kind
        for kind, there in (("bend lines dashed", profile.bends), ("marks dotted", profile.marks))
        if there
    ]
    said = f"Scale {drawn.scale.name}, on paper only: cut from the DXF. Sizes in mm; in brackets for information."
    if lines:
        said += f" Not cut: {', '.join(lines)}."
    if drawn.unlabelled:
        labels = counted(len(drawn.unlabelled), "hole label")
        said += f" {labels} omitted for lack of space: see the hole table and the DXF."
    if drawn.unsized:
        said += f" {counted(len(drawn.unsized), 'key dimension is', 'key dimensions are')} in the table only."
    inner = Area(area.x + 1, area.top - 0.8, area.width - 2, area.height - 1)
    page.block(inner, f"{NET} {said}", sizes=(7.0, 6.5, 6.0, 5.5, 5.0))
    page.line((area.x, area.top - area.height), (area.x + area.width, area.top - area.height))


@dataclass(frozen=True, slots=True)
class _Columns:
    """Rows of the left column (holes, and key dimensions that the right one has no room for) and of the right one."""

    holes: list[Row]
    facts: list[Row]
    sizes: tuple[float, ...] = _SIZES


def _columns(part: Part, profile: Profile, width: float) -> _Columns:
    """What is done to the part comes before its key dimensions: should rows be left out, it is not among them."""
    holes = [Row(cells, _HOLE) for cells in hole_cells(part, profile)] or [Row(("none",), (1.0,))]
    first, (head, *keys) = [*_stock(part, profile), *_after(part, profile)], _keys(part)
    whole = _Columns(holes, [*first, head, *keys])
    if len(holes) > _ONE_COLUMN or total_height(whole.facts, width, _SIZES[0]) <= _TABLES_MM - 1:
        return whole
    split = whole
    for size in _SIZES:
        room = _TABLES_MM - _INTRO_MM - 2 - total_height([_HOLE_HEAD, *holes, head], width, size)
        left = how_many(keys, width, size, room) if room > 0 else 0
        if not left:
            continue
        rest = [head, *keys[left:]] if keys[left:] else []
        split = _Columns([*holes, head, *keys[:left]], [*first, *rest], (size,))
        if total_height(split.facts, width, size) <= _TABLES_MM - 1:
            break
    return split


def _holes(page: Page, area: Area, profile: Profile, columns: _Columns) -> int:
    """The hole table; past one column of rows it goes on in a second. How many rows were shown."""
    page.frame(area)
    left, bottom = _corner(profile)
    top = Area(area.x + 0.5, area.top - 0.5, area.width - 1, _INTRO_MM)
    said = f"HOLES, mm, in the drawing's own x and y. The lower left corner of the plate's box is at {left}, {bottom}."
    page.block(top, said, sizes=(6.5, 6.0, 5.5))
    rows = columns.holes
    table = Area(top.x, top.top - top.height, top.width, area.height - top.height - 1.5)
    if len(profile.holes) <= _ONE_COLUMN:
        return page.rows(table, rows, sizes=columns.sizes, more=_MORE, head=_HOLE_HEAD)
    sides = [Area(table.x + k * table.width / 2, table.top, table.width / 2, table.height) for k in (0, 1)]
    room = table.height - total_height([_HOLE_HEAD], sides[0].width, _SMALL[-1])
    first = min((len(rows) + 1) // 2, how_many(rows, sides[0].width, _SMALL[-1], room))
    return sum(
        page.rows(side, some, sizes=_SMALL, more=_MORE, head=_HOLE_HEAD)
        for side, some in zip(sides, (rows[:first], rows[first:]), strict=True)
    )


def hole_cells(part: Part, profile: Profile) -> list[tuple[str, ...]]:
    """Label, x, y, size and what is done afterwards, for every hole."""
    after = {f.label: f"{f.operation} {f.thread}".strip() for f in part.operations}
    return [
        (h.label, figure(h.centre[0], 3), figure(h.centre[1], 3), hole_size(h), after.get(h.label, ""))
        for h in profile.holes
    ]


def _corner(profile: Profile) -> tuple[str, str]:
    boxes = [c.box for c in profile.outlines] or [h.contour().box for h in profile.holes]
    if not boxes:
        return ("0", "0")
    return (figure(min(b[0] for b in boxes), 3), figure(min(b[1] for b in boxes), 3))


def _tables_height(profile: Profile, columns: _Columns, width: float) -> float:
    """As much as the tables need at full size, so that the picture gets the rest; at most `_TABLES_MM`."""
    if len(profile.holes) > _ONE_COLUMN:
        return _TABLES_MM
    needed = max(
        total_height([_HOLE_HEAD, *columns.holes], width - 1, _SIZES[0]) + _INTRO_MM + 2,
        total_height(columns.facts, width - 1, _SIZES[0]) + 1.5,
    )
    return min(max(needed, _LEAST_MM), _TABLES_MM)


def _stock(part: Part, profile: Profile) -> Iterator[Row]:
    thick = part.thickness
    size = profile.size_mm
    pairs = {
        "material": part.material,
        "thickness": str(thick) if thick else "",
        "quantity": count_text(part),
        "process": part.process,
        "coating": coating_text(part) or "none recorded",
        **{label: words or "none recorded" for label, words in on_paper(part, SHEET)},
        "hand, face shown": face_text(part),
        "overall size": _overall(size) if size else "",
        "file": f"{dxf_name(part)}, its numbers are {part.taken.unit if part.taken else ''}",
    }
    if part.etched:
        pairs["etched number"] = part.etched
    for label, words in (*pairs.items(), *figures(part).rows):
        yield Row((label, words or "not recorded: ask"), _PAIR)


def _overall(size: tuple[float, float]) -> str:
    mm, inch = (
        " x ".join(figure(side / per, places) for side in size)
        for per, places in ((1.0, 3), (_MM_PER_INCH, 4))
    )
    return f"{mm} mm = {inch} in"


def _keys(part: Part) -> Iterator[Row]:
    yield Row(("KEY DIMENSION", "nominal, limits", "from, to in mm; on"), _KEY, bold=True, ruled=True)
    for key in part.dimensions:
        on = f"; {key.measured_on}" if key.measured_on else ""
        critical = " (critical)" if key.critical else ""
        yield Row(
            (key.name + critical, dimension_text(key), f"{sizes_text(key)}{on}".removeprefix("; ")), _KEY
        )
    if not part.dimensions:
        yield Row(("none recorded",), (1.0,))


def _after(part: Part, profile: Profile) -> Iterator[Row]:
    """Secondary operations: holes by what is done to them, bends and marks by layer."""
    yield Row(("AFTER CUTTING",), (1.0,), bold=True, ruled=True)
    done: dict[str, list[str]] = {}
    order = [hole.label for hole in part.holes]
    known = [f for f in part.operations if f.label in order]
    for worked in sorted(known, key=lambda f: order.index(f.label)):
        done.setdefault(f"{worked.operation} {worked.thread}".strip(), []).append(worked.label)
    for what, labels in done.items():
        listed = ", ".join(labels[:_MOST_LABELS])
        if len(labels) > _MOST_LABELS:
            listed += f" and {len(labels) - _MOST_LABELS} more: see notes.txt"
        yield Row((what, f"{len(labels)} x: {listed}"), _PAIR)
    if profile.bends:
        yield Row(
            ("bend lines", f"{len(profile.bends)}, see drawing (layer {_layers(profile.bends)})"), _PAIR
        )
        for bends, words in bend_rows(part):
            yield Row((f"bend {bends}", words), _PAIR)
    if profile.marks:
        yield Row(("marks, not cut", _on_layers(profile.marks)), _PAIR)
    if not done and not profile.bends and not profile.marks:
        yield Row(("nothing recorded: cut only",), (1.0,))


def _on_layers(strokes: tuple[Stroke, ...]) -> str:
    return f"{len(strokes)} {'line' if len(strokes) == 1 else 'lines'} on layer {_layers(strokes)}"


def _layers(strokes: tuple[Stroke, ...]) -> str:
    return ", ".join(sorted({stroke.layer for stroke in strokes}))


def _cautions(page: Page, area: Area) -> None:
    page.frame(area)
    inner = Area(area.x + 1, area.top - 0.7, area.width - 2, area.height - 1)
    page.block(inner, f"CAUTION. {' '.join(CAUTIONS)} Ask before you change anything.", sizes=(7.0, 6.5, 6.0))
