"""Pictures: the same bytes every time, true arcs, and nothing from outside that a viewer would act on."""

from __future__ import annotations

import io
import math
import re
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest
from PIL import Image
from profile_drawings import arc, box, circle, line, plate_bytes, raw, read

from ledger.domain.drawing import PENS
from ledger.domain.errors import BadInput
from ledger.domain.plates import Ply, plate_drawing, plies_drawing
from ledger.domain.pose import Pose
from ledger.domain.shape import Contour, Hole, Profile
from ledger.papers.lettered import lettered
from ledger.papers.png import SIDE_PIXELS, flattened, png
from ledger.papers.svg import picture_unit, picture_view, svg

SVG = "{http://www.w3.org/2000/svg}"


def profile_drawing(profile, title=""):
    return plate_drawing(profile, profile.holes, title=title)


def profile_svg(profile, title=""):
    return svg(profile_drawing(profile, title))


def laid(profile, pose=None):
    """A profile as a ply, where a pose puts it."""
    pose = pose or Pose()
    holes = [
        Hole(h.label, tuple(pose.place(p) for p in h.core), h.diameter_mm, h.made_of) for h in profile.holes
    ]
    rings = [pose.place_contour(ring) for ring in (*profile.outlines, *profile.openings)]
    return Ply((*rings, *(h.contour() for h in holes)), tuple(holes))


def overlay_drawing(a, b, pose, *, between=(), wrong=()):
    plies = (laid(a, pose), *(laid(profile, at) for profile, at in between), laid(b))
    return plies_drawing(plies, wrong=dict.fromkeys(wrong))


def overlay_svg(a, b, pose, *, wrong=()):
    return svg(overlay_drawing(a, b, pose, wrong=wrong))


def parts(data, kind):
    return list(ET.fromstring(data.decode()).iter(SVG + kind))  # noqa: S314 - made a moment ago


def test_the_same_profile_gives_the_same_bytes():
    profile = read(plate_bytes())
    assert profile_svg(profile, title="A") == profile_svg(read(plate_bytes()), title="A")


def test_every_hole_has_its_label_and_the_overall_size_is_told():
    words = [e.text for e in parts(profile_svg(read(plate_bytes())), "text")]
    assert words == ["H1", "H2", "H3", "(120)", "(80)", "holes: 1 x slot 8 x 30 (H1); 2 x Ø 9 (H2, H3)"]


def test_a_circle_is_two_arcs_of_its_radius():
    paths = [e.get("d") for e in parts(profile_svg(read(plate_bytes())), "path")]
    assert sum("A4.5 4.5" in p for p in paths) == 2
    assert not any(len(re.findall("L", p)) > 6 for p in paths)


@pytest.mark.parametrize("bulge_up", [True, False])
def test_an_arc_bulges_the_way_it_was_drawn(bulge_up):
    """A half disc above or below its chord: in a picture y points down, so the point at the top has y = -30."""
    arcs = arc(50, 0, 30, 0, 180) if bulge_up else arc(50, 0, 30, 180, 360)
    path, *_sizes = [e.get("d") for e in parts(profile_svg(read(raw(line(20, 0, 80, 0), arcs))), "path")]
    x0, y0, sweep, x1, y1 = arc_ends(path)
    assert (y0, y1) == (0, 0)
    top_is_up = (x0 < x1) == bool(sweep)  # from left to right, clockwise on screen, goes over the top
    assert top_is_up is bulge_up


def arc_ends(path):
    words = re.findall(r"([MLA])([^MLAZ]*)", path)
    place = None
    for letter, numbers in words:
        values = [float(v) for v in numbers.split()]
        if letter == "A":
            return (*place, int(values[4]), *values[5:])
        place = values[:2]
    raise AssertionError(path)


def test_words_from_outside_are_escaped_and_made_visible():
    data = profile_svg(read(plate_bytes()), title='<script>"&\x1b\u202e')
    assert b"<script" not in data
    assert b"\x1b" not in data
    assert ET.fromstring(data.decode()).find(SVG + "title").text == '<script>"&\\u001b\\u202e'  # noqa: S314


