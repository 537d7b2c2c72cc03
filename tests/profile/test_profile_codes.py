"""Every code the reader has to say, from a drawing that earns it; and drawings that must not earn it."""

from __future__ import annotations

import math

import pytest
from profile_drawings import (
    R2000,
    arc,
    block,
    box,
    circle,
    closed,
    codes,
    drawing,
    finding,
    header,
    insert,
    line,
    plate_bytes,
    polygon,
    raw,
    read,
    spline,
    tag,
)

from ledger.domain.errors import BadInput

PLATE = box(0, 0, 100, 60)


def test_a_clean_plate_has_nothing_to_say():
    profile = read(plate_bytes())
    assert profile.findings == ()
    assert profile.usable
    assert [h.label for h in profile.holes] == ["H1", "H2", "H3"]


def test_a_plate_is_usable_only_without_stops():
    assert not read(raw(PLATE, line(10, 10, 20, 10))).usable


def test_a_header_without_unit_is_read_as_mm_and_stops():
    profile = read(raw(PLATE, head=header(ACADVER="AC1009")))
    assert codes(profile, "stop") == {"unit_missing"}
    assert (profile.unit_declared, profile.unit_used, profile.unit_sure) == (None, "mm", False)
    assert profile.size_mm == (100, 60)


@pytest.mark.parametrize("code", [0, 99, -4])
def test_a_unit_code_that_names_nothing_is_missing(code):
    assert "unit_missing" in codes(read(raw(PLATE, head=header(INSUNITS=code))))


def test_a_stated_unit_fixes_a_missing_one():
    profile = read(raw(box(0, 0, 10, 6), head=header(ACADVER="AC1009")), unit="in")
    assert profile.findings == ()
    assert profile.size_mm == pytest.approx((254, 152.4))
    assert profile.unit_sure


@pytest.mark.parametrize(("unit", "measurement"), [(4, 0), (1, 1), (5, 0), (2, 1)])
def test_the_side_of_a_header_that_speaks_of_hatches_is_only_noted(unit, measurement):
    head = header(INSUNITS=unit, MEASUREMENT=measurement)
    profile = read(raw(box(0, 0, 8, 5), head=head))
    assert "unit_contradicted" in codes(profile, "note")
    assert profile.unit_sure
    assert "unit_contradicted" not in codes(read(raw(PLATE, head=head), unit="mm"))


def test_a_stated_unit_wins_over_the_header_and_warns():
    profile = read(raw(PLATE, head=header(INSUNITS=1, MEASUREMENT=0)), unit="mm")
    assert codes(profile, "warning") == {"unit_differs"}
    assert (profile.unit_declared, profile.unit_used, profile.unit_sure) == ("in", "mm", True)
    assert profile.usable


def test_a_plate_of_six_metres_in_inches_is_doubted_until_the_unit_is_stated():
    data = raw(box(0, 0, 255, 84), head=header(INSUNITS=1, MEASUREMENT=0))
    assert "unit_doubtful" in codes(read(data), "stop")
    assert not read(data).unit_sure
    assert "unit_doubtful" not in codes(read(data, unit="in"))


def test_several_holes_all_larger_than_100_mm_are_doubted():
    inch = header(INSUNITS=1, MEASUREMENT=0)
    data = raw(box(0, 0, 90, 60), circle(20, 30, 3.3), circle(70, 30, 3.3), head=inch)
    assert "unit_doubtful" in codes(read(data))
    assert "unit_doubtful" in codes(read(raw(box(0, 0, 90, 60), circle(20, 30, 3.3), head=inch)))


@pytest.mark.parametrize("size", [5.0, 3100.0])
def test_a_plate_at_the_bounds_of_size_is_not_doubted(size):
    assert read(raw(box(0, 0, size, 1))).findings == ()


def test_an_unknown_unit_names_the_known_ones():
    with pytest.raises(BadInput, match="mm, cm"):
        read(raw(PLATE), unit="furlong")


def test_an_open_contour_names_both_its_ends():
    data = raw(line(0, 0, 100, 0), line(100, 0, 100, 60), line(100, 60, 0, 60), line(0, 60, 0, 3))
    found = finding(read(data), "open_contour")
    assert found.severity == "stop"
    assert "(0.000, 0.000)" in found.message
    assert "(0.000, 3.000)" in found.message
    assert found.measured == "3.000 mm"


