"""The vendor sheet says what the record says, to the scale it states, and nothing on it runs over anything."""

from __future__ import annotations

import math
import subprocess
import sys
from dataclasses import replace
from decimal import Decimal
from itertools import combinations

import pytest
from packet_samples import DXF, files_of, pier, plate, rectangle, taken
from sheet_samples import (
    ISSUE,
    PREVIEW,
    bent_part,
    dimension,
    lines_drawn,
    pages,
    points_drawn,
    printed,
    riddled,
    run_together,
    square_bend,
    words,
)

from ledger.domain.density import read_density
from ledger.domain.errors import BadInput
from ledger.domain.quantity import read_length
from ledger.domain.record import Operation
from ledger.domain.shape import Contour, Hole, Profile, Stroke
from ledger.packet.names import is_safe
from ledger.papers.figures import figures
from ledger.papers.lettering import width_mm
from ledger.papers.notes import vendor_notes
from ledger.papers.sheet import vendor_sheet
from ledger.papers.sheet_picture import NOT_TO_SCALE, scale_for
from ledger.words.counts import count_text, counted_text

NASTY = "<b>M8</b> &amp; [x4] \u202e\x1b[31m 漢字 " + "Wide" * 60
LONG = "A long title of a plate that goes between the pier and the turntable " * 8


def test_the_same_part_gives_the_same_bytes_in_another_process_too():
    code = (
        "import sys; sys.path[:0] = sys.argv[1:]; from sheet_samples import *; import hashlib;"
        "from ledger.papers.sheet import vendor_sheet; vendor_sheet(riddled(3), PREVIEW);"
        "print(hashlib.sha256(vendor_sheet(bent_part(), ISSUE)).hexdigest())"
    )
    said = [
        subprocess.run(
            [sys.executable, "-c", code, *sys.path],
            capture_output=True,
            text=True,
            check=True,
            env={"PYTHONHASHSEED": seed},
        ).stdout
        for seed in ("1", "2")
    ]
    assert said[0] == said[1]
    assert vendor_sheet(bent_part(), ISSUE) == vendor_sheet(bent_part(), ISSUE)


def test_the_text_of_the_page_is_what_the_record_says():
    said = words(vendor_sheet(bent_part(), ISSUE))
    for expected in (
        "Net profile: the finished size. The vendor compensates kerf.",
        "material S355",
        "thickness 1/2 in = 12.7 mm",
        "quantity 2",
        "process laser",
        "coating hot-dip zinc, 0.07 mm per face",
        "the face shown is the top face; do not turn over",
        "300 x 200 mm = 11.811 x 7.874 in",
        "width 300 mm +0.2/-0.1 mm 299.9 to 300.2; width",
        "tapped M16 1 x: H1",
        "grain direction none recorded",
        "bend lines 1, see drawing (layer BEND)",
        "bend B1 angles, directions, inside radii not recorded: ask",
        "marks, not cut 1 line on layer ETCH",
        "does not certify a structure",
        "licensed engineer",
        "legal owner Pier mount job",
        "title Pier plate",
        "identification number PL-101",
        "revision index A",
        "creator Mira Holm",
        "approval person Jonas Feld, checked",
        "date of issue 2026-03-02",
        f"fingerprint {ISSUE.subject}",
        f"journal seal before the lock {ISSUE.seal}",
    ):
        assert expected in said, expected


def test_the_sheet_says_how_each_bend_line_is_bent():
    stated = square_bend("B1", k_factor=Decimal("0.44"))
    said = words(vendor_sheet(bent_part(bends=(stated,)), ISSUE))
    assert "bend B1 90° up, inside R 3 mm, K 0.44" in said
    assert "not recorded: ask" not in said.partition("AFTER CUTTING")[2].partition("KEY DIMENSION")[0]
    bare = replace(stated, radius=None, k_factor=None)
    said = words(vendor_sheet(bent_part(bends=(bare,), thickness=read_length("3 mm")), ISSUE))
    assert "bend B1 90° up; assumed, not required: R 3.84 mm, K 0.407" in said
    notes = vendor_notes([bent_part(bends=(stated,))], {}).decode()
    assert "bend B1: 90° up, inside R 3 mm, K 0.44" in notes


def test_a_bend_line_has_its_label_on_the_picture_of_the_sheet():
    assert any(text == "B1" for *_, text in printed(vendor_sheet(bent_part(), ISSUE)))


def test_the_hole_table_has_every_hole_with_its_place_size_and_finish():
    said = words(vendor_sheet(bent_part(), ISSUE))
    for row in ("H1 30 30 Ø 14 tapped M16", "H3 270 170 Ø 14", "H5 150 100 slot 14 x 34"):
        assert row in said


