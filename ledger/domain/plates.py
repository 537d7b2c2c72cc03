"""
Plates as drawings: one part with its labels and sizes, or the plies of a connection as they lie on each other.

Nothing here raises for a drawing that is not finite: a screen still shows what there is, paper refuses it.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from ledger.domain.dimension_words import dimension_text, figure, hole_size
from ledger.domain.drawing import Drawing, Label, Line, Role, Size, SizeKind, around
from ledger.domain.record import Dimension, Part
from ledger.domain.shape import Box, Contour, Hole, Point, Profile, Stroke

_MOST_SIZES = 12  # key dimensions drawn between holes; more would hide the plate
_SHORTEST_ARROW = (
    0.04  # of the larger side: a shorter move could not be seen; its true length is written beside it
)
_HEAD = 0.012  # how long the head of an arrow is, of the larger side
_NEIGHBORS = 2  # labels are run together from three on: H1 to H3


@dataclass(frozen=True, slots=True)
class Ply:
    """One plate of a connection where it lies: its rings, and its holes for their labels."""

    rings: tuple[Contour, ...]
    holes: tuple[Hole, ...] = ()


def part_drawing(part: Part, *, groups: bool = True) -> Drawing:
    """
    A part: outline, openings, holes with labels, bend lines, marks, key dimensions; below it groups and diameters.

    Without `groups` the names that the job gives to holes are left out, and their sizes are told.
    """
    named = [(g.name, g.labels) for g in part.groups] if groups else []
    return plate_drawing(
        part.profile,
        part.holes,
        title=f"{part.number} {part.revision}",
        bends=part.bend_lines,
        groups=named,
        dimensions=part.dimensions,
    )


def plate_drawing(
    profile: Profile | None,
    holes: Sequence[Hole],
    *,
    title: str = "",
    bends: Mapping[str, Stroke] | None = None,
    groups: Sequence[tuple[str, Sequence[str]]] = (),
    dimensions: Sequence[Dimension] = (),
) -> Drawing:
    """A plate by its profile and every hole known; `bends` are the bend lines by label, where they have any."""
    rings = [*(profile.outlines if profile else ()), *(profile.openings if profile else ())]
    lines = [Line(ring.vertices, "plate") for ring in (*rings, *(h.contour() for h in holes))]
    lines += [Line(s.vertices, "bend", closed=False) for s in (profile.bends if profile else ())]
    lines += [Line(s.vertices, "mark", closed=False) for s in (profile.marks if profile else ())]
    box = around([*(ring.box for ring in rings), *map(rim_of, holes)])
    sizes, unsized = _sizes(holes, dimensions)
    labels = [*_bend_labels(bends or {}), *(hole_label(h) for h in holes if h.label)]
    cut = [ring.box for ring in (profile.outlines if profile else ())] or [*map(rim_of, holes)]
    overall = _overall(around(cut), dimensions) if cut else ()
    notes = tuple(_notes(holes, groups))
    return Drawing(box, title, tuple(lines), tuple(labels), (*overall, *sizes), notes, unsized)


def plies_drawing(
    plies: Sequence[Ply],
    *,
    title: str = "",
    wrong: Mapping[str, Point | None] | None = None,
    too_small: Iterable[str] = (),
    notes: tuple[str, ...] = (),
) -> Drawing:
    """
    The plies of a connection, the upper one first, all in the coordinates of the last: each by its own pen.

    `wrong` are holes of the first that do not fit, with the move that would bring each onto its counterpart, where one
    is known: they are thick and crossed, with an arrow and its length.
    """
    wrong = wrong or {}
    lines: list[Line] = []
    for place in reversed(range(len(plies))):
        role: Role = "upper" if place == 0 else "lower" if place == len(plies) - 1 else "between"
        lines += [Line(ring.vertices, role) for ring in plies[place].rings]
    box = around(ring.box for ply in plies for ring in ply.rings)
    side = Drawing(box).side_mm
    labels = []
    for hole in plies[0].holes if plies else ():
        if hole.label not in wrong:
            labels += [hole_label(hole, "upper")] if hole.label else []
            continue
        lines += [Line(hole.contour().vertices, "wrong"), *_cross(hole)]
        labels.append(hole_label(hole, "wrong"))
        move = wrong[hole.label]
        if hole.label in too_small:
            labels.append(Label(f"{hole.label} is too small", rim_of(hole), "wrong"))
        elif move and math.hypot(*move) > 0:
            arrow = arrow_lines(hole.centre, move, side)
            lines += arrow
            rim = around([rim_of(hole), *((x, y, x, y) for line in arrow for x, y, _ in line.vertices)])
            labels.append(Label(f"{math.hypot(*move):.2f} mm", rim, "move"))
    return Drawing(box, title, tuple(lines), tuple(labels), notes=notes)


def with_hole_lit(drawing: Drawing, hole: Hole, move: Point | None = None) -> Drawing:
    """The drawing with one hole set off; with a `move` in mm of the part, its arrow and its length."""
    lines = [Line(hole.contour().vertices, "wrong")]
    labels = [replace(label, role="wrong") if label.text == hole.label else label for label in drawing.labels]
    if move and math.hypot(*move) > 0:
        arrow = arrow_lines(hole.centre, move, drawing.side_mm)
        lines += arrow
        rim = around([rim_of(hole), *((x, y, x, y) for line in arrow for x, y, _ in line.vertices)])
        labels.append(Label(f"{math.hypot(*move):.2f} mm", rim, "move"))
    return replace(drawing, lines=(*drawing.lines, *lines), labels=tuple(labels))


def hole_label(hole: Hole, role: Role = "plate") -> Label:
    """The label of a hole: in it where there is room, else beside it."""
    return Label(hole.label, rim_of(hole), role, hole.diameter_mm)


def rim_of(hole: Hole) -> Box:
    """The box of a hole or slot: its core, and a radius around it."""
    xs, ys, r = [p[0] for p in hole.core], [p[1] for p in hole.core], hole.diameter_mm / 2
    return (min(xs) - r, min(ys) - r, max(xs) + r, max(ys) + r)


def _bend_labels(lines: Mapping[str, Stroke]) -> Iterator[Label]:
    """Each label at the end of its line that is farther right (or up)."""
    for label, stroke in lines.items():
        x, y = max((v[0], v[1]) for v in stroke.vertices)
        yield Label(label, (x, y, x, y), "bend")


def _sizes(
    holes: Sequence[Hole], dimensions: Sequence[Dimension]
) -> tuple[tuple[Size, ...], tuple[str, ...]]:
    """Key dimensions of holes and between holes, and the names of those that are not drawn."""
    known = {hole.label: hole for hole in holes}
    found: list[Size] = []
    left_out: list[str] = []
    kinds: dict[str, SizeKind] = {
        "diameter": "diameter",
        "slot-width": "diameter",
        "distance": "distance",
    }
    keys = [(key, on) for key in dimensions if (on := key.measured_on) and on.kind in kinds]
    keys.sort(key=lambda one: one[1].kind == "distance")  # lines last, so that they break at all words
    for count, (key, on) in enumerate(keys):
        of = [known[label] for label in on.labels if label in known]
        if len(of) != len(on.labels) or not of or count >= _MOST_SIZES:
            left_out.append(key.name)
            continue
        kind = kinds[on.kind]
        words = f"Ø {dimension_text(key)}" if kind == "diameter" else dimension_text(key)
        found.append(Size(kind, words, key.name, tuple(h.centre for h in of), rim_of(of[0])))
    return tuple(found), tuple(left_out)


def _overall(box: Box, dimensions: Sequence[Dimension]) -> tuple[Size, ...]:
    """Width and height: with their limits where they are key dimensions, else in brackets, for information."""
    if not all(map(math.isfinite, box)):
        return ()
    found = []
    sides: tuple[tuple[SizeKind, float], ...] = (("width", box[2] - box[0]), ("height", box[3] - box[1]))
    for side, value in sides:
        key = next((d for d in dimensions if d.measured_on and d.measured_on.kind == side), None)
        found.append(Size(side, dimension_text(key) if key else f"({figure(value, 3)})"))
    return tuple(found)


def _notes(holes: Sequence[Hole], groups: Sequence[tuple[str, Sequence[str]]]) -> Iterator[str]:
    """One line a group with its holes by size; then the holes that are in none."""
    known = {hole.label: hole for hole in holes}
    for name, labels in groups:
        own = [known[label] for label in labels if label in known]
        if own:
            yield f"{name}: {_by_size(own)}"
    grouped = {label for _, labels in groups for label in labels}
    others = [hole for hole in holes if hole.label not in grouped]
    if others:
        yield f"{'other holes' if grouped else 'holes'}: {_by_size(others)}"


def _by_size(holes: Sequence[Hole]) -> str:
    """How many of each size, in mm, and which: `4 x Ø 13.5 (H1 to H4)`."""
    if not all(math.isfinite(v) for h in holes for v in (h.diameter_mm, *h.centre)):
        return "not a finite size"
    sizes = [hole_size(hole) for hole in holes]
    counted = Counter(sizes)
    labels = {
        size: sorted((h.label for h, s in zip(holes, sizes, strict=True) if s == size), key=_in_order)
        for size in counted
    }
    return "; ".join(f"{count} x {size} ({run_of(labels[size])})" for size, count in sorted(counted.items()))


def _in_order(label: str) -> tuple[str, int]:
    """Labels by their numbers: H2 before H10."""
    stem = label.rstrip("0123456789")
    number = label[len(stem) :]
    return stem, int(number) if number.isascii() and number.isdigit() else -1


def run_of(labels: Sequence[str]) -> str:
    """Labels one after the other, runs of numbers drawn together: `H1 to H4, H7`."""
    runs: list[list[str]] = []
    for label in labels:
        if runs and _follows(runs[-1][-1], label):
            runs[-1].append(label)
        else:
            runs.append([label])
    return ", ".join(f"{r[0]} to {r[-1]}" if len(r) > _NEIGHBORS else ", ".join(r) for r in runs)


def _follows(first: str, second: str) -> bool:
    stem, number = _in_order(first)
    return number >= 0 and second == f"{stem}{number + 1}"


def _cross(hole: Hole) -> Iterator[Line]:
    (x, y), reach = hole.centre, hole.diameter_mm / 2
    for lean in (1.0, -1.0):
        yield Line(
            ((x - reach, y - lean * reach, 0.0), (x + reach, y + lean * reach, 0.0)), "move", closed=False
        )


def arrow_lines(start: Point, move: Point, side: float) -> list[Line]:
    """A shaft along a move and its head, for a picture this large in mm; longer than a move too short to be seen."""
    length = math.hypot(*move)
    ux, uy = move[0] / length, move[1] / length
    reach = max(length, _SHORTEST_ARROW * side)
    tip = (start[0] + ux * reach, start[1] + uy * reach)
    back, out = _HEAD * side, _HEAD * side / 2
    barbs = [
        (tip[0] - ux * back - sign * uy * out, tip[1] - uy * back + sign * ux * out, 0.0) for sign in (1, -1)
    ]
    return [
        Line(((*start, 0.0), (*tip, 0.0)), "move", closed=False),
        Line((barbs[0], (*tip, 0.0), barbs[1]), "move", closed=False),
    ]
