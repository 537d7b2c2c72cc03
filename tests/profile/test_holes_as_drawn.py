"""One hole however it is drawn: the same place, the size that passes, the departure told; nothing round in silence."""

from __future__ import annotations

import math
import random

import pytest
import shapely
from ezdxf.math import BSpline
from hypothesis import given, settings
from hypothesis import strategies as st
from many_cases import hold, many_cases
from profile_drawings import box, circle, closed, codes, drawing, finding, header, polygon, raw, read

from ledger.clean_copy import Choices, mended
from ledger.comparison.advice import Advice
from ledger.comparison.look import look
from ledger.comparison.rows import comparison_to_json
from ledger.comparison.two_files import compare
from ledger.domain.errors import BadInput
from ledger.domain.shape import Contour
from ledger.profile.ring import Ring
from ledger.profile.rounds import allowed, hole_of

OUTLINE = [(0, 0), (100, 0), (100, 60), (0, 60)]


def ring_of(points, layer="0"):
    return Ring(Contour(tuple((x, y, 0.0) for x, y in points)), ("LINE",), (layer,))


def with_surplus(points, at, share=0.5):
    """Points with one more on the sides of these numbers."""
    out = []
    for k, (a, b) in enumerate(zip(points, points[1:] + points[:1], strict=True)):
        out.append(a)
        if k in at:
            out.append((a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])))
    return out


def polygon_of(sides, radius, turn, surplus, share_and_places):
    """A regular polygon, with points along its sides, is the circle that passes; a place is a point's last digit."""
    share, places = share_and_places
    points = with_surplus(polygon(412.3, -77.7, radius, sides, turn), surplus, share)
    found = hole_of(ring_of([(round(x, places), round(y, places)) for x, y in points]))
    assert found is not None
    slack = 4 * 10**-places + 1e-6
    assert math.dist(found.centre, (412.3, -77.7)) <= 5 * slack
    assert found.diameter_mm == pytest.approx(2 * radius * math.cos(math.pi / sides), abs=10 * slack)
    assert found.diameter_mm / 2 + found.departure_mm == pytest.approx(radius, abs=10 * slack)


def any_polygon(seed):
    dice = random.Random(seed)
    sides, turn = dice.randint(5, 64), dice.choice([0.0, dice.uniform(0, 6.3)])
    surplus = set(dice.sample(range(64), dice.randint(0, 6)))
    polygon_of(sides, dice.uniform(1, 40), turn, surplus, (dice.uniform(0.1, 0.9), dice.randint(4, 9)))


def nearly_round(seed):
    """A ring that is nearly round is a hole no larger than what passes, with what it departs by, or an opening."""
    dice = random.Random(seed)
    radius, wave, lobes = dice.uniform(2, 20), 10 ** dice.uniform(-4, -0.5), dice.randint(2, 7)
    turn, sides = dice.uniform(0, 6.3), dice.randint(24, 90)
    radii = [radius * (1 + wave * math.cos(lobes * 2 * math.pi * k / sides)) for k in range(sides)]
    points = [
        (50 + r * math.cos(turn + 2 * math.pi * k / sides), 30 + r * math.sin(turn + 2 * math.pi * k / sides))
        for k, r in enumerate(radii)
    ]
    found = hole_of(ring_of(points))
    if found is None:
        assert max(radii) - min(radii) > 0.01, "a hundredth out of round is a hole"
        return "opening"
    core, ends = shapely.LineString([*found.core, found.core[-1]]), points[1:] + points[:1]
    room = min(core.distance(shapely.LineString(edge)) for edge in zip(points, ends, strict=True))
    assert found.diameter_mm / 2 <= room + 1e-6, "what passes is no larger"
    if found.is_slot:  # an oval of straight lines between two that are as far from a core
        return "slot"
    near = math.dist(found.centre, (50, 30))
    assert found.diameter_mm / 2 + found.departure_mm >= max(radii) - near - allowed(radius)
    return ""


@many_cases()
@pytest.mark.parametrize("holds", [any_polygon, nearly_round], ids=lambda f: f.__name__)
def test_what_is_round_is_the_hole_that_passes(holds, seeds):
    hold(holds, seeds)


@pytest.mark.parametrize(
    ("sides", "radius", "turn", "surplus", "share_and_places"),
    [
        (26, 1.6, 0.0, {4}, (0.5, 6)),
        (28, 1.6, 0.3, {0, 14}, (0.5, 6)),
        (20, 1.5, 0.0, {7}, (0.5, 6)),
    ],
)
def test_a_polygon_is_a_hole_of_what_passes_whatever_points_lie_along_its_sides(
    sides, radius, turn, surplus, share_and_places
):
    polygon_of(sides, radius, turn, surplus, share_and_places)


