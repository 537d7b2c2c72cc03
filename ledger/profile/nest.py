"""
Which ring lies in which: outline, holes and openings, islands.

A ring's *depth* is the number of rings around it. Depth 0 is an outline, depth 1 a hole or an opening; deeper is an
island, which falls out, or a circle within a circle, of which the smaller is kept as the hole. A circle alone is
a disc. Round islands are listed with the holes, so that a part drawn into another can be compared; the stop stays.
Round rings with nothing whole around them are holes of a plate whose outline is broken or not drawn.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from ledger.domain.finding import Finding
from ledger.domain.shape import Contour, Hole
from ledger.profile.crossing import Plates
from ledger.profile.piece import Piece, apart, at
from ledger.profile.ring import Ring
from ledger.profile.rounds import hole_of, is_few_sided, nearly_round
from ledger.profile.threads import ThreadArc

CONCENTRIC_MM = 0.05
ROW_MM = 0.05


@dataclass(frozen=True, slots=True)
class Nested:
    """The rings sorted by what they are. `outline` is the largest of `outlines`."""

    outlines: tuple[Contour, ...]
    openings: tuple[Contour, ...]
    holes: tuple[Hole, ...]
    findings: tuple[Finding, ...]

    @property
    def outline(self) -> Contour | None:
        """The ring the vendor cuts loose."""
        return max(self.outlines, key=lambda c: (abs(c.area_mm2), c.vertices), default=None)


def nest(plates: Plates, broken: Sequence[Piece], threads: Sequence[ThreadArc] = ()) -> Nested:
    """
    Sort the rings. `broken` are pieces that made no ring: what is round and not within a ring is then a hole.

    `threads` are drawn signs of threads around holes.
    """
    parents = _parents(plates)
    depths = [_depth(k, parents) for k in range(len(parents))]
    rings = plates.rings
    top = [k for k, depth in enumerate(depths) if depth == 0]
    inner = [k for k, depth in enumerate(depths) if depth == 1]
    shapes = {k: hole_of(rings[k]) for k in range(len(rings))}
    findings: list[Finding] = []
    if _only_holes(top, shapes, broken, any_inside=bool(inner)):
        inner, top = top, []
    elif broken:
        loose = [k for k in top if _is_round(shapes[k]) and _within(rings[k], broken)]
        top, inner = [k for k in top if k not in loose], inner + loose
    holes, openings = _sorted_out(inner, rings, shapes)
    findings.extend(f for k in inner if k not in holes and (f := nearly_round(rings[k])))
    deeper = [k for k, depth in enumerate(depths) if depth > 1]
    islands, sizes = _deeper(deeper, parents, shapes)
    for outer, within in sizes.items():
        least, *others = sorted(within, key=lambda h: h.diameter_mm)
        holes[outer] = replace(least, also_mm=tuple(h.diameter_mm for h in others))
    holes.update({k: shape for k in islands if (shape := shapes[k]) is not None})
    findings.extend(_island(rings[k]) for k in islands)
    findings.extend(_outline_findings([rings[k] for k in top]))
    named = labelled(tuple(_with_threads(hole, threads) for hole in holes.values()))
    findings.extend(_concentric(hole) for hole in named if hole.also_mm)
    findings.extend(_lone_thread(t) for t in threads if not any(_about(t, hole) for hole in named))
    return Nested(
        tuple(sorted((rings[k].contour for k in top), key=lambda c: c.vertices)),
        tuple(sorted(openings, key=lambda c: c.vertices)),
        named,
        tuple(findings),
    )


def _with_threads(hole: Hole, threads: Sequence[ThreadArc]) -> Hole:
    """The hole with the sizes of the thread signs around it."""
    found = [t.diameter_mm for t in threads if _about(t, hole)]
    return replace(hole, also_mm=tuple(sorted({*hole.also_mm, *found}))) if found else hole


def labelled(holes: Sequence[Hole]) -> tuple[Hole, ...]:
    """
    Holes as H1, H2 … row by row from the top, each row from the left; the smaller first where two coincide.

    Holes whose y differ by less than ROW_MM from the one before are in one row, so that number noise does not
    change a label.
    """
    rows: list[list[Hole]] = []
    for hole in sorted(holes, key=lambda h: (-h.centre[1], h.centre[0], h.diameter_mm)):
        if rows and rows[-1][-1].centre[1] - hole.centre[1] < ROW_MM:
            rows[-1].append(hole)
        else:
            rows.append([hole])
    ordered = [
        h for row in rows for h in sorted(row, key=lambda h: (h.centre[0], -h.centre[1], h.diameter_mm))
    ]
    return tuple(replace(hole, label=f"H{k}") for k, hole in enumerate(ordered, start=1))


def _parents(plates: Plates) -> list[int | None]:
    """For every ring the smallest one around it; one that crosses a larger ring and lies in no other is in that."""
    if not plates.areas:
        return []
    points = [area.representative_point() for area in plates.areas]
    inside, around = plates.tree.query(points, predicate="within")
    parents: list[int | None] = [None] * len(points)
    for k, outer in zip(inside.tolist(), around.tolist(), strict=True):
        area = plates.areas[outer].area
        best = parents[k]
        if not area > plates.areas[k].area or (min(k, outer), max(k, outer)) in plates.crossed:
            continue
        if best is None or area < plates.areas[best].area:
            parents[k] = outer
    for a, b in sorted(plates.crossed):
        small, large = sorted((a, b), key=lambda k: (plates.areas[k].area, k))
        if parents[small] is None and parents[large] is None:
            parents[small] = large
    return parents


def _depth(k: int, parents: Sequence[int | None]) -> int:
    depth = 0
    outer = parents[k]
    while outer is not None:
        depth, outer = depth + 1, parents[outer]
    return depth


def _only_holes(
    top: Sequence[int], shapes: dict[int, Hole | None], broken: Sequence[Piece], *, any_inside: bool
) -> bool:
    """Several circles and nothing around or within them: a pattern without its plate."""
    return len(top) > 1 and not (any_inside or broken) and all(_is_round(shapes[k]) for k in top)


def _is_round(shape: Hole | None) -> bool:
    """A hole or slot beyond doubt: six sides with nothing around them are as likely a part."""
    return shape is not None and not is_few_sided(shape)


def _within(ring: Ring, broken: Sequence[Piece]) -> bool:
    boxes = [piece.box for piece in broken]
    low_x, low_y = min(b[0] for b in boxes), min(b[1] for b in boxes)
    high_x, high_y = max(b[2] for b in boxes), max(b[3] for b in boxes)
    box = ring.box
    return low_x <= box[0] and low_y <= box[1] and box[2] <= high_x and box[3] <= high_y


def _sorted_out(
    inner: Sequence[int], rings: Sequence[Ring], shapes: dict[int, Hole | None]
) -> tuple[dict[int, Hole], list[Contour]]:
    holes: dict[int, Hole] = {}
    openings: list[Contour] = []
    for k in inner:
        shape = shapes[k]
        if shape is None:
            openings.append(rings[k].contour)
        else:
            holes[k] = shape
    return holes, openings


def _deeper(
    deeper: Sequence[int], parents: Sequence[int | None], shapes: dict[int, Hole | None]
) -> tuple[list[int], dict[int, list[Hole]]]:
    """Islands, and circles within circles by their outermost one."""
    islands: list[int] = []
    sizes: dict[int, list[Hole]] = {}
    for k in deeper:
        outer = k
        while (parent := parents[outer]) is not None and _same_centre(shapes[k], shapes[parent]):
            if _depth(parent, parents) == 0:
                break
            outer = parent
        shape, around = shapes[k], shapes[outer]
        if outer == k or shape is None or around is None or _depth(outer, parents) != 1:
            islands.append(k)
        else:
            sizes.setdefault(outer, [around]).append(shape)
    return islands, sizes


def _same_centre(a: Hole | None, b: Hole | None) -> bool:
    return (
        a is not None
        and b is not None
        and not (a.is_slot or b.is_slot)
        and apart(a.centre, b.centre) <= CONCENTRIC_MM
    )


def _about(thread: ThreadArc, hole: Hole) -> bool:
    return apart(thread.centre, hole.centre) <= CONCENTRIC_MM


def _lone_thread(thread: ThreadArc) -> Finding:
    return Finding(
        "open_contour",
        f"an arc of three quarters of {thread.diameter_mm:.3f} mm at {at(thread.centre)} is open, with no hole in it",
        where=at(thread.centre),
        fix="delete it, or put it on a MARK layer",
    )


def _concentric(hole: Hole) -> Finding:
    sizes = " and ".join(f"{d:.3f}" for d in (hole.diameter_mm, *hole.also_mm))
    return Finding(
        "concentric",
        f"{hole.label}: circles of {sizes} mm share the center {at(hole.centre)}: which one is cut? "
        "The smallest was taken as the hole",
        where=hole.label,
        fix="say which is cut, and write a clean copy with that one alone",
        measured=f"{hole.diameter_mm:.3f} mm",
    )


def _island(ring: Ring) -> Finding:
    return Finding(
        "island",
        f"a contour is within an opening, so it falls out with it: {ring.where}",
        where=ring.where,
        fix="make it a part of its own, join it to the plate, or put it on a MARK layer",
    )


def _outline_findings(outlines: Sequence[Ring]) -> Iterator[Finding]:
    if not outlines:
        yield Finding(
            "no_outline",
            "no closed contour goes around the plate",
            where="the drawing",
            fix="draw the outline as one closed contour on a layer that is cut",
        )
    elif len(outlines) > 1:
        largest = sorted(outlines, key=lambda ring: -abs(ring.contour.area_mm2))
        yield Finding(
            "several_outlines",
            f"{len(outlines)} outlines side by side; the largest are a {largest[0].where} "
            f"and a {largest[1].where}",
            where=largest[1].where,
            fix="save every part in a file of its own",
            measured=str(len(outlines)),
            limit="1",
        )