def test_marks_are_dotted_and_bends_dashed():
    profile = read(
        raw(box(0, 0, 100, 60), line(10, 10, 20, 10, layer="MARK"), line(50, 0, 50, 60, layer="BEND"))
    )
    assert len([e for e in parts(profile_svg(profile), "path") if e.get("stroke-dasharray")]) == 2


def test_an_empty_profile_has_a_picture():
    assert profile_svg(Profile(None)).startswith(b"<svg")


def test_an_overlay_places_one_on_the_other():
    """A quarter turn and a shift bring the hole of `a` onto that of `b`: both paths lie around one centre."""
    a, b = read(raw(box(0, 0, 100, 60), circle(20, 10, 4))), read(raw(box(0, 0, 60, 100), circle(50, 20, 5)))
    data = overlay_svg(a, b, Pose(90, 60, 0))
    by_colour = {e.get("stroke"): arc_ends(e.get("d")) for e in parts(data, "path") if "A" in e.get("d")}
    assert set(by_colour) == {"#56b4e9", "#e69f00"}
    for x0, y0, _, x1, y1 in by_colour.values():
        assert ((x0 + x1) / 2, (y0 + y1) / 2) == pytest.approx((50, -20))
        assert math.hypot(x1 - x0, y1 - y0) in (pytest.approx(8), pytest.approx(10))


def test_a_wrong_hole_is_told_by_more_than_colour():
    a = read(raw(box(0, 0, 100, 60), circle(20, 40, 4), circle(80, 40, 4)))
    plain, marked = overlay_svg(a, a, Pose()), overlay_svg(a, a, Pose(), wrong=("H2",))
    assert len(parts(marked, "path")) == len(parts(plain, "path")) + 3
    assert marked == overlay_svg(a, a, Pose(), wrong=("H2",))


def test_a_turned_over_keeps_arcs_round():
    profile = read(raw(line(20, 0, 80, 0), arc(50, 0, 30, 0, 180)))
    turned_over = overlay_svg(profile, Profile(None), Pose(0, 0, 0, turned_over=True))
    (path,) = [e.get("d") for e in parts(turned_over, "path")]
    x0, _, sweep, x1, _ = arc_ends(path)
    assert (x0 < x1) != bool(sweep)


def seen(drawing):
    """The picture of a drawing, and where each mm of the part comes to lie on it."""
    image = Image.open(io.BytesIO(png(drawing))).convert("RGB")
    unit = picture_unit(drawing)
    left, bottom, right, top = picture_view(lettered(drawing, unit), unit)
    scale = SIDE_PIXELS / max(right - left, top - bottom)
    return image, lambda x, y: (round((x - left) * scale), round((top - y) * scale))


def dark(image, place, reach=4):
    """Whether anything darker than half grey lies within `reach` pixels."""
    box = (place[0] - reach, place[1] - reach, place[0] + reach + 1, place[1] + reach + 1)
    return min(image.crop(box).convert("L").tobytes()) < 128


def test_a_ply_between_is_dashed_all_around_where_it_lies_and_wrong_holes_are_crossed():
    a = read(raw(box(0, 0, 100, 60), circle(20, 40, 4)))
    small = read(raw(box(0, 0, 40, 30)))
    drawing = overlay_drawing(a, a, Pose(), between=[(small, Pose(0, 30, 15))], wrong={"H1"})
    dashed = [line for line in drawing.lines if line.role == "between"]
    assert PENS["between"].dashes_mm
    assert [[v[:2] for v in line.vertices] for line in dashed] == [[(30, 15), (70, 15), (70, 45), (30, 45)]]
    image, at = seen(drawing)
    for ends in (((31, 15), (69, 15)), ((70, 16), (70, 44)), ((69, 45), (31, 45)), ((30, 44), (30, 16))):
        steps = [at(*(p + (q - p) * k / 60 for p, q in zip(*ends, strict=True))) for k in range(61)]
        drawn = [dark_green(image, place) for place in steps]
        assert 0.4 < sum(drawn) / len(drawn) < 0.95