@pytest.mark.parametrize("sides", [3, 4])
@pytest.mark.parametrize("surplus", [set(), {1}, {0, 1, 2}])
def test_a_triangle_and_a_square_stay_openings(sides, surplus):
    assert hole_of(ring_of(with_surplus(polygon(0, 0, 10, sides), surplus))) is None


@given(st.lists(st.floats(0, 2 * math.pi), min_size=4, max_size=8))
@settings(max_examples=50)
def test_corners_on_a_circle_do_not_make_a_hole_unless_what_passes_is_as_large(angles):
    angles = sorted(set(angles))
    points = [(10 * math.cos(a), 10 * math.sin(a)) for a in angles]
    gaps = [b - a for a, b in zip(angles, [*angles[1:], angles[0] + 2 * math.pi], strict=True)]
    if len(points) < 4 or min(gaps) < 0.05:
        return
    found = hole_of(ring_of(points))
    assert found is None or 20 * math.cos(max(gaps) / 2) >= found.diameter_mm - 1e-6


@pytest.mark.parametrize(("sides", "asks"), [(5, False), (6, True), (7, False), (8, True), (11, False)])
def test_few_sides_are_a_hole_and_a_warning_that_asks_where_it_may_be_a_nut(sides, asks):
    profile = read(raw(box(0, 0, 100, 60), closed(polygon(50, 30, 5, sides))))
    (hole,) = profile.holes
    assert hole.diameter_mm == pytest.approx(10 * math.cos(math.pi / sides))
    assert codes(profile, "warning") == {"few_sides"}
    assert ("nut" in finding(profile, "few_sides").message) is asks


@pytest.mark.parametrize("layer", ["POCKET", "NUT-POCKETS", "Opening"])
def test_a_ring_on_a_layer_named_after_pockets_is_an_opening_without_a_word(layer):
    profile = read(raw(box(0, 0, 100, 60), closed(polygon(50, 30, 5, 6), layer=layer)))
    assert (profile.holes, profile.findings) == ((), ())
    assert len(profile.openings) == 1


def test_few_sides_with_nothing_around_them_are_parts():
    profile = read(raw(closed(polygon(0, 0, 20, 6)), closed(polygon(60, 0, 20, 6))))
    assert len(profile.outlines) == 2


def oval(ratio):
    def draw(space, _):
        space.add_lwpolyline(OUTLINE, close=True)
        space.add_ellipse((50, 30), (5, 0), ratio=ratio)

    return read(drawing(draw))


def test_a_hole_out_of_round_is_the_circle_that_passes_and_told():
    profile = oval(0.98)
    (hole,) = profile.holes
    assert hole.diameter_mm == pytest.approx(9.8, abs=0.005)
    assert hole.departure_mm == pytest.approx(0.1, abs=0.005)
    assert codes(profile, "note") == {"out_of_round"}


def test_what_is_nearly_round_and_no_hole_is_a_warning_with_its_place():
    profile = oval(0.9)
    assert profile.holes == ()
    found = finding(profile, "nearly_round")
    assert (found.severity, "(50.000, 30.000)" in found.message) == ("warning", True)


def test_a_spline_a_hundredth_out_of_round_is_a_hole():
    points = [
        ((5 + 0.014 * math.cos(3 * t)) * math.cos(t) + 50, (5 + 0.014 * math.cos(3 * t)) * math.sin(t) + 30)
        for t in (2 * math.pi * k / 24 for k in range(24))
    ]

    def draw(space, _):
        space.add_lwpolyline(OUTLINE, close=True)
        space.add_spline().apply_construction_tool(BSpline.from_fit_points([*points, points[0]]))

    profile = read(drawing(draw))
    (hole,) = profile.holes
    assert hole.centre == pytest.approx((50, 30), abs=0.01)
    assert hole.diameter_mm == pytest.approx(10 - 0.028, abs=0.02)
    assert "out_of_round" in codes(profile)


def closed_line(space, points):
    """A closed polyline; R12 has only the old kind. Points are (x, y) or (x, y, bulge)."""
    if space.dxfversion == "AC1009":
        space.add_polyline2d([(*p, 0)[:3] for p in points], format="xyb", close=True)
    else:
        space.add_lwpolyline([(*p, 0)[:3] for p in points], format="xyb", close=True)


def guises():
    def facets(sides, surplus=()):
        return lambda s, x, y, r: closed_line(s, with_surplus(polygon(x, y, r, sides, 0.1), surplus))

    def two_arcs(s, x, y, r):
        s.add_arc((x, y), r, 20, 200)
        s.add_arc((x, y), r, 200, 20)

    def bulges(s, x, y, r):
        closed_line(s, [(x - r, y, 1), (x + r, y, 1)])

    def spline(s, x, y, r):
        points = [(px, py) for px, py in polygon(x, y, r, 36)]
        s.add_spline().apply_construction_tool(BSpline.from_fit_points([*points, points[0]]))

    return {
        "circle": lambda s, x, y, r: s.add_circle((x, y), r),
        "two arcs": two_arcs,
        "bulges": bulges,
        "spline": spline,
        **{f"{n} facets": facets(n) for n in (5, 6, 7, 9, 11, 12, 20, 28, 64)},
        **{f"{n} facets and surplus points": facets(n, (0, 3)) for n in (5, 8, 20, 26)},
    }


