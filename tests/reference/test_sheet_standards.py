"""The sheet against standards that people outside go by."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[1] / "packet"))

import segno
from sheet_samples import ISSUE, bent_part, blacks_drawn, pages, printed

from ledger.papers.sheet import vendor_sheet
from ledger.papers.sheet_picture import SCALES
from ledger.papers.title_block import code_words


def test_the_title_block_has_the_mandatory_fields_of_iso_7200():
    # ISO 7200:2004, data fields in title blocks: mandatory ones (from memory).
    captions = {text for *_, text in printed(vendor_sheet(bent_part(), ISSUE))}
    assert captions >= {
        "legal owner",
        "identification number",
        "date of issue",
        "sheet",
        "title",
        "approval person",
        "creator",
        "document type",
    }


def test_every_scale_but_one_is_of_iso_5455():
    # ISO 5455:1979 table (from memory). 1:2.5 is common practice in workshops.
    recommended = [
        "50:1",
        "20:1",
        "10:1",
        "5:1",
        "2:1",
        "1:1",
        "1:2",
        "1:5",
        "1:10",
        "1:20",
        "1:50",
        "1:100",
        "1:200",
        "1:500",
        "1:1000",
    ]
    assert [name for name, _ in SCALES if name not in recommended] == ["1:2.5"]
    for name, factor in SCALES:
        on_paper, real = map(float, name.split(":"))
        assert factor == pytest.approx(on_paper / real)


@pytest.mark.parametrize(("paper", "mm"), [("A4", (210, 297)), ("letter", (8.5 * 25.4, 11 * 25.4))])
def test_the_page_has_the_size_of_its_paper(paper, mm):
    # A4: ISO 216 (from memory). Letter: 8.5 x 11 in (ANSI size A, from memory).
    (page,) = pages(vendor_sheet(bent_part(), ISSUE, paper=paper))
    size = (float(page.mediabox.width) * 25.4 / 72, float(page.mediabox.height) * 25.4 / 72)
    assert size == pytest.approx(mm, abs=0.01)


def test_the_code_on_the_page_is_the_one_made_from_number_revision_and_fingerprint():
    # ISO/IEC 18004 (from memory): three finder patterns of 7 modules, four light modules around the whole.
    expected = [
        list(row) for row in segno.make(code_words(bent_part(), ISSUE.subject), error="m", micro=False).matrix
    ]
    runs = [box for box in blacks_drawn(vendor_sheet(bent_part(), ISSUE)) if box[3] < 1.5]
    step = runs[0][3]
    left, top = min(x for x, *_ in runs), max(y + h for _, y, _, h in runs)
    seen = [[0] * len(expected) for _ in expected]
    for x, y, wide, high in runs:
        for k in range(round(wide / step)):
            seen[round((top - y - high) / step)][round((x - left) / step) + k] = 1
    assert seen == expected
    finder = [[1] * 7, [1, 0, 0, 0, 0, 0, 1]]
    assert [row[:7] for row in seen[:2]] == finder
    assert [row[-7:] for row in seen[:2]] == finder
    assert [row[:7] for row in seen[-1:-3:-1]] == finder
    assert left - 10 >= 4 * step