def test_a_contour_is_open_just_past_the_gap_tolerance_and_closed_just_within():
    def with_gap(gap):
        return read(raw(line(gap, 0, 100, 0), line(100, 0, 100, 60), line(100, 60, 0, 60), line(0, 60, 0, 0)))

    assert "open_contour" in codes(with_gap(0.0101))
    closed_one = with_gap(0.0099)
    assert codes(closed_one) == {"gap_closed"}
    assert finding(closed_one, "gap_closed").measured == "0.0099 mm"
    assert closed_one.usable


def test_number_noise_at_a_corner_is_no_gap():
    noise = 3e-5
    data = raw(line(noise, 0, 100, 0), line(100, noise, 100, 60), line(100, 60, 0, 60), line(0, 60, 0, 0))
    assert read(data).findings == ()


def test_one_polyline_whose_ends_nearly_meet_is_closed():
    def draw(space, _):
        space.add_lwpolyline([(0, 0), (50, 0), (50, 30), (0, 30), (0, 0.005)])

    profile = read(drawing(draw))
    assert codes(profile) == {"gap_closed"}
    assert profile.area_mm2 == pytest.approx(1500, abs=0.5)


def test_a_tiny_stray_line_is_not_closed_on_itself():
    assert codes(read(raw(PLATE, line(50, 30, 50.006, 30))), "stop") == {"open_contour"}


@pytest.mark.parametrize(
    "twice",
    [
        circle(50, 30, 4) * 2,
        circle(50, 30, 4) + arc(50, 30, 4, 0, 180) + arc(50, 30, 4, 180, 360),
        circle(50, 30, 4) + circle(50.0005, 30, 4),
        arc(50, 30, 4, 10, 190) + arc(50, 30, 4, 190, 370) + circle(50, 30, 4),
    ],
)
def test_a_hole_drawn_twice_is_a_duplicate_and_stays_one_hole(twice):
    profile = read(raw(PLATE, twice))
    assert codes(profile, "stop") == {"duplicate"}
    assert len(profile.holes) == 1


def test_an_edge_drawn_twice_backwards_is_a_duplicate():
    profile = read(raw(PLATE, line(100, 0, 0, 0)))
    assert codes(profile) == {"duplicate"}
    assert profile.outline is not None


def test_an_outline_drawn_with_lines_and_again_with_a_polyline_is_a_duplicate():
    def draw(space, _):
        ring = [(0, 0), (100, 0), (100, 60), (0, 60)]
        space.add_lwpolyline(ring[2:] + ring[:2], close=True)
        for a, b in zip(ring, ring[1:] + ring[:1], strict=True):
            space.add_line(a, b)

    assert codes(read(drawing(draw))) == {"duplicate"}


def test_the_two_halves_of_a_square_are_no_duplicates():
    """Same box, same length, same area: only the points tell them apart."""
    profile = read(raw(closed([(0, 0), (50, 0), (50, 50)]), closed([(0, 100), (50, 100), (0, 150)])))
    assert "duplicate" not in codes(profile)
    mirrored = read(
        raw(PLATE, closed([(10, 10), (30, 10), (30, 30)]), closed([(10.5, 10), (30.5, 30), (10.5, 30)]))
    )
    assert "duplicate" not in codes(mirrored)


def test_two_arcs_bulging_either_way_from_one_chord_are_no_duplicates():
    profile = read(raw(PLATE, arc(50, 30, 5, 0, 180), arc(50, 30, 5, 180, 360)))
    assert profile.findings == ()
    assert len(profile.holes) == 1


def test_entities_without_length_are_dropped_with_a_note():
    profile = read(raw(PLATE, line(50, 30, 50, 30), line(60, 30, 60.00005, 30)))
    assert codes(profile) == {"zero_length"}
    assert finding(profile, "zero_length").severity == "note"
    assert profile.usable


def test_three_ends_at_a_point_branch():
    profile = read(raw(PLATE, line(0, 0, -10, -10)))
    assert codes(profile, "stop") >= {"branch"}
    assert "(0.000, 0.000)" in finding(profile, "branch").message


def test_holes_can_still_be_read_where_the_outline_is_broken():
    profile = read(raw(PLATE, line(0, 0, -10, -10), circle(20, 20, 4), circle(80, 20, 4)))
    assert profile.outline is None
    assert [h.diameter_mm for h in profile.holes] == [8, 8]
    assert "no_outline" in codes(profile)


