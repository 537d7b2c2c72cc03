"""A clean copy of a drawing: what it fixes, what it asks for, what it refuses; by file, by part, and on the screens."""

from __future__ import annotations

import io
import json

import ezdxf
import pytest
from bench_job import CORNERS, plate_dxf
from raw_dxf import box, circle, header, raw

from ledger.acts.parts import RecordOperation
from ledger.clean_copy import Choices, mended
from ledger.cli import main
from ledger.domain.errors import BadInput, UnknownName
from ledger.profile.read import geometry_digest, read_profile


def untidy(*, units=4, outlines=1, thread=True, text=True, gap=0.0):
    """A plate with words, a doubled line, a hidden layer, a countersunk hole, an open corner of so many mm."""
    document = ezdxf.new("R2010", units=units)
    space = document.modelspace()
    for k in range(outlines):
        x = 300 * k
        corners = [(x, 0), (x + 200 + 20 * k, 0), (x + 200 + 20 * k, 100), (x, 100), (x, gap)]
        space.add_lwpolyline(corners, close=not gap)
        for cx, cy in CORNERS:
            space.add_circle((x + cx, cy), 6.75)
    if thread:
        space.add_circle((100, 50), 3.4)
        space.add_circle((100, 50), 4)
    if text:
        space.add_text("cut twice, please")
        document.layers.add("OLD").off()
        space.add_line((1, 1), (5, 5), dxfattribs={"layer": "OLD"})
        space.add_circle(CORNERS[0], 6.75)
    out = io.StringIO()
    document.write(out)
    return out.getvalue().encode()


def fitup(*words):
    return main([str(word) for word in words])


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "arm.dxf"
    path.write_bytes(untidy(thread=False))
    return path


def test_what_was_wrong_with_the_old_file_is_told_as_fixed_and_not_as_a_stop(file, tmp_path, capsys):
    assert fitup("mend", file, "-o", tmp_path / "clean.dxf") == 0
    told = capsys.readouterr().out
    assert "fixed" in told
    assert not {"STOP", "warning", "do:"} & set(told.split())


