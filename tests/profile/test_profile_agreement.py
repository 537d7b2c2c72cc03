"""One plate in many guises is one plate: versions, units, blocks, mirrors, splines, facets, order, place."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from ezdxf.math import ConstructionArc, Matrix44, rational_bspline_from_arc
from hypothesis import given, settings
from hypothesis import strategies as st
from profile_drawings import (
    PLATE_AREA,
    SQUARE,
    arc,
    block,
    box,
    circle,
    codes,
    draw_plate,
    drawing,
    header,
    insert,
    line,
    plate_bytes,
    polygon,
    raw,
    read,
    tag,
)

from ledger.domain.shape import profile_from_json
from ledger.profile.read import geometry_bytes, geometry_digest, read_profile

SIZES = [9, 9, 8]


def same_plate(profile, tolerance=1e-6):
    """The plate of `profile_drawings`, clean."""
    assert codes(profile, "stop") == set()
    assert profile.size_mm == pytest.approx((120, 80), abs=tolerance)
    assert profile.area_mm2 == pytest.approx(PLATE_AREA, abs=max(1e-6, 200 * tolerance))
    found = {h.label: h for h in profile.holes}
    assert found["H1"].centre == pytest.approx((51, 60), abs=tolerance)
    assert found["H2"].centre == pytest.approx((100, 60), abs=tolerance)
    assert found["H3"].centre == pytest.approx((20, 20), abs=tolerance)
    assert [found[k].diameter_mm for k in ("H2", "H3", "H1")] == pytest.approx(SIZES, abs=tolerance)
    (ax, ay), (bx, by) = found["H1"].core
    assert (ax, ay, bx, by) == pytest.approx((40, 60, 62, 60), abs=tolerance)
    assert len(profile.openings) == 1
    assert profile.openings[0].area_mm2 == pytest.approx(144, abs=max(1e-6, 50 * tolerance))


@pytest.mark.parametrize("version", ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"])
def test_in_every_version(version):
    data = plate_bytes(version)
    profile = read(data, unit="mm")
    same_plate(profile)
    assert geometry_digest(profile) == geometry_digest(read(plate_bytes(), unit="mm"))


@pytest.mark.parametrize(("code", "mm"), [(1, 25.4), (2, 304.8), (5, 10), (6, 1000), (9, 0.0254), (14, 100)])
def test_in_every_unit(code, mm):
    data = drawing(lambda space, _: draw_plate(space, 1 / mm), units=code)
    same_plate(read(data))


def test_in_one_block():
    def draw(space, document):
        draw_plate(document.blocks.new("PLATE", base_point=(7, -3)))
        space.add_blockref("PLATE", (7, -3))

    same_plate(read(drawing(draw)))


@pytest.mark.parametrize("depth", [2, 5])
def test_in_nested_blocks_turned_and_turned_back(depth):
    def draw(space, document):
        draw_plate(document.blocks.new("B0"))
        for k in range(1, depth):
            turn = 90 if k % 2 else -90
            document.blocks.new(f"B{k}").add_blockref(f"B{k - 1}", (0, 0), dxfattribs={"rotation": turn})
        last = {"rotation": -90 if depth % 2 == 0 else 0}
        space.add_blockref(f"B{depth - 1}", (0, 0), dxfattribs=last)

    same_plate(read(drawing(draw)))


def test_in_a_block_drawn_small_and_placed_large():
    def draw(space, document):
        draw_plate(document.blocks.new("PLATE"), 1 / 16)
        space.add_blockref("PLATE", (0, 0), dxfattribs={"xscale": 16, "yscale": 16})

    same_plate(read(drawing(draw)))


def test_in_a_block_stretched_one_way_and_stretched_back():
    """Circles become ellipses and, through the outer block, circles again."""

    def draw(space, document):
        draw_plate(document.blocks.new("PLATE"))
        document.blocks.new("WIDE").add_blockref("PLATE", (0, 0), dxfattribs={"xscale": 3})
        space.add_blockref("WIDE", (0, 0), dxfattribs={"yscale": 3, "xscale": 1})

    def smaller(space, document):
        draw(space, document)
        space.query("INSERT").first.dxf.xscale = 1 / 3
        space.query("INSERT").first.dxf.yscale = 1

    same_plate(read(drawing(smaller)))


def test_mirrored_by_extrusion_and_drawn_mirrored():
    """Extrusion (0, 0, -1) negates x of circles and arcs, not of lines."""

    def draw(space, _):
        draw_plate(space)
        for entity in space:
            if entity.dxftype() in ("CIRCLE", "ARC"):
                x, y, _z = entity.dxf.center
                entity.dxf.center = (-x, y)
                entity.dxf.extrusion = (0, 0, -1)
            if entity.dxftype() == "ARC":
                start, end = entity.dxf.start_angle, entity.dxf.end_angle
                entity.dxf.start_angle, entity.dxf.end_angle = 180 - end, 180 - start

    same_plate(read(drawing(draw)))


def test_a_mirrored_polyline_and_a_mirrored_block_turn_their_arcs():
    d_shape = [(0, 0, 0), (10, 0, 0.5), (10, 8, 0), (0, 8, 0)]

    def draw(space, document):
        space.add_lwpolyline([(-x, y, -b) for x, y, b in d_shape], format="xyb", close=True)
        space[-1].dxf.extrusion = (0, 0, -1)
        document.blocks.new("D").add_lwpolyline(d_shape, format="xyb", close=True)
        space.add_blockref("D", (-50, 0), dxfattribs={"xscale": -1})

    first, second = read(drawing(draw)).outlines
    assert {round(first.area_mm2, 9), round(second.area_mm2, 9)} == {round(second.area_mm2, 9)}
    assert first.area_mm2 > 80
    x = {round(c.box[k], 9) for c in (first, second) for k in (0, 2)}
    sagitta = 0.5 * 8 / 2
    assert x == {0, 10 + sagitta, -50, -60 - sagitta}


def test_an_array_of_inserts_turns_its_spacing_and_does_not_scale_it():
    placed = insert("B", 50, 50, 41, 2, 42, 2, 43, 2, 50, 90, 70, 2, 71, 3, 44, 10, 45, 20)
    data = raw(box(-50, 0, 200, 200), placed, blocks=block("B", circle(0, 0, 1)))
    holes = {(round(h.centre[0], 9), round(h.centre[1], 9)) for h in read(data).holes}
    assert holes == {(50 - 20 * row, 50 + 10 * column) for row in range(3) for column in range(2)}
    assert {h.diameter_mm for h in read(data).holes} == {4}


def test_inserts_agree_with_the_library_for_every_kind_of_scale():
    """
    The library explodes blocks its own way; ends of lines must land on the same points.

    The outer scale is the same both ways but for its sign: a skewed inner block is no INSERT any more.
    """

    def draw(space, document):
        inner = document.blocks.new("IN", base_point=(1, 2))
        inner.add_line((0, 0), (7, 3))
        outer = document.blocks.new("OUT", base_point=(-4, 0.5))
        outer.add_blockref("IN", (3, 1), dxfattribs={"rotation": 33, "xscale": -1.5, "yscale": 0.7})
        ref = space.add_blockref("OUT", (11, -6), dxfattribs={"rotation": -71, "xscale": 2, "yscale": -2})
        ref.dxf.extrusion = (0, 0, -1)

    import ezdxf

    data = drawing(
        lambda s, d: (draw(s, d), s.add_lwpolyline([(-900, -900), (900, -900), (0, 900)], close=True))
    )
    document = ezdxf.new()
    draw(document.modelspace(), document)
    (outer,) = document.modelspace().query("INSERT")
    (inner,) = outer.virtual_entities()
    (expected,) = inner.virtual_entities()
    found = read(data, roles={"0": "mark"}).marks
    ends = min((s.vertices for s in found), key=len)
    here = sorted([v[:2] for v in ends])
    there = sorted([tuple(expected.dxf.start)[:2], tuple(expected.dxf.end)[:2]])
    assert here[0] == pytest.approx(there[0])
    assert here[1] == pytest.approx(there[1])


def test_holes_as_arcs_bulged_polylines_ellipses_and_splines_are_the_same_holes():
    def draw(space, _):
        draw_plate(space)
        for circle_ in space.query("CIRCLE"):
            space.delete_entity(circle_)
        x, y, r = 20, 20, 4.5
        for start in (0, 100, 220):
            space.add_arc((x, y), r, start, {0: 100, 100: 220, 220: 360}[start])
        curve = rational_bspline_from_arc((100, 60), 4.5, 0, 360)
        space.add_spline().apply_construction_tool(curve)

    profile = read(drawing(draw))
    same_plate(profile, tolerance=1e-5)
    assert [h.made_of for h in profile.holes] == ["slot", "spline", "arcs"]


@pytest.mark.parametrize("turn", [0, 31])
def test_a_hole_as_two_bulges_or_as_an_ellipse_of_equal_axes(turn):
    a = math.radians(turn)
    points = [(30 + 5 * math.cos(a + k * math.pi), 30 + 5 * math.sin(a + k * math.pi), 1) for k in (0, 1)]

    def draw(space, _):
        space.add_lwpolyline([(0, 0), (90, 0), (90, 60), (0, 60)], close=True)
        space.add_lwpolyline(points, format="xyb", close=True)
        space.add_ellipse((60, 30), (5 * math.cos(a), 5 * math.sin(a)), ratio=1)

    holes = read(drawing(draw)).holes
    assert [(h.made_of, round(h.diameter_mm, 9)) for h in holes] == [("polyline", 10), ("ellipse", 10)]


def test_an_ellipse_that_is_not_round_is_an_opening():
    def draw(space, _):
        space.add_lwpolyline([(0, 0), (90, 0), (90, 60), (0, 60)], close=True)
        space.add_ellipse((60, 30), (5, 0), ratio=0.9)

    profile = read(drawing(draw))
    assert profile.holes == ()
    assert profile.openings[0].chord_error_mm == 0.001


def faceted(sides, r=5.0, turn=0.1):
    ring = polygon(50, 30, r, sides, turn)
    lines = (line(*a, *b) for a, b in zip(ring, ring[1:] + ring[:1], strict=True))
    return read(raw(box(0, 0, 100, 60), *lines))


@pytest.mark.parametrize("sides", [12, 13, 24, 63, 360])
def test_facets_are_a_hole_of_the_largest_circle_that_passes(sides):
    profile = faceted(sides)
    (hole,) = profile.holes
    assert hole.made_of == "facets"
    assert hole.diameter_mm == pytest.approx(10 * math.cos(math.pi / sides))
    assert hole.departure_mm == pytest.approx(5 - 5 * math.cos(math.pi / sides), abs=1e-8)
    assert codes(profile) == {"facets"}
    assert profile.usable


def test_points_along_the_sides_of_a_square_do_not_make_it_round():
    ring = []
    for (ax, ay), (bx, by) in zip(SQUARE, SQUARE[1:] + SQUARE[:1], strict=True):
        ring += [(ax + (bx - ax) * k / 5, ay + (by - ay) * k / 5) for k in range(5)]
    lines = (line(*a, *b) for a, b in zip(ring, ring[1:] + ring[:1], strict=True))
    assert read(raw(box(0, 0, 120, 80), *lines)).holes == ()


def test_a_square_with_nearly_round_corners_is_an_opening():
    def draw(space, _):
        space.add_lwpolyline([(0, 0), (90, 0), (90, 60), (0, 60)], close=True)
        bulge = math.tan(math.pi / 8)
        ring = [(39, 20, 0), (41, 20, bulge), (50, 29, 0), (50, 31, bulge), (41, 40, 0), (39, 40, bulge)]
        space.add_lwpolyline([*ring, (30, 31, 0), (30, 29, bulge)], format="xyb", close=True)

    profile = read(drawing(draw))
    assert profile.holes == ()
    assert codes(profile, "warning") == {"nearly_round"}


def slot_guises():
    def arcs(space, at, _):
        space.add_line(at(-10, -4), at(10, -4))
        space.add_line(at(10, 4), at(-10, 4))
        space.add_arc(at(10, 0), 4, 270 + at.turn, 90 + at.turn)
        space.add_arc(at(-10, 0), 4, 90 + at.turn, 270 + at.turn)

    def polyline(space, at, _):
        ring = [(*at(-10, -4), 0), (*at(10, -4), 1), (*at(10, 4), 0), (*at(-10, 4), 1)]
        space.add_lwpolyline(ring, format="xyb", close=True)

    def quarter_arcs_and_split_lines(space, at, _):
        for a, b in (((-10, -4), (3, -4)), ((3, -4), (10, -4)), ((10, 4), (-10, 4))):
            space.add_line(at(*a), at(*b))
        for x, start in ((10, 270), (10, 0), (-10, 90), (-10, 180)):
            space.add_arc(at(x, 0), 4, start + at.turn, start + 90 + at.turn)

    def splines(space, at, _):
        space.add_line(at(-10, -4), at(10, -4))
        space.add_line(at(10, 4), at(-10, 4))
        for x, start in ((10, 270), (-10, 90)):
            curve = rational_bspline_from_arc(at(x, 0), 4, start + at.turn, start + 180 + at.turn)
            space.add_spline().apply_construction_tool(curve)

    return {"arcs": arcs, "polyline": polyline, "quarters": quarter_arcs_and_split_lines, "splines": splines}


@pytest.mark.parametrize("guise", slot_guises())
@pytest.mark.parametrize("turn", [0, 90, 27.5])
def test_a_slot_in_any_guise_is_a_slot(guise, turn):
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))

    def at(x, y):
        return (60 + c * x - s * y, 40 + s * x + c * y)

    at.turn = turn

    def draw(space, document):
        space.add_lwpolyline([(0, 0), (120, 0), (120, 80), (0, 80)], close=True)
        slot_guises()[guise](space, at, document)

    profile = read(drawing(draw))
    assert profile.findings == ()
    (slot,) = profile.holes
    assert slot.made_of == "slot"
    assert slot.diameter_mm == pytest.approx(8, abs=1e-4)
    ends = sorted([at(-10, 0), at(10, 0)])
    tolerance = 2e-3 if guise == "splines" else 1e-6
    assert [v for p in sorted(slot.core) for v in p] == pytest.approx(
        [v for p in ends for v in p], abs=tolerance
    )


def test_a_slot_with_flat_corners_is_an_opening():
    def draw(space, _):
        space.add_lwpolyline([(0, 0), (120, 0), (120, 80), (0, 80)], close=True)
        ring = [(40, 36, 0), (60, 36, 0.3), (60, 44, 0), (40, 44, 0.3)]
        space.add_lwpolyline(ring, format="xyb", close=True)

    assert read(drawing(draw)).holes == ()


def test_a_three_quarter_arc_is_open_and_no_hole():
    profile = read(raw(box(0, 0, 100, 60), arc(50, 30, 4, 0, 270)))
    assert codes(profile) == {"open_contour"}
    assert profile.holes == ()


def test_holes_are_numbered_from_the_top_row_by_row():
    places = [(10, 10), (90, 10), (50, 50), (10.0, 50.00000001), (90, 30)]
    profile = read(raw(box(0, 0, 100, 60), *(circle(x, y, 2) for x, y in places)))
    order = [h.centre for h in profile.holes]
    assert order == [(10.0, 50.00000001), (50, 50), (90, 30), (10, 10), (90, 10)]


def test_inches_leave_no_number_noise():
    def draw(space, _):
        space.add_lwpolyline([(0, 0), (4.1, 0), (4.1, 2.3), (0, 2.3)], close=True)
        space.add_circle((1.1, 1.7), 6.6 / 25.4 / 2)

    profile = read(drawing(draw, units=1))
    assert profile.size_mm == (104.14, 58.42)
    assert profile.holes[0].diameter_mm == 6.6
    assert profile.holes[0].core == ((27.94, 43.18),)


def test_the_frame_of_a_fitted_polyline_is_not_cut():
    """Old polylines keep the points they were fitted through; flag 16 says which (DXF reference, VERTEX)."""
    ring = [(0, 0, 8), (50, 0, 8), (99, 99, 16), (50, 30, 8), (0, 30, 8)]
    vertices = [tag(0, "VERTEX", 8, "0", 10, x, 20, y, 70, flag) for x, y, flag in ring]
    polyline = tag(0, "POLYLINE", 8, "0", 66, 1, 10, 0, 20, 0, 70, 1 | 4, *())
    assert read(raw(polyline, *vertices, tag(0, "SEQEND", 8, "0"))).area_mm2 == 1500


# What follows is about any drawing.


def entities(count, jitter):
    """A rounded plate with `count` holes on a skewed grid, an arc-made slot, a mark and a bend, as single entities."""
    plate = [
        line(5, 0, 95, 0),
        arc(95, 5, 5, 270, 0),
        line(100, 5, 100, 60),
        line(100, 60, 0, 60),
        line(0, 60, 0, 5),
        arc(5, 5, 5, 180, 270),
        line(40, 10, 60, 10),
        line(60, 16, 40, 16),
        arc(60, 13, 3, 270, 90),
        arc(40, 13, 3, 90, 270),
        line(30, 20, 45, 20, layer="MARK"),
        line(50, 0, 50, 60, layer="BEND"),
    ]
    holes = [
        circle(10 + 9.0 * (k % 9) + jitter * k, 28 + 8.0 * (k // 9), 1 + 0.1 * (k % 5)) for k in range(count)
    ]
    return plate + holes


@settings(max_examples=25)
@given(st.integers(0, 27), st.floats(0, 0.05), st.randoms(use_true_random=False))
def test_the_order_of_entities_leaves_no_trace(count, jitter, shuffle):
    first = entities(count, jitter)
    other = list(first)
    shuffle.shuffle(other)
    a, b = read(raw(*first)), read(raw(*other))
    assert geometry_digest(a) == geometry_digest(b)
    assert [(h.label, h.core) for h in a.holes] == [(h.label, h.core) for h in b.holes]
    assert a == b


@settings(max_examples=25)
@given(st.integers(1, 20), st.floats(-180, 180), st.floats(-5000, 5000), st.floats(-5000, 5000))
def test_moving_and_turning_keep_areas_and_diameters(count, angle, dx, dy):
    def draw(space, document):
        plate = document.blocks.new("PLATE")
        plate.add_lwpolyline([(0, 0), (100, 0, 0, 0, 0.4), (100, 60), (0, 60)], close=True)
        for k in range(count):
            plate.add_circle((10 + 9 * (k % 9), 20 + 9 * (k // 9)), 1 + 0.1 * k)
        space.add_blockref("PLATE", (dx, dy), dxfattribs={"rotation": angle})

    moved, still = read(drawing(draw)), read(drawing(lambda s, d: (draw(s, d), s[0].dxf.discard("rotation"))))
    assert moved.area_mm2 == pytest.approx(still.area_mm2, rel=1e-9)
    assert moved.cut_length_mm == pytest.approx(still.cut_length_mm, rel=1e-9)
    sizes = [sorted(h.diameter_mm for h in p.holes) for p in (moved, still)]
    assert sizes[0] == pytest.approx(sizes[1], rel=1e-12)
    assert moved.findings == still.findings


@settings(max_examples=20)
@given(st.floats(-180, 180), st.booleans())
def test_a_mirrored_or_turned_block_agrees_with_the_library(angle, mirrored):
    """Areas of D shapes after a block reference against the library's own transformation of the arc."""
    matrix = Matrix44.z_rotate(math.radians(angle))
    own = ConstructionArc((0, 0), 10, 0, 180)
    end = matrix.transform((own.end_point.x * (-1 if mirrored else 1), own.end_point.y, 0))

    def draw(space, document):
        shape = document.blocks.new("D")
        shape.add_arc((0, 0), 10, 0, 180)
        shape.add_line((-10, 0), (10, 0))
        space.add_blockref("D", (0, 0), dxfattribs={"rotation": angle, "xscale": -1 if mirrored else 1})

    outline = read(drawing(draw)).outline
    assert outline.area_mm2 == pytest.approx(50 * math.pi)
    assert min(math.hypot(x - end.x, y - end.y) for x, y, _ in outline.vertices) < 1e-9