def test_a_contour_that_crosses_itself_stops():
    assert codes(read(raw(closed([(0, 0), (100, 60), (100, 0), (0, 40)]))), "stop") >= {"crossing"}


def test_a_hole_across_the_outline_crosses():
    assert codes(read(raw(PLATE, circle(100, 30, 5))), "stop") == {"crossing"}


def test_two_holes_that_overlap_cross():
    assert codes(read(raw(PLATE, circle(40, 30, 5), circle(48, 30, 5))), "stop") == {"crossing"}


def test_a_hole_that_only_touches_the_outline_does_not_cross():
    assert read(raw(PLATE, circle(95, 30, 5))).findings == ()


def test_two_holes_that_only_touch_do_not_cross():
    assert read(raw(PLATE, circle(40, 30, 5), circle(50, 30, 5))).findings == ()


def test_an_opening_within_a_hair_of_the_outline_does_not_cross():
    assert "crossing" not in codes(read(raw(PLATE, box(40, 0.002, 10, 10))))


@pytest.mark.parametrize("turn", [0.0, 17.3, 45.0, 133.7])
def test_arcs_joined_to_lines_with_rounding_noise_do_not_cross(turn):
    """Rounded corners far from the origin, written with six places: the ring is valid but for noise."""
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))

    def at(x, y):
        return round(5000 + c * x - s * y, 6), round(-7000 + s * x + c * y, 6)

    corners = [((8, 8), 180), ((92, 8), 270), ((92, 52), 0), ((8, 52), 90)]
    sides = [((8, 0), (92, 0)), ((100, 8), (100, 52)), ((92, 60), (8, 60)), ((0, 52), (0, 8))]
    data = raw(
        *(arc(*at(*centre), 8, start + turn, start + turn + 90) for centre, start in corners),
        *(line(*at(*a), *at(*b)) for a, b in sides),
    )
    profile = read(data)
    assert profile.findings == ()
    assert profile.area_mm2 == pytest.approx(6000 - (4 - math.pi) * 64, abs=1e-3)


def test_two_contours_that_share_an_edge_overlap():
    found = finding(read(raw(PLATE, box(40, 0, 10, 10))), "overlap")
    assert (found.severity, found.measured) == ("stop", "10.00 mm")


def test_a_line_out_and_back_is_no_contour():
    def draw(space, _):
        space.add_lwpolyline([(0, 0), (100, 0), (100, 60), (0, 60)], close=True)
        space.add_lwpolyline([(30, 30), (50, 30)], close=True)

    assert codes(read(drawing(draw)), "stop") == {"overlap"}


def test_two_plates_in_one_file_stop():
    profile = read(raw(PLATE, box(200, 0, 50, 50)))
    assert codes(profile, "stop") == {"several_outlines"}
    assert len(profile.outlines) == 2
    assert profile.outline is not None
    assert profile.outline.area_mm2 == 6000


def test_an_island_in_an_opening_stops():
    profile = read(raw(PLATE, box(20, 20, 30, 20), box(30, 25, 5, 5)))
    assert codes(profile, "stop") == {"island"}
    assert len(profile.openings) == 1


def test_holes_of_a_part_drawn_into_another_can_be_compared_and_still_stop():
    profile = read(raw(PLATE, box(20, 20, 40, 30), circle(30, 30, 2), circle(50, 40, 2)))
    assert codes(profile, "stop") == {"island"}
    assert [h.diameter_mm for h in profile.holes] == [4, 4]


def test_a_circle_off_centre_in_a_round_hole_is_an_island():
    assert codes(read(raw(PLATE, circle(50, 30, 10), circle(53, 30, 3))), "stop") == {"island"}


def test_of_concentric_circles_the_smallest_is_kept_and_all_sizes_are_told():
    profile = read(raw(PLATE, circle(50, 30, 6), circle(50, 30, 3), circle(50.01, 30, 4.5)))
    assert codes(profile, "stop") == {"concentric"}
    assert [h.diameter_mm for h in profile.holes] == [6]
    assert "6.000 and 9.000 and 12.000 mm" in finding(profile, "concentric").message


def test_a_ring_is_a_disc_with_a_hole_and_not_concentric():
    profile = read(raw(circle(0, 0, 30), circle(0, 0, 5)))
    assert profile.findings == ()
    assert [h.diameter_mm for h in profile.holes] == [10]