HOLES = [(20, 15, 3.0), (80, 15, 3.0), (20, 45, 2.2), (71, 38, 5.5)]


@pytest.mark.parametrize("guise", guises())
@pytest.mark.parametrize("version", ["R12", "R2000", "R2018"])
def test_a_pattern_is_the_same_moved_turned_mirrored_rescaled_and_shuffled(guise, version):
    if version == "R12" and guise == "spline":
        return
    dice = random.Random(f"{guise} {version}")
    turn, shift = dice.uniform(0, 6.28), (dice.uniform(-500, 500), dice.uniform(-500, 500))
    mirror, (unit, code, name) = (
        dice.choice((1, -1)),
        dice.choice(((1.0, 4, "mm"), (25.4, 1, "in"), (10.0, 5, "cm"))),
    )

    def to(x, y):
        c, s = math.cos(turn), math.sin(turn)
        x *= mirror
        return ((c * x - s * y + shift[0]) / unit, (s * x + c * y + shift[1]) / unit)

    def draw(space, _):
        steps = [lambda: closed_line(space, [to(*p) for p in OUTLINE])]
        steps += [lambda h=h: guises()[guise](space, *to(*h[:2]), h[2] / unit) for h in HOLES]
        dice.shuffle(steps)
        for step in steps:
            step()

    profile = read(drawing(draw, version, code), unit=name if version == "R12" else None)
    found = {tuple(round(v, 2) for v in h.centre): h for h in profile.holes}
    assert len(found) == len(HOLES)
    for x, y, r in HOLES:
        mm = tuple(v * unit for v in to(x, y))
        hole = min(profile.holes, key=lambda h: math.dist(h.centre, mm))
        assert math.dist(hole.centre, mm) <= 0.002
        assert hole.diameter_mm <= 2 * r + 0.002
        assert hole.diameter_mm / 2 + hole.departure_mm == pytest.approx(r, abs=0.002)


def plate(*, moved=0.0, sides=0):
    """Four holes; the last is a polygon where that has sides, and lies off by so much."""
    rings = [circle(x, y, 4.5) for x, y in ((10, 10), (90, 10), (10, 50))]
    last = closed(polygon(90 - moved, 50, 4.5, sides)) if sides else circle(90 - moved, 50, 4.5)
    return raw(box(0, 0, 100, 60), *rings, last)


@pytest.mark.parametrize("sides", [5, 6, 7, 9, 11, 20])
def test_a_hole_of_few_sides_three_mm_off_is_no_go(sides):
    fit = compare(look("a", plate()), look("b", plate(moved=3, sides=sides)), fastener="M8").fit
    assert fit.verdict == "NO-GO"


def test_a_fit_tells_of_a_hole_that_may_be_a_pocket_and_of_openings_nearly_round():
    found = compare(look("a", plate()), look("b", plate(sides=6)), fastener="M6")
    assert any("pocket for a nut" in r for r in Advice(found).remarks)
    assert "pocket for a nut" in " ".join(comparison_to_json(Advice(found))["notes"])


def test_look_lists_openings_with_their_size_and_place():
    (opening,) = look("a", raw(box(0, 0, 100, 60), box(20, 10, 8, 30))).to_json()["openings"]
    assert opening == {"x_mm": 24, "y_mm": 25, "width_mm": 8, "height_mm": 30}


def test_a_clean_copy_asks_whether_six_sides_are_a_hole():
    with pytest.raises(BadInput, match="--hole LABEL=round"):
        mended(plate(sides=6), Choices())
    made = mended(plate(sides=6), Choices(circles={"all": "round"}))
    assert made.profile.usable
    assert {h.made_of for h in made.profile.holes} == {"circle"}
    assert mended(plate(sides=7), Choices()).profile.usable


@pytest.mark.parametrize("guilty", ["a", "b"])
def test_a_fit_names_the_file_whose_unit_looks_wrong(guilty):
    inch = header(ACADVER="AC1015", INSUNITS=1, MEASUREMENT=0)
    sound, wrong = plate(), raw(box(0, 0, 100, 60), circle(10, 10, 4.5), circle(90, 10, 4.5), head=inch)
    files = {"a": sound, "b": sound, guilty: wrong}
    found = compare(look("one.dxf", files["a"]), look("two.dxf", files["b"]), fastener="M8")
    (hint,) = (r for r in Advice(found).remarks if "check its unit" in r)
    assert f"--unit-{guilty} mm" in hint
    assert {"a": "one.dxf", "b": "two.dxf"}[guilty] in hint