@settings(max_examples=30)
@given(
    st.lists(st.tuples(st.floats(-400, 400), st.floats(-400, 400), st.floats(-2, 2)), min_size=2, max_size=9)
)
def test_any_polyline_is_read_or_told_and_never_crashes(points):
    def draw(space, _):
        space.add_lwpolyline(points, format="xyb", close=True)

    profile = read(drawing(draw))
    assert profile.usable or profile.findings


def test_a_profile_survives_its_own_bytes():
    import json

    profile = read(plate_bytes())
    assert profile_from_json(json.loads(geometry_bytes(profile))) == profile
    assert geometry_bytes(profile) == geometry_bytes(profile_from_json(json.loads(geometry_bytes(profile))))


def test_labels_findings_and_unit_are_no_part_of_the_digest():
    profile = read(plate_bytes())
    other = replace(
        profile, holes=tuple(replace(h, label="X" + h.label) for h in profile.holes), unit_used="in"
    )
    assert geometry_digest(other) == geometry_digest(profile)


@pytest.mark.parametrize("change", ["outline", "hole", "mark"])
def test_any_change_of_shape_changes_the_digest(change):
    base = [box(0, 0, 100, 60), circle(50, 30, 4), line(10, 10, 20, 10, layer="MARK")]
    other = list(base)
    at = {"outline": 0, "hole": 1, "mark": 2}[change]
    other[at] = [box(0, 0, 100.00001, 60), circle(50, 30, 4.00001), line(10, 10, 20.00001, 10, layer="MARK")][
        at
    ]
    assert geometry_digest(read(raw(*base))) != geometry_digest(read(raw(*other)))


def test_a_zero_with_a_sign_is_a_zero():
    minus = [
        line(-0.0, -0.0, 100, -0.0),
        line(100, 0, 100, 60),
        line(100, 60, -0.0, 60),
        line(0, 60, -0.0, 0),
    ]
    assert geometry_digest(read(raw(*minus))) == geometry_digest(read(raw(box(0, 0, 100, 60))))


def test_the_child_reads_what_this_process_reads():
    assert read_profile(plate_bytes()) == read(plate_bytes())
    data = raw(
        box(0, 0, 100, 60), tag(0, "TEXT", 8, "T", 10, 0, 20, 0, 40, 1, 1, "é"), head=header(INSUNITS=5)
    )
    roles = {"T": "ignore"}
    assert read_profile(data, unit="in", roles=roles) == read(data, unit="in", roles=roles)