def test_a_circle_within_a_hole_of_a_disc_is_concentric():
    assert codes(read(raw(circle(0, 0, 30), circle(0, 0, 9), circle(0, 0, 5)))) == {"concentric"}


def test_a_circle_alone_is_a_disc():
    profile = read(raw(circle(0, 0, 30)))
    assert profile.usable
    assert profile.holes == ()
    assert profile.area_mm2 == pytest.approx(900 * math.pi)


def test_an_empty_drawing_has_no_outline():
    assert codes(read(raw())) == {"no_outline"}


def test_circles_without_a_plate_are_holes_without_an_outline():
    profile = read(raw(circle(0, 0, 3), circle(40, 0, 3)))
    assert codes(profile) == {"no_outline"}
    assert len(profile.holes) == 2


@pytest.mark.parametrize(
    "entity",
    [
        tag(0, "TEXT", 8, "NOTES", 10, 5, 20, 5, 40, 3, 1, "M8 [x4]"),
        tag(0, "POINT", 8, "NOTES", 10, 5, 20, 5),
        tag(0, "SOLID", 8, "NOTES", 10, 5, 20, 5, 11, 6, 21, 5, 12, 5, 22, 6, 13, 6, 23, 6),
    ],
)
def test_what_is_neither_cut_mark_nor_bend_is_unexplained(entity):
    profile = read(raw(PLATE, entity, entity))
    assert codes(profile, "stop") == {"unexplained_content"}
    found = finding(profile, "unexplained_content")
    assert found.message.startswith(f"2 {entity.split(chr(10))[1]} entities on layer NOTES")
    assert found.where == "layer NOTES"


def test_dimensions_and_hatches_are_unexplained():
    def draw(space, _):
        space.add_lwpolyline([(0, 0), (100, 0), (100, 60), (0, 60)], close=True)
        space.add_linear_dim(base=(0, 70), p1=(0, 60), p2=(100, 60)).render()
        hatch = space.add_hatch()
        hatch.paths.add_polyline_path([(0, 0), (5, 0), (5, 5)])
        space.add_mtext("plate")

    messages = [f.message for f in read(drawing(draw)).findings if f.code == "unexplained_content"]
    assert {m.split()[1] for m in messages} == {"DIMENSION", "HATCH", "MTEXT"}


@pytest.mark.parametrize("hide", ["off", "freeze"])
def test_content_on_a_hidden_layer_is_unexplained_and_not_cut(hide):
    def draw(space, document):
        space.add_lwpolyline([(0, 0), (100, 0), (100, 60), (0, 60)], close=True)
        layer = document.layers.add("OLD")
        getattr(layer, hide)()
        space.add_circle((20, 20), 4, dxfattribs={"layer": "OLD"})

    profile = read(drawing(draw))
    assert codes(profile, "stop") == {"unexplained_content"}
    assert "1 CIRCLE entity on layer OLD (hidden)" in finding(profile, "unexplained_content").message
    assert profile.holes == ()


def test_an_entity_hidden_by_itself_is_unexplained():
    profile = read(raw(PLATE, circle(20, 20, 4, 60, 1)))
    assert codes(profile) == {"unexplained_content"}


def test_content_of_a_block_on_a_frozen_layer_is_hidden():
    def draw(space, document):
        space.add_lwpolyline([(0, 0), (100, 0), (100, 60), (0, 60)], close=True)
        document.layers.add("OLD").freeze()
        document.blocks.new("B").add_circle((20, 20), 4, dxfattribs={"layer": "SHOWN"})
        space.add_blockref("B", (0, 0), dxfattribs={"layer": "OLD"})

    assert (
        "1 CIRCLE entity on layer SHOWN (hidden)"
        in finding(read(drawing(draw)), "unexplained_content").message
    )


def test_content_in_paper_space_is_unexplained():
    def draw(space, document):
        space.add_lwpolyline([(0, 0), (100, 0), (100, 60), (0, 60)], close=True)
        document.layouts.get("Layout1").add_line((0, 0), (10, 0))

    found = finding(read(drawing(draw)), "unexplained_content")
    assert "1 LINE entity on layer 0 (in paper space)" in found.message


def test_a_viewport_is_no_content():
    def draw(space, document):
        space.add_lwpolyline([(0, 0), (100, 0), (100, 60), (0, 60)], close=True)
        document.layouts.get("Layout1").add_viewport((0, 0), (10, 10), (0, 0), 10)

    assert read(drawing(draw)).findings == ()