def test_what_is_not_recorded_is_named_and_not_left_blank():
    said = words(vendor_sheet(plate(material="", quantity=None, thickness=None), ISSUE))
    for label in ("material", "thickness", "quantity"):
        assert f"{label} not recorded: ask" in said


def test_an_opposite_hand_names_its_twin():
    said = words(vendor_sheet(plate(hand="opposite", opposite_of="PL-102"), ISSUE))
    assert "opposite hand of PL-102" in said


def test_a_size_that_is_no_key_dimension_stands_in_brackets():
    drawn = {text for *_, text in printed(vendor_sheet(bent_part(), ISSUE))}
    assert {"300 mm +0.2/-0.1 mm", "(200)"} <= drawn


@pytest.mark.parametrize(
    ("written", "sizes"), [("min", ">= 300"), ("max", "<= 300"), ("±0.05", "299.95 to 300.05")]
)
def test_limits_are_also_given_as_sizes(written, sizes):
    said = words(vendor_sheet(bent_part(dimensions=(dimension(limits=written),)), ISSUE))
    assert sizes in said


@pytest.mark.parametrize(
    ("paper", "size"), [("A4", (40.0, 30.0)), ("letter", (40.0, 30.0)), ("A4", (900.0, 80.0))]
)
def test_the_scale_stated_is_the_scale_drawn(paper, size):
    ring = rectangle(*size)
    data = vendor_sheet(
        plate(taken=taken(Profile(ring, outlines=(ring,))), operations=()), ISSUE, paper=paper
    )
    stated = next(
        text for *_, text in printed(data) if ":" in text and text.replace(":", "").replace(".", "").isdigit()
    )
    on_paper, real = map(float, stated.split(":"))
    corners = points_drawn(data)[:5]
    assert math.dist(corners[0], corners[1]) == pytest.approx(size[0] * on_paper / real, abs=1e-3)
    assert math.dist(corners[1], corners[2]) == pytest.approx(size[1] * on_paper / real, abs=1e-3)


@pytest.mark.parametrize(
    ("size", "name"),
    [
        ((10.0, 10.0), "5:1"),
        ((100.0, 100.0), "1:1"),
        ((100.1, 10.0), "1:2"),
        ((10.0, 200.1), "1:2.5"),
        ((5000.0, 1.0), "1:50"),
        ((5000.1, 1.0), NOT_TO_SCALE),
        ((0.0, 30.0), "2:1"),
    ],
)
def test_the_scale_is_the_largest_that_fits(size, name):
    assert scale_for(size, (100.0, 100.0)).name == name


def test_a_plate_too_large_for_every_scale_is_said_not_to_be_to_scale():
    ring = rectangle(30000.0, 100.0)
    said = words(vendor_sheet(plate(taken=taken(Profile(ring, outlines=(ring,)))), ISSUE))
    assert "Scale not to scale" in said


def test_an_arc_is_drawn_as_an_arc():
    half = Contour(((-50.0, 0.0, 1.0), (50.0, 0.0, 1.0)))
    data = vendor_sheet(plate(taken=taken(Profile(half, outlines=(half,))), operations=()), ISSUE)
    points = points_drawn(data)[:9]
    xs, ys = zip(*points, strict=True)
    middle = ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)
    assert max(xs) - min(xs) == pytest.approx(100.0, abs=1e-3)
    assert [math.dist(middle, p) for p in points] == pytest.approx([50.0] * 9, abs=1e-3)


def test_words_are_never_markup_and_what_cannot_be_shown_is_an_escape():
    said = run_together(vendor_sheet(bent_part(title="<b>M8</b> & [/x]", number="PL\u202e漢"), ISSUE))
    assert "<b>M8</b>&[/x]" in said
    assert "PL\\u202e\\u6f22" in said


HOSTILE = {
    "as it should be": bent_part(),
    "hostile words": bent_part(title=NASTY, material=NASTY, coating=NASTY, process=NASTY, number="Q" * 64),
    "long words": bent_part(
        title=LONG, material=LONG, dimensions=tuple(dimension(name=f"{k} {LONG}") for k in range(9))
    ),
    "many dimensions": bent_part(dimensions=tuple(dimension(name=f"size {k}") for k in range(120))),
    "sixty holes": riddled(60),
    "two thousand holes": riddled(2000),
    "far away": plate(
        taken=taken(Profile(None, holes=(Hole("H1", ((-98765.432, -12345.678),), 1234.567),))),
        operations=(Operation("H1", "reamed", NASTY),),
    ),
}


