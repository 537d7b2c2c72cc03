"""Paper and pages by which a template is true: sides, their limits, the point, and what a bar read short means."""

from __future__ import annotations

import csv
import json
import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[1] / "packet"))

from sheet_samples import bent_part, lines_drawn, pages

from ledger.papers.template import template
from ledger.papers.tiles import Sheets, tiles
from ledger.standards.papers import sizes_mm

HERE = Path(__file__).parent


def expected(name):
    with (HERE / "published_rows.csv").open(encoding="utf-8", newline="") as lines:
        return json.loads(next(row["expected"] for row in csv.DictReader(lines) if row["id"] == name))


@pytest.mark.parametrize("name", ["A4", "A3"])
def test_sheets_of_the_a_series_are_those_of_iso_216(name):
    # ISO 216:2007, main A series.
    assert list(sizes_mm()[name]) == expected("PT-ISO216-A")[name]


@pytest.mark.parametrize(("name", "inches"), [("letter", (8.5, 11)), ("tabloid", (11, 17))])
def test_letter_and_tabloid_are_sizes_a_and_b(name, inches):
    # ASME Y14.1 sizes A and B (from memory).
    assert sizes_mm()[name] == pytest.approx([25.4 * side for side in inches])


@pytest.mark.parametrize("name", ["A4", "A3", "letter"])
def test_a_point_of_a_page_is_a_72nd_of_an_inch(name):
    # ISO 32000-1, 8.3.2.3: the unit of user space is 1/72 in.
    (page, *_) = pages(template(bent_part(), Sheets(name), owner="").data)
    size = sorted((float(page.mediabox.width), float(page.mediabox.height)))
    assert size == pytest.approx(expected("PT-POINTS")[name], abs=1e-3)
    mm_per_pt = expected("PT-POINTS")["mm_per_pt"]
    assert [side * mm_per_pt for side in size] == pytest.approx(sizes_mm()[name], abs=1e-3)


def test_what_fitting_to_the_page_does_to_a_template():
    # The smaller of the two ratios of sides; a pitch of 250 mm comes out 235.2 or 243.2.
    scales = expected("PT-FIT")
    for of, on in (("A4", "letter"), ("letter", "A4")):
        ratio = min(b / a for a, b in zip(sizes_mm()[of], sizes_mm()[on], strict=True))
        assert ratio == pytest.approx(scales[f"{of}_on_{on}"], abs=1e-6)


def test_a_bar_read_short_tells_the_scale_of_the_print():
    # Proportion: a bar of 100 mm that measures 97 mm makes a pitch of 250 mm 7.5 mm short.
    bar = max(
        abs(b[0] - a[0])
        for a, b in lines_drawn(template(bent_part(), Sheets("A4"), owner="").data)
        if a[1] == b[1] and abs(b[0] - a[0]) < 101
    )
    scale = 97.0 / bar
    assert scale == pytest.approx(expected("PT-SCALEBAR")["scale"], abs=1e-4)
    assert 250 * (scale - 1) == pytest.approx(expected("PT-SCALEBAR")["pitch_error"], abs=0.02)


def test_a_part_takes_so_many_windows_across_and_down():
    # 700 x 500 mm on windows of 190 x 277 mm (A4 less margins of 10 mm) that share 15 mm.
    assert [tiles(700, 190, 15), tiles(500, 277, 15)] == expected("PT-TILES")