@pytest.mark.parametrize(
    "entity",
    [
        circle(20, 20, 4, 210, 0.6, 220, 0, 230, 0.8),
        tag(0, "LINE", 8, "0", 10, 10, 20, 10, 30, 0, 11, 20, 21, 20, 31, 5),
        tag(0, "3DFACE", 8, "0", 10, 0, 20, 0, 11, 1, 21, 0, 12, 1, 22, 1, 13, 0, 23, 1),
        tag(0, "FRISBEE", 8, "0", 10, 0, 20, 0),
        tag(0, "ACAD_PROXY_ENTITY", 8, "0", 90, 498),
        tag(
            0,
            "ELLIPSE",
            8,
            "0",
            100,
            "AcDbEntity",
            100,
            "AcDbEllipse",
            10,
            20,
            20,
            20,
            11,
            5,
            21,
            0,
            31,
            3,
            40,
            0.5,
        ),
        insert("NOWHERE"),
    ],
)
def test_what_cannot_be_read_is_never_skipped(entity):
    profile = read(raw(PLATE, entity))
    assert codes(profile, "stop") == {"unreadable_entity"}
    assert profile.outline is not None


def test_a_spline_with_fit_points_only_is_read_and_stops_until_a_copy_fixes_it():
    points = (11, 10, 21, 10, 11, 20, 21, 15, 11, 30, 21, 10)
    entity = tag(0, "SPLINE", 8, "0", 100, "AcDbEntity", 100, "AcDbSpline", 70, 8, 71, 3, 74, 3, *points)
    assert codes(read(raw(PLATE, entity, head=R2000)), "stop") == {"fit_points", "open_contour"}


def test_a_spline_in_a_file_of_r12_is_not_read_with_half_its_numbers():
    """R12 has no such entity; the library would take degree 3 for any."""
    entity = spline(1, [(10, 10), (20, 10)], [0, 0, 1, 1])
    assert "R12" in finding(read(raw(PLATE, entity)), "unreadable_entity").message
    assert codes(read(raw(PLATE, entity, head=R2000))) == {"open_contour"}


def test_an_image_and_a_mesh_are_unreadable():
    def draw(space, document):
        space.add_lwpolyline([(0, 0), (100, 0), (100, 60), (0, 60)], close=True)
        image = document.add_image_def("a.png", (10, 10))
        space.add_image(image, (0, 0), (10, 10))
        space.add_polymesh((3, 3))

    messages = [f.message.split()[1] for f in read(drawing(draw)).findings if f.code == "unreadable_entity"]
    assert messages == ["IMAGE", "POLYLINE"]


def test_a_tilted_block_is_unreadable():
    data = raw(PLATE, insert("B", 0, 0, 210, 1, 220, 0, 230, 0), blocks=block("B", circle(20, 20, 4)))
    assert codes(read(data)) == {"unreadable_entity"}


def test_layer_names_give_roles():
    profile = read(
        raw(
            PLATE,
            line(50, 0, 50, 60, layer="bend_up"),
            line(20, 20, 30, 20, layer="Etching"),
            circle(70, 30, 3, layer="MARK-1"),
        )
    )
    assert profile.findings == ()
    assert len(profile.bends) == 1
    assert len(profile.marks) == 2
    assert profile.bends[0].layer == "bend_up"
    assert profile.layers == ("0", "Etching", "MARK-1", "bend_up")


def test_a_sketch_is_no_etching():
    assert read(raw(box(0, 0, 50, 50, layer="v3_Sketch1"))).usable


def test_a_stated_role_wins_over_the_guess():
    data = raw(PLATE, circle(50, 30, 4, layer="MARK"), circle(20, 30, 4, layer="centres"))
    assert [h.core[0] for h in read(data).holes] == [(20, 30)]
    profile = read(data, roles={"mark": "cut", "CENTRES": "mark"})
    assert [h.core[0] for h in profile.holes] == [(50, 30)]


def test_an_ignored_layer_is_left_out_and_warned_of():
    profile = read(raw(PLATE, circle(50, 30, 4, layer="GUIDE")), roles={"guide": "ignore"})
    assert codes(profile, "warning") == {"ignored_content"}
    assert profile.holes == ()
    assert profile.usable