@pytest.mark.parametrize("paper", ["A4", "letter"])
@pytest.mark.parametrize("name", HOSTILE)
def test_nothing_runs_off_the_page_or_over_other_words(name, paper):
    who = replace(ISSUE, owner=NASTY, creator=NASTY, approval=LONG) if "words" in name else ISSUE
    data = vendor_sheet(HOSTILE[name], who, paper=paper)
    for number, page in enumerate(pages(data)):
        boxes = list(boxes_of(page, printed(data, number)))
        assert len(boxes) > (40 if number == 0 else 1)
        for a, b in combinations(boxes, 2):
            apart = a[2] <= b[0] + 0.01 or b[2] <= a[0] + 0.01 or a[3] <= b[1] + 0.01 or b[3] <= a[1] + 0.01
            assert apart, (a[4], b[4])


def boxes_of(page, words):
    """Where the words of a page stand, each within its edges."""
    right = float(page.mediabox.width) * 25.4 / 72 - 10
    for x, y, size, bold, text in words:
        high = size * 0.72 * 25.4 / 72
        long = width_mm(text, size, bold=bold)
        if text in ("(200)", "(39)", "(480)", "(1234.567)"):
            continue  # the overall height, which stands upright
        assert x >= 10
        assert x + long <= right + 0.01, text
        assert y >= 10
        yield (x, y, x + long, y + high, text)


def test_a_grain_direction_stands_on_the_sheet():
    assert "grain direction along the long side" in words(
        vendor_sheet(bent_part(said=(("grain", "along the long side"),)), ISSUE)
    )


def test_key_dimensions_of_holes_are_drawn_with_their_limits():
    keys = (
        dimension(name="bolt", nominal="14 mm", limits="+0.2/-0", measured_on="diameter H1"),
        dimension(name="pitch", nominal="240 mm", limits="±0.3", measured_on="distance H1 H2"),
    )
    data = vendor_sheet(plate(dimensions=keys), ISSUE)
    placed = [((x, y), text) for x, y, *_, text in printed(data)]
    (beside,) = [place for place, text in placed if text == "Ø 14 mm +0.2/-0 mm"]
    assert min(math.dist(beside, place) for place, text in placed if text == "H1") < 12
    said = words(data)
    assert said.count("240 mm ±0.3 mm") == 2
    assert "in the table only" not in said


def test_key_dimensions_that_find_no_place_in_the_picture_are_counted():
    keys = tuple(
        dimension(name=f"pitch {k}", nominal="240 mm", measured_on="distance H1 H2") for k in range(40)
    )
    data = vendor_sheet(bent_part(dimensions=keys), ISSUE)
    shown = sum(1 for _, y, *_, text in printed(data, 0) if text == "240 mm +0.2/-0.1 mm" and y > 165)
    assert 1 <= shown <= 12
    assert "key dimensions are in the table only" in words(data)


def test_lines_between_holes_are_broken_where_words_and_holes_stand():
    """H2 to H4 runs through the slot H5 in the middle: no end of a piece lies within a hole."""
    keys = (dimension(name="diagonal", nominal="278 mm", measured_on="distance H2 H4"),)
    data = vendor_sheet(plate(dimensions=keys), ISSUE)
    assert "278 mm +0.2/-0.1 mm" in [text for *_, text in printed(data)]
    places = {text: (x, y) for x, y, size, _, text in printed(data) if size == 6.5 and text.startswith("H")}
    pieces = [line for line in lines_drawn(data) if line[0][0] != line[1][0] and line[0][1] != line[1][1]]
    long = [line for line in pieces if math.dist(*line) > 5]
    assert len(long) == 2
    for end in (end for line in long for end in line):
        assert min(math.dist(end, place) for place in places.values()) > 1.5


@pytest.mark.parametrize("count", [40, 200])
def test_every_key_dimension_and_all_work_after_cutting_stand_on_the_sheets(count):
    keys = tuple(dimension(name=f"size{k}") for k in range(count))
    said = words(vendor_sheet(bent_part(dimensions=keys), ISSUE))
    assert all(f"size{k} 300 mm +0.2/-0.1 mm 299.9 to 300.2; width" in said for k in range(count))
    assert "tapped M16 1 x: H1" in said


def test_a_thousand_tapped_holes_are_counted_and_do_not_push_the_rest_off():
    part = riddled(1000)
    part = replace(part, operations=tuple(Operation(h.label, "tapped", "M6") for h in part.holes))
    said = words(vendor_sheet(replace(part, dimensions=(dimension(),)), ISSUE))
    assert "tapped M6 1000 x: H1, H2" in said
    assert "and 970 more: see notes.txt" in said
    assert "width 300 mm" in said


def test_streams_are_kept_as_bytes_and_small():
    data = vendor_sheet(riddled(2000), ISSUE)
    assert b"ASCII85" not in data
    assert len(data) < 300_000


