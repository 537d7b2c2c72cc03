"""
Walk a drawing: put every block in place and sort what is drawn.

Each entity becomes a piece to cut, a mark or a bend line, by its layer's role; or a finding. Nothing is skipped in
silence: text, dimensions and the like, hidden layers and paper space are *unexplained content*, because the
vendor's import may cut them; what should be a curve and cannot be read is an *unreadable entity*. Entities on
layer 0 of a block lie on the layer of its INSERT.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from ledger.domain.errors import visible
from ledger.domain.finding import Finding
from ledger.domain.plural import counted
from ledger.profile.affine import Affine, inserted
from ledger.profile.entities import KINDS, NotRead, only_fit_points, own_plane, piece_of
from ledger.profile.layers import Layers, is_broken, is_centre
from ledger.profile.piece import Piece
from ledger.profile.scan import Scan
from ledger.profile.words import told, words_of

_LETTERING = frozenset(
    [
        "TEXT",
        "MTEXT",
        "ATTRIB",
        "ATTDEF",
        "DIMENSION",
        "ARC_DIMENSION",
        "LARGE_RADIAL_DIMENSION",
        "LEADER",
        "MULTILEADER",
        "MLEADER",
        "TOLERANCE",
        "HATCH",
        "MPOLYGON",
        "POINT",
        "SHAPE",
        "SOLID",
        "TRACE",
        "WIPEOUT",
        "RAY",
        "XLINE",
        "ACAD_TABLE",
        "RTEXT",
        "ARCALIGNEDTEXT",
    ]
)
_NO_CONTENT = frozenset(("VIEWPORT", "SEQEND"))
_SAMPLE = 30
_MOST_WORDS = 2000
# In a file that says R12 the library reads these without flags, degree and extrusion, and says nothing.
_SINCE_R13, _R12 = frozenset(("LWPOLYLINE", "SPLINE")), "AC1009"


@dataclass(slots=True)
class Drawn:
    """
    What a drawing holds. `lost` counts what cannot be used: by code, kind, layer and reason; `words` counts texts,
    dimensions and the like, `written` is what they say.
    """

    cut: list[Piece] = field(default_factory=list)
    marks: list[Piece] = field(default_factory=list)
    bends: list[Piece] = field(default_factory=list)
    empty: list[str] = field(default_factory=list)
    layers: set[str] = field(default_factory=set)
    lost: Counter[tuple[str, str, str, str]] = field(default_factory=Counter)
    samples: dict[tuple[str, str], str] = field(default_factory=dict)
    words: int = 0
    written: list[Finding] = field(default_factory=list)

    def findings(self) -> Iterator[Finding]:
        """A finding for every sort of thing that was lost."""
        for (code, kind, layer, why), count in sorted(self.lost.items()):
            sample = self.samples.get((kind, layer), "")
            if not kind:
                yield _lost_in_loading(layer, why)
                continue
            what = f"{counted(count, f'{kind} entity', f'{kind} entities')} on layer {layer}"
            yield _told(code, what, layer, why or (f"“{sample}”" if sample else ""))
        yield from self.written


def walk(document: Any, to: Affine, layers: Layers, seen: Scan) -> Drawn:
    """Everything in model space through `to`, and what stands in paper space. `seen` is the scan of the bytes."""
    walker = _Walker(document, layers, seen)
    model = document.modelspace()
    walker.missing("the drawing", seen.drawn, len(model))
    for entity in model:
        walker.take(entity, to, (), hidden=False)
    for layout in document.layouts:
        if not layout.is_any_paperspace:
            continue
        for entity in layout:
            walker.paper(entity)
    return walker.drawn


class _Walker:
    def __init__(self, document: Any, layers: Layers, seen: Scan) -> None:
        self.document = document
        self.layers = layers
        self.seen = seen
        self.drawn = Drawn()
        self.counted: set[str] = set()

    def lose(self, code: str, entity: Any, layer: str, why: str) -> None:
        self.drawn.lost[code, visible(entity.dxftype()), visible(layer), why] += 1

    def missing(self, where: str, in_bytes: int, loaded: int) -> None:
        """The loader dropped something that the bytes hold."""
        if loaded < in_bytes:
            why = f"{in_bytes - loaded} of {counted(in_bytes, 'entity', 'entities')} lost in loading"
            self.drawn.lost["unreadable_entity", "", where, why] = in_bytes - loaded

    def paper(self, entity: Any) -> None:
        if entity.dxftype() not in _NO_CONTENT:
            self.lose("unexplained_content", entity, _given(entity, "layer", "0"), "in paper space")

    def take(self, entity: Any, to: Affine, inside: tuple[str, ...], *, hidden: bool) -> None:
        """One entity; `inside` holds the layer of the innermost INSERT around it, if any."""
        kind = entity.dxftype()
        layer = _given(entity, "layer", "0")
        if layer == "0" and inside:
            layer = inside[-1]
        hidden = hidden or bool(_given(entity, "invisible", 0))
        if kind in _NO_CONTENT:
            return
        if kind == "INSERT":
            self._insert(entity, to, layer, hidden=hidden or self.layers.hidden(layer))
            return
        self.drawn.layers.add(visible(layer))
        if self.layers.role(layer) == "ignore":
            self.lose("ignored_content", entity, layer, "")
        elif hidden or self.layers.hidden(layer):
            self.lose("unexplained_content", entity, layer, "hidden")
        elif kind in _LETTERING:
            self._lettering(entity, to, layer)
        elif kind not in KINDS:
            self.lose("unreadable_entity", entity, layer, "it is not a flat curve that can be cut")
        elif kind in _SINCE_R13 and self.seen.version <= _R12:
            why = "the file says it is of R12, which has none, and half of it is lost in loading"
            self.lose("unreadable_entity", entity, layer, why)
        else:
            self._line(entity, to, layer)

    def _line(self, entity: Any, to: Affine, layer: str) -> None:
        if line := self._broken_line(entity, layer):
            self._dashed(entity, to, layer, line)
        else:
            self._curve(entity, to, layer)

    def _dashed(self, entity: Any, to: Affine, layer: str, line: str) -> None:
        """A broken line that nobody has spoken for: what its linetype was said to be, else asked about."""
        role = self.layers.stated(line)
        if role == "ignore":
            self.lose("ignored_content", entity, layer, f"drawn as a {visible(line)} line")
        elif role is not None:
            self._curve(entity, to, layer, role)
        elif entity.dxftype() == "LINE" and not is_centre(line):
            self.lose("maybe_bend", entity, layer, visible(line))
        else:
            self.lose("unexplained_content", entity, layer, f"drawn as a {visible(line)} line")

    def _broken_line(self, entity: Any, layer: str) -> str:
        """The linetype of an entity that its line says is no cut, on a layer that nobody has said is one."""
        own = str(_given(entity, "linetype", "BYLAYER"))
        line = self.layers.linetype(layer) if own.casefold() == "bylayer" else own
        return line if is_broken(line) and not self.layers.agreed(layer) else ""

    def _curve(self, entity: Any, to: Affine, layer: str, said: str | None = None) -> None:
        try:
            piece = piece_of(entity, to, layer)
        except NotRead as why:
            self.lose("unreadable_entity", entity, layer, str(why))
            return
        if piece is None:
            self.drawn.empty.append(f"{entity.dxftype()} on layer {visible(layer)}")
            return
        if only_fit_points(entity):
            self.lose("fit_points", entity, layer, "")
        role = said or self.layers.role(layer)
        target = {"mark": self.drawn.marks, "bend": self.drawn.bends}.get(role, self.drawn.cut)
        target.append(piece)

    def _lettering(self, entity: Any, to: Affine, layer: str) -> None:
        self.drawn.words += 1
        self.lose("unexplained_content", entity, layer, "")
        self._sample(entity, layer)
        if len(self.drawn.written) < _MOST_WORDS:
            self.drawn.written.extend(told(entity, to, layer))

    def _sample(self, entity: Any, layer: str) -> None:
        """The words of one text, so that it can be found; the first in the alphabet, whatever the order."""
        kind = entity.dxftype()
        if kind in ("TEXT", "ATTRIB", "ATTDEF", "MTEXT"):
            text = visible(words_of(entity), most=_SAMPLE)
            key = (kind, visible(layer))
            self.drawn.samples[key] = min(self.drawn.samples.get(key, text), text)

    def _insert(self, insert: Any, to: Affine, layer: str, *, hidden: bool) -> None:
        name = insert.dxf.name
        block = self.document.blocks.get(name)
        if block is None or block.block.is_xref or block.block.is_xref_overlay:
            why = f"block {visible(name)} is not in the file"
            self.lose("unreadable_entity", insert, layer, why)
            return
        for attribute in insert.attribs:
            self.take(attribute, to, (layer,), hidden=hidden)
        if name.casefold() not in self.counted:
            self.counted.add(name.casefold())
            self.missing(f"block {visible(name)}", self.seen.in_blocks.get(name.casefold(), 0), len(block))
        try:
            places = list(_places(insert, block))
        except NotRead as why:
            self.lose("unreadable_entity", insert, layer, str(why))
            return
        for place in places:
            for entity in block:
                self.take(entity, to.after(place), (layer,), hidden=hidden)


def _given(entity: Any, name: str, default: Any) -> Any:
    """An attribute, where this kind of entity can have it."""
    return entity.dxf.get(name, default) if entity.dxf.is_supported(name) else default


def _places(insert: Any, block: Any) -> Iterator[Affine]:
    """Every row and column of an INSERT. Spacing turns with the block and is not scaled (DXF reference, INSERT)."""
    dxf = insert.dxf
    plane = own_plane(insert)
    base, at = block.base_point, dxf.insert
    turned = inserted(base=(0.0, 0.0), scale=(1.0, 1.0), angle_deg=dxf.rotation, at=(0.0, 0.0))
    for row in range(max(1, dxf.row_count)):
        for column in range(max(1, dxf.column_count)):
            dx, dy = turned.place(column * dxf.column_spacing, row * dxf.row_spacing)
            placed = inserted(
                base=(base.x, base.y),
                scale=(dxf.xscale, dxf.yscale),
                angle_deg=dxf.rotation,
                at=(at.x + dx, at.y + dy),
            )
            yield plane.after(placed)


def _lost_in_loading(where: str, why: str) -> Finding:
    """What the bytes hold and the loader did not give."""
    return Finding(
        "unreadable_entity",
        f"{where}: {why}",
        where=where,
        fix="export the drawing again as DXF R2010",
    )


def _told(code: str, what: str, layer: str, why: str) -> Finding:
    extra = f" ({why})" if why else ""
    if code == "ignored_content":
        return Finding(
            code,
            f"{what}: agreed to be left out, and still in the file",
            severity="warning",
            where=f"layer {layer}",
            fix="tell the vendor to leave the layer out, or write a clean copy",
        )
    if code == "maybe_bend":
        return Finding(
            code,
            f"{what}, drawn as {why} lines: bend lines, marks, or nothing to cut?",
            where=f"linetype {why}",
            fix=f"say what they are: --layer {why}=bend, mark, ignore or cut",
        )
    if code == "fit_points":
        return Finding(
            code,
            f"{what}: known only by points they go through; every program draws another curve there",
            where=f"layer {layer}",
            fix="write a clean copy, which fixes the curve, and look at it",
        )
    if code == "unexplained_content":
        return Finding(
            code,
            f"{what}{extra}: neither cut, mark nor bend line; the vendor's import may cut it",
            where=f"layer {layer}",
            fix="delete it in the drawing, or write a clean copy and look at it",
        )
    return Finding(
        code,
        f"{what}: {why}",
        where=f"layer {layer}",
        fix="draw it as lines, arcs and circles in the plane, or delete it",
    )
