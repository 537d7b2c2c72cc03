"""What real drawings leave open is recognised and asked about: units, circles, threads, sheets, paths."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from profile_drawings import arc, box, circle, codes, drawing, finding, header, line, raw, read

from ledger.domain import drawing_notes
from ledger.profile.overlaps import overlaps
from ledger.profile.piece import Piece
from ledger.profile.units import BY_NAME, MM
from ledger.profile.weigh import on_size, readings, speaks_against

PLATE = box(0, 0, 120, 80)
INCH = BY_NAME["in"]
NO_UNIT = header(ACADVER="AC1009")


def test_without_a_unit_both_readings_are_shown_the_likelier_first():
    holes = (circle(20, 20, 3.3), circle(100, 20, 4.5))
    message = finding(read(raw(PLATE, *holes, head=NO_UNIT)), "unit_missing").message
    assert "120.0 × 80.0 mm read as mm (metric: 2 of 2 hole sizes)" in message
    assert "120.000 × 80.000 in = 3048.0 × 2032.0 mm read as in (inch: 0 of 2 hole sizes)" in message
    assert message.index("read as mm") < message.index("read as in")


def test_a_plate_in_inches_without_a_unit_has_inch_sizes():
    holes = (circle(1, 1, 0.265625 / 2), circle(3, 1, 0.3125 / 2))
    message = finding(read(raw(box(0, 0, 4, 3), *holes, head=NO_UNIT)), "unit_missing").message
    assert "inch: 2 of 2 hole sizes" in message


def test_a_header_that_says_inch_over_metric_holes_is_doubted():
    """Numbers that are plainly millimetres in a file that says inch: EVIDENCE, 3 to 4 % of real files."""
    head = header(ACADVER="AC1015", INSUNITS=1, MEASUREMENT=0)
    profile = read(raw(box(0, 0, 90, 60), circle(20, 20, 1.6), circle(70, 20, 2.25), head=head))
    assert codes(profile, "stop") == {"unit_doubtful"}
    assert "90.0 × 60.0 mm read as mm" in finding(profile, "unit_doubtful").message
    assert not profile.unit_sure
    assert read(raw(box(0, 0, 90, 60), circle(20, 20, 1.6), head=head), unit="in").unit_sure


def test_inch_holes_in_a_file_that_says_inch_are_not_doubted():
    head = header(ACADVER="AC1015", INSUNITS=1, MEASUREMENT=0)
    assert read(raw(box(0, 0, 9, 6), circle(2, 2, 9 / 64), circle(7, 2, 3 / 16), head=head)).usable


def test_one_hole_that_nobody_drills_doubts_the_unit_and_one_on_a_size_does_not():
    assert speaks_against(readings(INCH, (900.0, 600.0), [81.28, 81.28]), INCH) is not None
    for size in (2.25, 3.4, 6.6, 12.7, 13.49):
        assert speaks_against(readings(INCH, (900.0, 600.0), [size]), INCH) is None


INCH_HEAD = header(ACADVER="AC1015", INSUNITS=1, MEASUREMENT=0)


@settings(max_examples=60)
@given(
    size=st.integers(12, 120),
    holes=st.lists(st.sampled_from([3.2, 4.5, 5.5, 6.6, 9.0, 11.0, 13.5]), min_size=1, max_size=4),
)
def test_a_metric_plate_under_an_inch_header_is_never_sure(size, holes):
    rings = [circle(20 * k + 10, 10, d / 2) for k, d in enumerate(holes)]
    profile = read(raw(box(0, 0, 80 + size, 20), *rings, head=INCH_HEAD))
    assert not profile.unit_sure
    assert "read as mm" in finding(profile, "unit_doubtful").message


@settings(max_examples=60)
@given(
    size=st.sampled_from([2.0, 4.5, 12.0, 48.0]),
    holes=st.lists(
        st.sampled_from([9 / 64, 3.4 / 25.4, 0.25, 17 / 32, 0.53125, 1.0625]), min_size=1, max_size=4
    ),
)
def test_an_inch_plate_under_an_inch_header_is_sure(size, holes):
    rings = [circle((k + 0.5) * size / len(holes), 1, d / 2) for k, d in enumerate(holes)]
    profile = read(raw(box(-2, -2, size + 4, 6), *rings, head=INCH_HEAD))
    assert profile.unit_sure


@pytest.mark.parametrize(
    ("mm", "metric", "inch"),
    [
        (6.6, True, False),
        (13.5, True, True),
        (6.35, False, True),
        (10.25, False, False),
        (12.7, False, True),
    ],
)
def test_a_size_is_metric_or_inch_by_its_drills(mm, metric, inch):
    """Common practice: tenths of a mm up to ten and halves above; 64ths of an inch."""
    assert (on_size(mm, imperial=False), on_size(mm, imperial=True)) == (metric, inch)


def test_centimetres_are_shown_where_they_give_a_plate():
    found = {r.unit.name: r for r in readings(MM, (12.0, 8.0), [0.66, 0.9])}
    assert found["cm"].on_sizes == 2
    assert set(found) == {"mm", "in", "cm"}


def test_concentric_circles_name_the_hole_and_keep_every_size():
    profile = read(raw(PLATE, circle(30, 30, 3.4), circle(30, 30, 5), circle(90, 30, 4.5)))
    assert finding(profile, "concentric").where == "H1"
    assert {h.label: h.also_mm for h in profile.holes} == {"H1": (10.0,), "H2": ()}


@pytest.mark.parametrize("start", [0, 40, 180])
def test_an_arc_of_three_quarters_around_a_hole_is_the_sign_of_a_thread(start):
    """ISO 6410-1: an internal thread, seen along its axis, is a thin arc of about three quarters."""
    profile = read(raw(PLATE, circle(30, 30, 3.4), arc(30, 30, 4, start, start + 270)))
    assert codes(profile, "stop") == {"concentric"}
    assert profile.holes[0].also_mm == (8.0,)


def test_an_arc_of_three_quarters_that_a_contour_goes_on_from_is_a_contour():
    ring = (arc(60, 40, 10, 0, 270), line(70, 40, 70, 30), line(70, 30, 60, 30))
    profile = read(raw(PLATE, *ring, circle(60, 40, 3)))
    assert "open_contour" not in codes(profile)
    assert all(h.also_mm == () for h in profile.holes)


def test_an_arc_of_three_quarters_with_no_hole_in_it_is_open():
    assert codes(read(raw(PLATE, arc(30, 30, 4, 0, 270))), "stop") == {"open_contour"}


def test_the_sign_of_a_thread_around_the_outline_is_not_lost():
    profile = read(raw(circle(0, 0, 30), arc(0, 0, 33, 0, 270)))
    assert codes(profile, "stop") == {"open_contour"}


def test_lines_that_lie_on_each_other_for_a_part_are_told_with_their_length():
    ring = (
        line(0, 0, 70, 0),
        line(50, 0, 120, 0),
        line(120, 0, 120, 80),
        line(120, 80, 0, 80),
        line(0, 80, 0, 0),
    )
    told = finding(read(raw(*ring)), "overlap")
    assert told.measured == "20.00 mm"


def test_arcs_of_one_circle_that_overlap_are_told():
    pieces = [
        Piece("ARC", "0", ((10.0, 0.0, 1.0), (-10.0, 0.0, 0.0)), closed=False),
        Piece("ARC", "0", ((0.0, 10.0, 1.0), (0.0, -10.0, 0.0)), closed=False),
    ]
    (told,) = overlaps(pieces)
    assert told.measured == "15.71 mm"


def test_lines_that_meet_or_cross_do_not_overlap():
    def straight(ax, ay, bx, by):
        return Piece("LINE", "0", ((ax, ay, 0.0), (bx, by, 0.0)), closed=False)

    assert list(overlaps([straight(0, 0, 10, 0), straight(10, 0, 20, 0), straight(5, -5, 5, 5)])) == []


def test_a_fit_point_spline_that_closes_is_an_opening():
    def draw(space, _):
        space.add_lwpolyline([(0, 0), (120, 0), (120, 80), (0, 80)], close=True)
        space.add_spline([(40, 40), (50, 50), (60, 40), (50, 30), (40, 40)])

    profile = read(drawing(draw, units=4))
    assert codes(profile, "stop") == {"fit_points"}
    (ring,) = profile.openings
    assert ring.box == pytest.approx((40, 30, 60, 50), abs=0.6)


@pytest.mark.parametrize(("linetype", "stops"), [("CENTER", True), ("DASHED", True), ("Continuous", False)])
def test_a_line_of_dashes_is_no_cut_unless_somebody_says_so(linetype, stops):
    def draw(space, document):
        if linetype != "Continuous":
            document.linetypes.add(linetype, [3.0, 2.0, -1.0])
        document.layers.add("AXES", linetype=linetype)
        space.add_lwpolyline([(0, 0), (120, 0), (120, 80), (0, 80)], close=True)
        space.add_lwpolyline([(20, 20), (40, 20), (40, 40)], close=True, dxfattribs={"layer": "AXES"})

    data = drawing(draw, units=4)
    assert codes(read(data), "stop") == ({"unexplained_content"} if stops else set())
    assert len(read(data, roles={"AXES": "cut"}).openings) == 1


def test_a_drawing_sheet_is_recognised():
    def draw(space, _):
        for k in range(10):
            space.add_text(f"note {k}")
            space.add_line((k, 0), (k + 0.5, 40))
        space.add_lwpolyline([(0, 0), (420, 0), (420, 297), (0, 297)], close=True)

    told = finding(read(drawing(draw, units=4)), "drawing_sheet")
    assert "10 texts and dimensions" in told.message


def test_a_plate_with_a_few_words_is_no_drawing_sheet():
    def draw(space, _):
        space.add_lwpolyline([(0, 0), (120, 0), (120, 80), (0, 80)], close=True)
        for k in range(20):
            space.add_text(f"note {k}")

    assert "drawing_sheet" not in codes(read(drawing(draw, units=4)))


def test_contours_with_a_lead_in_are_the_path_of_a_tool():
    rings = [
        entity
        for x in (0, 200, 400)
        for entity in (
            line(x, 0, x + 100, 0),
            line(x + 100, 0, x + 100, 50),
            line(x + 100, 50, x, 50),
            line(x, 50, x, 0),
            line(x - 5, -5, x, 0),
        )
    ]
    assert "3 of 3 contours have a lead-in" in finding(read(raw(*rings)), "tool_path").message


def test_layers_named_after_moves_of_the_machine_are_the_path_of_a_tool():
    profile = read(raw(PLATE, line(10, 10, 60, 60, layer="TRAVERSE")))
    assert "TRAVERSE" in finding(profile, "tool_path").message


def test_a_stray_line_on_one_contour_is_a_branch_and_no_path():
    profile = read(raw(PLATE, box(20, 20, 40, 40), box(60, 20, 80, 40), line(20, 20, 30, 30)))
    assert codes(profile, "stop") >= {"branch"}
    assert "tool_path" not in codes(profile)


def written(*, text="93", linetype="DASHED"):
    """A plate with a typed dimension over 96 mm, words, and a broken line across it on layer 0."""

    def draw(space, document):
        if linetype not in document.linetypes:
            document.linetypes.add(linetype, [1.0, 0.5, -0.5])
        space.add_lwpolyline([(0, 0), (200, 0), (200, 100), (0, 100)], close=True)
        space.add_linear_dim(base=(0, -10), p1=(0, 0), p2=(96, 0), text=text).render()
        space.add_text("20 THK").set_placement((10, 10))
        space.add_mtext(r"{\fSauna|b0|i0;QTY 4}\PS355")
        space.add_line((50, 0), (50, 100), dxfattribs={"linetype": linetype})

    return drawing(draw)


def test_what_is_written_is_told_line_by_line_and_without_codes():
    found = [f.measured for f in read(written()).findings if f.code == "drawing_words"]
    assert found == ["QTY 4 S355", "20 THK"]


@pytest.mark.parametrize(
    ("text", "wrong"), [("93", True), ("96", False), ("<>", False), ("96,0 ±0.1", False), ("A", False)]
)
def test_a_typed_dimension_that_differs_from_its_line_is_a_warning(text, wrong):
    assert ("dimension_differs" in codes(read(written(text=text)), "warning")) is wrong


def test_broken_lines_on_a_layer_that_is_cut_are_asked_about_and_are_what_is_said():
    assert "maybe_bend" in codes(read(written()), "stop")
    assert "maybe_bend" not in codes(read(written(linetype="CENTER")))
    (bend,) = read(written(), roles={"dashed": "bend"}).bends
    assert {v[0] for v in bend.vertices} == {50}


@pytest.mark.parametrize(
    ("text", "thick", "count", "made_of"),
    [
        ("20 THK", 20.0, None, ""),
        ("t=6.35", 6.35, None, ""),
        ("PL 1/2", None, None, ""),
        ('0.25" THICK, QTY 4', 6.35, 4, ""),
        ("4 OFF S355J2", None, 4, "S355J2"),
        ("Ø13.5 THRU", None, None, ""),
        ("cut 2 slots", None, None, ""),
    ],
)
def test_the_usual_ways_to_write_thickness_and_quantity_are_read(text, thick, count, made_of):
    assert drawing_notes.thickness_mm(text, "mm") == (pytest.approx(thick) if thick else None)
    assert drawing_notes.quantity(text) == count
    assert drawing_notes.grade(text) == made_of