def dark_green(image, place):
    red, green, blue = image.getpixel(place)
    return green > red + 40 and green > blue


def test_a_png_shows_the_same_lines_at_the_same_places():
    profile = read(raw(box(0, 0, 100, 60), circle(20, 40, 10)))
    image, at = seen(profile_drawing(profile))
    assert max(image.size) == SIDE_PIXELS
    for x, y in (
        (0, 0),
        (100, 60),
        (50, 0),
        (0, 30),
        (10, 40),
        (20, 50),
        (20, 30),
        (20 - 7.0711, 40 - 7.0711),
    ):
        assert dark(image, at(x, y)), (x, y)
    for x, y in ((26, 46), (50, 30), (-3, -3), (90, 10)):
        assert not dark(image, at(x, y)), (x, y)


@pytest.mark.parametrize(("radius", "corner"), [(1.5, (22.0, 42.0)), (5.0, (17.5, 41.5))])
def test_a_png_has_the_label_in_its_hole_where_there_is_room_and_else_beside_it(radius, corner):
    profile = read(raw(box(0, 0, 100, 60), circle(20, 40, radius)))
    image, at = seen(profile_drawing(profile))
    left, top = at(*corner)
    right, bottom = at(corner[0] + 5, corner[1] - 3)
    letters = image.crop((left, top, right, bottom)).convert("L").point(lambda v: 255 * (v < 128)).getbbox()
    assert letters
    assert letters[3] - letters[1] >= 12  # pixels high: to be read without a glass


def test_the_same_drawing_gives_the_same_png_and_another_does_not():
    a, b = (read(raw(box(0, 0, 100, 60), circle(20, y, 5))) for y in (40, 41))
    assert png(profile_drawing(a, title="A")) == png(profile_drawing(a, title="A"))
    assert png(profile_drawing(a)) != png(profile_drawing(b))


def test_a_wrong_hole_is_red_and_crossed_in_a_png_too():
    a = read(raw(box(0, 0, 100, 60), circle(20, 40, 4), circle(80, 20, 4)))
    image, at = seen(overlay_drawing(a, a, Pose(), wrong=("H2",)))
    crossed = [at(*place) for place in ((20, 40), (80, 20)) if image.getpixel(at(*place)) == (213, 94, 0)]
    assert len(crossed) == 1


def test_dashes_leave_gaps_in_a_png():
    profile = read(raw(box(0, 0, 100, 60), line(50, 0, 50, 60, layer="BEND")))
    image, at = seen(profile_drawing(profile))
    column = [dark(image, at(50, 1 + k / 5), reach=1) for k in range(290)]
    assert 20 < sum(column) < 270
    assert sum(a != b for a, b in pairwise(column)) > 20


def test_words_in_a_png_that_its_letters_lack_do_not_break_it():
    ring = Contour(((0.0, 0.0, 0.0), (9.0, 0.0, 0.0), (9.0, 9.0, 0.0)))
    hole = Hole("\u6f22\x1b\u202e", ((5.0, 2.0),), 1.0)
    data = png(profile_drawing(Profile(ring, holes=(hole,), outlines=(ring,)), title="<b>\x1b"))
    assert data.startswith(b"\x89PNG")
    assert b"\x1b" not in Image.open(io.BytesIO(data)).info["Title"].encode()


def test_a_profile_that_is_not_finite_has_no_png():
    with pytest.raises(BadInput, match="not a finite number"):
        png(profile_drawing(Profile(None, holes=(Hole("H1", ((math.nan, 0.0),), 5.0),))))


def test_an_open_arc_is_flattened_to_its_end_and_no_further():
    points = flattened(((0.0, 0.0, 1.0), (10.0, 0.0, 1.0)), closed=False, sagitta_mm=0.01)
    assert points[0] == (0.0, 0.0)
    assert points[-1] == (10.0, 0.0)
    assert all(y <= 1e-9 for _, y in points)
    assert min(y for _, y in points) == pytest.approx(-5.0, abs=0.02)
