"""A plate is one drawing for every medium: no word over a stroke, one scheme, groups and sizes by name."""

from __future__ import annotations

import ast
import math
import random
import re
from pathlib import Path

import pytest
from shapely.affinity import rotate
from shapely.geometry import LineString, Polygon, box

from ledger.domain.drawing import GROUND, INK, PENS
from ledger.domain.plates import Ply, part_drawing, plate_drawing, plies_drawing
from ledger.domain.record import HoleGroup, Part
from ledger.domain.shape import Contour, Hole, Profile, Stroke
from ledger.papers.lettered import lettered
from ledger.papers.lettering import POINT_MM, printable, width_mm
from ledger.papers.png import png
from ledger.papers.svg import picture_unit, svg


def random_plate(seed):
    """A plate with a slanted outline, an opening, a bend line and holes and slots close to all of them."""
    dice = random.Random(seed)
    wide, high, lean = dice.uniform(60, 400), dice.uniform(40, 300), dice.uniform(5, 30)
    outline = Contour(((0, 0, 0), (wide, lean, 0), (wide - lean, high, 0.2), (lean, high - lean, 0)))
    holes = []
    for k in range(dice.randint(1, 60)):
        at = (dice.uniform(0, wide), dice.uniform(0, high))
        size = dice.choice((2.0, 5.0, 9.0, 13.5, 40.0))
        turn, length = dice.uniform(0, math.pi), dice.choice((0, 0, size, 3 * size))
        far = (at[0] + length * math.cos(turn), at[1] + length * math.sin(turn))
        holes.append(Hole(f"H{k + 1}", (at, far) if length else (at,), size))
    opening = Contour(((wide / 2, 5, 0), (wide / 2 + 9, 5, 0), (wide / 2 + 4, 25, 0)))
    bend = Stroke(((0.0, high / 3, 0.0), (wide, high / 2, 0.0)), "BEND")
    profile = Profile(outline, tuple(holes), (opening,), (outline,), bends=(bend,))
    return plate_drawing(profile, holes, bends={"B1": bend})


def strokes(drawing):
    for line in drawing.lines:
        points = Contour(line.vertices).flattened(0.01)
        yield LineString([*points, points[0]] if line.closed else points)


def written(words, unit):
    """The rectangle that words cover, without the thin rim that letters never fill."""
    wide, high = width_mm(printable(words.text), words.size) * unit, 0.72 * words.size * POINT_MM * unit
    x, y = words.place
    left = x - wide / 2 if words.anchor == "middle" else x
    return rotate(box(left, y, left + wide, y + high), words.turned, origin=words.place)


@pytest.mark.parametrize("seed", range(25))
def test_no_label_stands_over_a_stroke_or_over_another_label(seed):
    drawing = random_plate(seed)
    unit = picture_unit(drawing)
    placed = lettered(drawing, unit)
    boxes: list[tuple[str, Polygon]] = [(w.text, written(w, unit)) for w in placed.words]
    lines = list(strokes(drawing))
    for name, rectangle in boxes:
        assert not any(line.intersects(rectangle) for line in lines), name
    for k, (name, rectangle) in enumerate(boxes):
        for other, beside in boxes[:k]:
            assert rectangle.intersection(beside).area < 1e-6, (name, other)
    shown = {name for name, _ in boxes}
    assert shown.isdisjoint(placed.unlabelled)
    assert {label.text for label in drawing.labels} == shown & {label.text for label in drawing.labels} | set(
        placed.unlabelled
    )


@pytest.mark.parametrize(("count", "row"), [(460, 23), (900, 30)])
def test_what_finds_no_place_in_a_picture_is_named_below_it_or_counted(count, row):
    crowd = tuple(Hole(f"H{k}", ((0.5 * (k % row), 0.5 * (k // row)),), 0.45) for k in range(count))
    drawing = plate_drawing(None, crowd)
    placed = lettered(drawing, picture_unit(drawing))
    words = " ".join(w.text for w in placed.words)
    told = words.partition("omitted for lack of space: ")[2]
    assert placed.unlabelled
    named = [label for label in placed.unlabelled if re.search(rf"\b{label}\b", told)]
    more = re.search(r"and (\d+) more", told)
    assert len(named) + (int(more[1]) if more else 0) == len(placed.unlabelled)
    assert {w.text for w in placed.words}.isdisjoint(placed.unlabelled)


def test_groups_and_diameters_are_named_in_a_picture_and_groups_stay_at_home_where_it_leaves():
    holes = tuple(Hole(f"H{k}", ((30.0 * k, 0.0),), 9.0 if k < 4 else 13.5) for k in range(1, 13))
    named = plate_drawing(None, holes, groups=[("arm", ["H1", "H3", "H2"]), ("foot", ["H12", "H4"])])
    assert named.notes == (
        "arm: 3 x Ø 9 (H1 to H3)",
        "foot: 2 x Ø 13.5 (H4, H12)",
        "other holes: 7 x Ø 13.5 (H5 to H11)",
    )
    picture = svg(named).decode()
    assert all(note in picture for note in named.notes)
    assert png(named) != png(plate_drawing(None, holes))
    part = Part("PL", "A", "t", "cut", groups=(HoleGroup("secret", ("H1",)),))
    assert not any("secret" in note for note in part_drawing(part, groups=False).notes)


@pytest.mark.parametrize("plies", [1, 2, 3, 5])
def test_every_ply_has_a_look_of_its_own(plies):
    ring = Contour(((0, 0, 0), (10, 0, 0), (10, 10, 0)))
    drawing = plies_drawing([Ply((ring,))] * plies)
    roles = [line.role for line in drawing.lines]
    assert roles[-1] == "upper"
    assert roles[:-1] == ["lower", *["between"] * (plies - 2)][: plies - 1]
    looks = {(PENS[r].color, PENS[r].dashes_mm) for r in ("upper", "between", "lower")}
    assert len({color for color, _ in looks}) == len({dashes for _, dashes in looks}) == 3


def test_a_color_of_a_picture_is_said_in_one_place():
    """Besides those of the scheme, no color of a drawing is written in the program."""
    scheme = {pen.color for pen in PENS.values()} | {INK, GROUND}
    home = Path(__file__).parents[2]
    for path in (p for room in ("ledger", "tui") for p in home.joinpath(room).rglob("*.py")):
        if path.name == "drawing.py" and path.parent.name == "domain":
            continue
        strings = [
            n.value
            for n in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(n, ast.Constant) and isinstance(n.value, str)
        ]
        again = [s for s in strings if re.fullmatch(r"#[0-9a-f]{6}", s) and s in scheme]
        assert again == [], path


def test_a_wrong_hole_has_an_arrow_along_its_move_and_the_length_of_it():
    hole = Hole("H1", ((50.0, 50.0),), 9.0)
    ring = Contour(((0, 0, 0), (100, 0, 0), (100, 100, 0), (0, 100, 0)))
    drawing = plies_drawing([Ply((ring,), (hole,)), Ply((ring,))], wrong={"H1": (3.0, 4.0)})
    shaft = next(line for line in drawing.lines if line.role == "move" and line.vertices[0][:2] == (50, 50))
    tip = shaft.vertices[-1]
    assert math.atan2(tip[1] - 50, tip[0] - 50) == pytest.approx(math.atan2(4, 3))
    assert "5.00 mm" in svg(drawing).decode()