def test_a_copy_leaves_out_what_is_not_cut_and_is_the_same_shape(file, tmp_path, capsys):
    out = tmp_path / "clean.dxf"
    assert fitup("mend", file, "-o", out, "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert {f["code"] for f in told["fixed"]} == {"unexplained_content", "duplicate", "drawing_words"}
    copy = read_profile(out.read_bytes())
    assert copy.findings == ()
    assert geometry_digest(copy) == geometry_digest(read_profile(file.read_bytes()))
    kinds = {e.dxftype() for e in ezdxf.readfile(out).modelspace()}
    assert kinds == {"LWPOLYLINE", "CIRCLE"}


def test_the_same_drawing_gives_the_same_copy_and_a_copy_of_a_copy_is_itself(file):
    first = mended(file.read_bytes(), Choices()).data
    assert mended(file.read_bytes(), Choices()).data == first
    assert mended(first, Choices()).data == first


def test_a_copy_never_overwrites_and_needs_a_place(file, capsys):
    before = file.read_bytes()
    assert fitup("mend", file, "-o", file) == 2
    assert file.read_bytes() == before
    assert "is there already" in capsys.readouterr().err
    assert fitup("mend", file) == 2
    assert "-o OUT.dxf" in capsys.readouterr().err
    assert fitup("mend") == 2
    assert fitup("mend", file, "--part", "ARM") == 2


def test_what_a_copy_cannot_know_is_asked_for_with_the_option_that_says_it():
    for data, words in (
        (untidy(thread=True), "--hole"),
        (untidy(thread=False, outlines=2), "--outline"),
        (untidy(thread=False, units=0), "--unit"),
    ):
        with pytest.raises(BadInput, match=words):
            mended(data, Choices())


def test_an_open_contour_is_not_closed_by_a_copy():
    with pytest.raises(BadInput, match="open: from"):
        mended(untidy(thread=False, gap=0.5), Choices())


def test_a_gap_within_the_tolerance_is_closed():
    made = mended(untidy(thread=False, text=False, gap=0.008), Choices())
    assert [f.code for f in made.fixed] == ["gap_closed"]


@pytest.mark.parametrize(("said", "size"), [("smallest", 6.8), ("largest", 8.0), ("8", 8.0), ("6.8 mm", 6.8)])
def test_the_circle_that_is_said_is_cut(said, size):
    made = mended(untidy(), Choices(circles={"all": said}))
    assert sorted({round(h.diameter_mm, 3) for h in made.profile.holes}) == sorted({13.5, size})
    assert made.profile.usable


def test_a_circle_that_is_not_drawn_and_a_hole_that_is_none_are_refused():
    label = next(h.label for h in read_profile(untidy()).holes if h.also_mm)
    with pytest.raises(BadInput, match="no circle of '7'"):
        mended(untidy(), Choices(circles={label: "7"}))
    with pytest.raises(UnknownName):
        mended(untidy(), Choices(circles={"H99": "smallest"}))


def test_the_outline_that_is_said_is_the_part_with_the_holes_within_it():
    data = untidy(outlines=2, thread=False, text=False)
    for number, width in ((1, 220), (2, 200)):
        made = mended(data, Choices(outline=number))
        assert made.profile.size_mm == pytest.approx((width, 100))
        assert len(made.profile.holes) >= 2
        assert made.profile.usable
    with pytest.raises(BadInput, match="the drawing has 2"):
        mended(data, Choices(outline=3))


def test_a_drawing_in_inches_stays_in_inches():
    data = plate_dxf(((1, 1), (7, 3)), diameter=0.53125, width=8, height=4)
    made = mended(data, Choices(unit="in"))
    again = read_profile(made.data)
    assert (again.unit_declared, again.size_mm) == ("in", pytest.approx((203.2, 101.6)))
    assert again.usable


def test_the_drawing_of_a_part_is_mended_in_one_step(bench, capsys):
    bench.plate("ARM")
    bench.job.take_profile("ARM", "arm.dxf", untidy(thread=False), by="Mira")
    assert "unexplained_content" in bench.codes("ARM")
    assert fitup("--job", bench.place, "mend", "--part", "ARM", "--by", "Mira") == 0
    assert "clean copy" in capsys.readouterr().out
    part = bench.job.part("ARM")
    assert part.taken.file_name == "arm-clean.dxf"
    assert not {"unexplained_content", "duplicate"} & set(bench.codes("ARM"))


def test_a_hole_that_is_said_to_be_tapped_is_cut_at_its_smallest_circle(bench):
    bench.plate("ARM")
    bench.job.take_profile("ARM", "arm.dxf", untidy(), by="Mira")
    label = next(h.label for h in bench.job.part("ARM").holes if h.also_mm)
    with pytest.raises(BadInput, match="--hole"):
        bench.job.mend("ARM", Choices(), by="Mira")
    bench.do(RecordOperation, number="ARM", labels=[label], operation="tapped", thread="M8")
    bench.job.mend("ARM", Choices(), by="Mira")
    part = bench.job.part("ARM")
    assert part.hole(label).diameter_mm == pytest.approx(6.8)
    assert "concentric" not in bench.codes("ARM")
    assert "thread_asked" not in bench.codes("ARM")


def test_a_part_without_a_drawing_is_not_mended(bench):
    bench.job.write_part("ARM", {"title": "arm"}, by="Mira")
    with pytest.raises(BadInput, match="has no drawing yet"):
        bench.job.mend("ARM", Choices(), by="Mira")


def layered():
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (200, 0), (200, 100), (0, 100)], close=True)
    space.add_line((50, 0), (50, 100), dxfattribs={"layer": "KNICK"})
    out = io.StringIO()
    document.write(out)
    return out.getvalue().encode()