@pytest.mark.parametrize("count", [60, 130, 2000])
def test_every_hole_stands_once_on_the_sheets_under_a_head(count):
    data = vendor_sheet(riddled(count), ISSUE)
    said = words(data)
    for k in range(count):
        assert said.count(f" H{k + 1} {10 + 9 * (k % 40)} {10 + 9 * (k // 40)} Ø 5") == 1, k
    first, *further = pages(data)
    assert f"1/{len(further) + 1}" in first.extract_text()
    for number, page in enumerate(further, start=2):
        text = " ".join(page.extract_text().split())
        assert "hole x y size after" in text
        assert f"sheet {number} of {len(further) + 1}" in text
        assert ISSUE.subject in text
    if further:
        assert "more: see the next sheet" in said


def test_a_further_sheet_of_a_preview_says_so_too():
    for page in pages(vendor_sheet(riddled(300), PREVIEW)):
        assert "do not cut" in page.extract_text()
        assert "PREVIEW" in page.extract_text()


def test_long_lists_give_the_same_bytes_again():
    assert vendor_sheet(riddled(300), ISSUE) == vendor_sheet(riddled(300), ISSUE)


def test_a_preview_says_so_and_a_released_sheet_does_not():
    assert "do not cut" in words(vendor_sheet(bent_part(), PREVIEW))
    assert "PREVIEW" in [text for *_, text in printed(vendor_sheet(bent_part(), PREVIEW))]
    assert "PREVIEW" not in words(vendor_sheet(bent_part(), ISSUE))


def test_a_part_without_a_drawing_has_no_sheet():
    with pytest.raises(BadInput, match="no drawing"):
        vendor_sheet(pier(), ISSUE)


def test_a_paper_that_is_not_known_is_refused():
    with pytest.raises(BadInput, match="A4, letter"):
        vendor_sheet(bent_part(), ISSUE, paper="A3")


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_a_profile_that_is_not_finite_is_refused(bad):
    hole = Hole("H1", ((bad, 10.0),), 5.0)
    mark = Stroke(((0.0, 0.0, 0.0), (bad, 10.0, 0.0)), "ETCH")
    ring = rectangle(50.0, 50.0)
    for wrong in (
        Profile(ring, holes=(hole,), outlines=(ring,)),
        Profile(ring, outlines=(ring,), marks=(mark,)),
    ):
        with pytest.raises(BadInput, match="number"):
            vendor_sheet(plate(taken=taken(wrong), operations=()), ISSUE)


def test_a_drawing_of_marks_alone_has_a_preview_without_sizes():
    mark = Stroke(((0.0, 0.0, 0.0), (80.0, 40.0, 0.0)), "ETCH")
    part = plate(taken=taken(Profile(None, marks=(mark,))), operations=())
    said = words(vendor_sheet(part, PREVIEW))
    assert "PREVIEW" in said
    assert "overall size not recorded: ask" in said
    (first, *_) = lines_drawn(vendor_sheet(part, PREVIEW))
    assert math.dist(*first) == pytest.approx(2 * math.hypot(80.0, 40.0), abs=0.01)  # to 2:1
    assert "  overall   " not in vendor_notes([part], {}).decode()
    assert "  overall   " in vendor_notes([plate()], {}).decode()


def test_what_was_counted_stands_with_its_count_and_a_stated_density_as_stated():
    part = plate(
        per_assembly=4, assemblies=3, spares=2, quantity=14, density=read_density("7.85 g/cm3"), material=""
    )
    notes = vendor_notes([part], {"PL-101": "a.dxf"}).decode()
    for said in (words(vendor_sheet(part, ISSUE)), notes):
        assert "14: 4 x 3 assemblies + 2 spare" in said
    one = replace(part, assemblies=1, spares=0, quantity=4)
    assert "4: 4 x 1 assembly" in words(vendor_sheet(one, ISSUE))
    known = figures(part)
    assert (known.density_kg_m3, known.density_source) == (Decimal(7850), "as entered")
    assert known.mass_kg == pytest.approx(known.area_mm2 * 12 * 7850e-9)


def test_a_part_without_a_quantity_has_no_count():
    assert count_text(plate(quantity=None)) == ""
    assert counted_text(plate()) == ""


def test_the_sheets_join_the_packet_under_names_that_may_leave():
    sheet = vendor_sheet(plate(), ISSUE)
    files = files_of([plate(), pier()], {"PL-101": DXF}, sheets={"PL-101": sheet})
    assert files["sheets/PL-101-A.pdf"] == sheet
    assert all(is_safe(name) for name in files)


def test_a_sheet_for_a_part_without_a_drawing_is_refused():
    with pytest.raises(BadInput, match="PIER-1"):
        files_of([plate(), pier()], {"PL-101": DXF}, sheets={"PIER-1": b""})


@pytest.mark.parametrize(
    "name", ["sheets/", "sheets/../a.pdf", "sheets/a/b.pdf", "sheets/con.pdf", "sheet/a.pdf"]
)
def test_no_other_name_may_leave_in_the_folder_of_sheets(name):
    assert not is_safe(name)