def test_a_role_that_is_none_is_refused():
    with pytest.raises(BadInput, match="cut, mark, bend, ignore"):
        read(raw(PLATE), roles={"0": "burn"})


def test_a_file_that_only_the_recovering_loader_reads_stops_and_still_has_its_holes():
    damaged = plate_bytes().replace(b"AcDbBlockTableRecord\n", b"AcDbSomethingElse\n", 1)
    broken = damaged.replace(b"  0\nTABLE\n  2\nLAYER\n", b"  0\nTABEL\n  2\nLAYER\n", 1)
    assert broken != damaged
    profile = read(broken)
    assert "only_recovered" in codes(profile, "stop")
    assert len(profile.holes) == 3


def test_names_from_the_file_are_made_visible():
    evil = "A\x1b[31m\u202eB"
    profile = read(
        raw(PLATE, line(10, 10, 20, 10, layer=evil), tag(0, "TEXT", 8, evil, 10, 0, 20, 0, 40, 1, 1, evil))
    )
    shown = "".join(str(f.to_json()) for f in profile.findings) + "".join(profile.layers)
    assert "\x1b" not in shown
    assert "\u202e" not in shown
    assert "\\u001b" in shown


def test_findings_of_one_code_are_told_twenty_times_and_then_counted():
    profile = read(raw(PLATE, *(line(10, k, 20, k) for k in range(5, 55))))
    told = [f for f in profile.findings if f.code == "open_contour"]
    assert len(told) == 21
    assert "30 more" in told[-1].message


def test_every_finding_says_where_and_what_to_do():
    data = raw(
        PLATE,
        circle(50, 30, 4) * 2,
        line(0, 0, -5, -5),
        tag(0, "TEXT", 8, "T", 10, 0, 20, 0, 40, 1, 1, "x"),
        box(200, 0, 40, 40),
        circle(220, 20, 9),
        circle(220, 20, 4),
        closed(polygon(210, 8, 3, 24)),
        line(1, 1, 1, 1),
        head=header(ACADVER="AC1009"),
    )
    profile = read(data)
    assert len(codes(profile)) >= 7
    assert all(f.where and f.fix and f.message for f in profile.findings)


def test_a_closed_spline_is_a_hole_made_of_a_spline():
    knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]
    ring = [(60, 30), (60, 40), (50, 40), (40, 40), (40, 30), (40, 20), (50, 20), (60, 20), (60, 30)]
    weights = [v for k in range(9) for v in (41, 1 if k % 2 == 0 else math.sqrt(0.5))]
    hole = read(raw(PLATE, spline(2, ring, knots, *weights), head=R2000)).holes[0]
    assert hole.made_of == "spline"
    assert hole.diameter_mm == pytest.approx(20, abs=1e-6)
    assert hole.centre == pytest.approx((50, 30), abs=1e-6)


@pytest.mark.parametrize("ends", [((0, 0), (100, 0)), ((20, 0), (80, 0)), ((100, 60), (100, 5))])
def test_a_line_over_an_edge_of_a_polyline_is_a_duplicate_and_no_open_contour(ends):
    def draw(space, _):
        space.add_lwpolyline([(0, 0), (100, 0), (100, 60), (0, 60)], close=True)
        space.add_line(*ends)

    profile = read(drawing(draw))
    assert codes(profile) == {"duplicate"}
    assert "drawn twice" in finding(profile, "duplicate").message


@pytest.mark.parametrize("ends", [((0, 0), (100, 60)), ((20, 0), (120, 0)), ((20, 0.01), (80, 0.01))])
def test_a_line_that_leaves_the_edge_of_a_polyline_is_open(ends):
    def draw(space, _):
        space.add_lwpolyline([(0, 0), (100, 0), (100, 60), (0, 60)], close=True)
        space.add_line(*ends)

    assert "open_contour" in codes(read(drawing(draw)))


def test_many_branches_of_a_drawing_are_one_stop_with_their_count():
    stubs = [line(x, 0, x, -5) for x in range(10, 90, 10)]
    lower = [line(x, 0, x + 10, 0) for x in range(0, 100, 10)]
    profile = read(raw(*lower, line(100, 0, 100, 60), line(100, 60, 0, 60), line(0, 60, 0, 0), *stubs))
    (branch,) = (f for f in profile.findings if f.code == "branch")
    assert "8 places" in branch.message