def test_what_layers_are_for_is_stated_and_remembered_for_a_vendor(bench, tmp_path, capsys):
    path = tmp_path / "bend_line.dxf"
    path.write_bytes(layered())
    bench.plate("ARM")
    words = ("--job", bench.place, "take", "ARM", path, "--by", "Mira")
    assert fitup(*words) == 1
    assert fitup(*words, "--layer", "KNICK=bend", "--vendor", "Kerf & Son") == 0
    assert "KNICK bend" in capsys.readouterr().out
    assert len(bench.job.part("ARM").taken.profile.bends) == 1
    bench.plate("TOP")
    assert fitup("--job", bench.place, "take", "TOP", path, "--by", "Mira", "--vendor", "Kerf & Son") == 0
    assert fitup(*words) == 0  # the vendor of the drawing before
    bench.plate("SIDE")
    assert fitup("--job", bench.place, "take", "SIDE", path, "--by", "Mira", "--vendor", "Another") == 1
    assert bench.job.verify() == ()


@pytest.mark.parametrize("written", ["KNICK", "=bend", "KNICK=", "KNICK=bend_line"])
def test_a_layer_that_is_said_wrongly_is_refused(written, tmp_path, capsys):
    path = tmp_path / "bend_line.dxf"
    path.write_bytes(layered())
    assert fitup("look", path, "--layer", written) == 2
    assert capsys.readouterr().err


@pytest.mark.parametrize("way", ["take", "mend"])
def test_a_unit_stated_against_the_header_is_told_on_either_way_and_refused_where_nothing_fits(bench, way):
    def stated(data):
        bench.plate("ARM")
        bench.job.take_profile("ARM", "arm.dxf", data, unit="mm" if way == "take" else None, by="Mira")
        if way == "mend":
            bench.job.mend("ARM", Choices(unit="mm"), by="Mira")
        return {f.code for f in bench.job.part("ARM").taken.profile.findings}

    head = header(ACADVER="AC1015", INSUNITS=1, MEASUREMENT=0)
    small = raw(box(0, 0, 4, 2), circle(1, 1, 0.53125 / 2), head=head)
    large = raw(box(0, 0, 80, 40), circle(10, 10, 6.75), head=head)
    assert "unit_differs" in stated(large)
    with pytest.raises(BadInput, match="entered is mm"):
        mended(small, Choices(unit="mm"))
    if way == "take":
        assert "unit_doubtful" in stated(small)
    else:
        with pytest.raises(BadInput, match="entered is mm"):
            stated(small)


def test_a_plate_thinner_across_than_it_is_thick_is_doubted(bench):
    bench.plate("ARM")
    bench.job.take_profile("ARM", "arm.dxf", plate_dxf(((3, 3),), diameter=1.5, width=9, height=6), by="Mira")
    assert "unit_doubtful" in bench.codes("ARM")


def annotated():
    document = ezdxf.new("R2010", units=4, setup=True)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (200, 0), (200, 100), (0, 100)], close=True)
    space.add_linear_dim(base=(0, -10), p1=(0, 0), p2=(96, 0), text="93").render()
    space.add_text("20 THK").set_placement((10, 10))
    space.add_line((50, 0), (50, 100), dxfattribs={"linetype": "DASHED"})
    out = io.StringIO()
    document.write(out)
    return out.getvalue().encode()


def test_what_a_copy_leaves_out_is_asked_about_shown_and_stays_in_the_record(bench, capsys):
    bench.plate("ARM", thickness="25 mm")
    bench.job.take_profile("ARM", "arm.dxf", annotated(), by="Mira")
    words = ("--job", bench.place, "mend", "--part", "ARM", "--by", "Mira")
    assert fitup(*words) == 2
    assert "--layer LINETYPE=bend" in capsys.readouterr().err
    assert fitup(*words, "--layer", "DASHED=bend") == 2
    assert "says “93” and measures 96.000" in capsys.readouterr().err
    assert fitup(*words, "--layer", "DASHED=bend", "--as-drawn") == 0
    assert "says “20 THK”" in capsys.readouterr().out
    taken = bench.job.part("ARM").taken
    assert len(taken.profile.bends) == 1
    assert {"dimension_differs", "drawing_words"} <= {f.code for f in taken.profile.findings}
    assert "words_differ" in {f.code for f in bench.job.verdicts(["ARM"])[0].warnings}
