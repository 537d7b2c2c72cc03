"""A template is printed at full size: read back from its pages, joined by their crosses, it is the part."""

from __future__ import annotations

import io
import math
import random
import sys
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

sys.path.append(str(Path(__file__).parent))
sys.path.append(str(Path(__file__).parents[1] / "packet"))

from pages_joined import CROSS_MM, joined
from sheet_samples import bent_part, pages, words

from ledger.domain.errors import BadInput
from ledger.domain.finding import Finding
from ledger.domain.shape import Contour, Hole, Profile
from ledger.papers.template import CAUTION, template
from ledger.papers.tiles import FOOT_MM, Sheets, laid_out, read_sheets, tiles

PAPERS = ("A4", "A3", "letter", "tabloid", "roll 610 mm", "roll 24 in")


def drawn(seed):
    """A plate of any size with holes that make no mirrored pattern, and its sheets."""
    lots = random.Random(seed)
    width, height = lots.uniform(30, 900), lots.uniform(30, 700)
    x, y = lots.uniform(-2000, 2000), lots.uniform(-2000, 2000)
    ring = Contour(tuple((x + a * width, y + b * height, 0.0) for a, b in ((0, 0), (1, 0), (1, 1), (0, 1))))
    holes = tuple(
        Hole(
            f"H{k + 1}",
            ((x + lots.uniform(0.1, 0.9) * width, y + lots.uniform(0.1, 0.9) * height),),
            lots.choice((3.4, 9.0, 13.5, 60.0)),
        )
        for k in range(5)
    )
    part = bent_part()
    profile = Profile(ring, holes=holes, outlines=(ring,))
    part = replace(part, number="PIER-CAP", taken=replace(part.taken, profile=profile), dimensions=())
    sheets = Sheets(lots.choice(PAPERS), lots.uniform(0, 20), lots.uniform(6, 30))
    return part, sheets


@pytest.mark.parametrize("seed", range(12))
def test_holes_and_outline_lie_on_the_joined_sheets_as_drawn(seed):
    part, sheets = drawn(seed)
    turned = bool(seed % 2)
    made = template(part, sheets, owner="Pier mount", turned_over=turned, many=True)
    holes, corners = joined(made.data, made.across, made.down)
    hand = -1 if turned else 1
    expected = [(hand * h.centre[0], h.centre[1], h.diameter_mm) for h in part.holes]
    assert {round(d, 2) for *_, d in holes} == {h.diameter_mm for h in part.holes}
    ring = part.profile.outline.vertices
    low = (min(x for x, _ in corners), min(y for _, y in corners))
    at = (min(hand * x for x, *_ in ring) - low[0], min(y for _, y, _ in ring) - low[1])
    for x, y, diameter in expected:
        found = [h for h in holes if math.dist((h[0] + at[0], h[1] + at[1]), (x, y)) < 0.1]
        assert found
        assert all(abs(h[2] - diameter) < 0.1 for h in found)
    for x, y, _ in ring:
        assert min(math.dist((c[0] + at[0], c[1] + at[1]), (hand * x, y)) for c in corners) < 0.1


@pytest.mark.parametrize("seed", range(40))
def test_windows_cover_what_is_printed_and_share_the_overlap(seed):
    lots = random.Random(seed)
    size = (lots.uniform(1, 3000), lots.uniform(1, 3000))
    sheets = Sheets(lots.choice(PAPERS), lots.uniform(0, 30), lots.uniform(6, 50))
    layout = laid_out((0.0, 0.0, *size), sheets)
    windows = list(layout.windows())
    assert len(windows) == layout.count
    assert min(w[0] for *_, w in windows) <= 1e-9
    assert max(w[2] for *_, w in windows) >= size[0] - 1e-9
    assert min(w[1] for *_, w in windows) <= 1e-9
    assert max(w[3] for *_, w in windows) >= size[1] - 1e-9
    by_place = {(r, c): w for r, c, w in windows}
    for (row, column), window in by_place.items():
        assert window[2] - window[0] == pytest.approx(layout.page_mm[0] - 2 * sheets.margin_mm)
        assert window[3] - window[1] == pytest.approx(layout.page_mm[1] - 2 * sheets.margin_mm - FOOT_MM)
        if right := by_place.get((row, column + 1)):
            assert window[2] - right[0] == pytest.approx(sheets.overlap_mm)
        if below := by_place.get((row + 1, column)):
            assert below[3] - window[1] == pytest.approx(sheets.overlap_mm)


def test_no_fewer_windows_would_cover_a_length():
    for size, window, lap in (
        (700, 190, 15),
        (365.0, 190, 15),
        (190, 190, 10),
        (190.1, 190, 10),
        (5, 190, 10),
    ):
        count = tiles(size, window, lap)
        assert count * window - (count - 1) * lap >= size - 1e-6
        assert count == 1 or (count - 1) * window - (count - 2) * lap < size


def test_both_bars_have_their_lengths_on_every_sheet():
    part, _ = drawn(3)
    made = template(part, Sheets("A4"), owner="Pier mount", many=True)
    for page in pages(made.data):
        start, level = None, []
        for values, op in page.get_contents().operations:
            if op == b"m":
                start = values
            elif op == b"l" and float(start[1]) == float(values[1]):
                level.append(abs(float(values[0]) - float(start[0])) * 25.4 / 72)
        assert any(abs(x - 100.0) < 0.01 for x in level)
        assert any(abs(x - 101.6) < 0.01 for x in level)
        assert CAUTION in " ".join(page.extract_text().split())


def test_a_viewer_is_asked_not_to_fit_it_to_the_page():
    made = template(drawn(1)[0], Sheets("A4"), owner="Pier mount", many=True)
    root = pypdf.PdfReader(io.BytesIO(made.data)).trailer["/Root"]
    assert root["/ViewerPreferences"]["/PrintScaling"] == "/None"


def test_every_hole_is_named_with_its_size_and_the_side_is_told():
    part, _ = drawn(5)
    front = words(template(part, Sheets("A3"), owner="", many=True).data)
    back = words(template(part, Sheets("A3"), owner="", many=True, turned_over=True).data)
    for hole in part.holes:
        assert f"{hole.label} Ø{hole.diameter_mm:.2f}" in front
        assert f"{hole.label} Ø{hole.diameter_mm:.2f}" in back
    assert "as drawn: the front faces you" in front
    assert "TURNED OVER: the back of the part faces you" in back
    assert "FLAT PATTERN, before bending" in words(template(bent_part(), Sheets("A3"), owner="").data)


def test_no_hole_is_taken_for_a_cross():
    assert all(h.diameter_mm != CROSS_MM for seed in range(12) for h in drawn(seed)[0].holes)


@pytest.mark.parametrize(
    ("paper", "margin", "overlap", "said"),
    [
        ("A9", "10 mm", "10 mm", "no paper 'A9'; known: A4, A3, letter, tabloid, or a roll"),
        ("roll", "10 mm", "10 mm", "no paper 'roll'"),
        ("roll 5 mm", "10 mm", "10 mm", "expected 200 to 1600 mm"),
        ("A4", "10", "10 mm", "has no unit"),
        ("A4", "31 mm", "10 mm", "as the margin; expected 0 to 30 mm"),
        ("A4", "10 mm", "2 mm", "as the overlap; expected 6 to 50 mm"),
    ],
)
def test_a_paper_that_is_none_is_refused_with_what_was_expected(paper, margin, overlap, said):
    with pytest.raises(BadInput, match=said):
        read_sheets(paper, margin, overlap)


def test_a_drawing_that_cannot_be_cut_is_not_printed_at_full_size():
    part = bent_part()
    wrong = replace(part.profile, findings=(Finding("unit_missing", "no unit", severity="stop"),))
    with pytest.raises(BadInput, match="cannot be cut as it stands"):
        template(replace(part, taken=replace(part.taken, profile=wrong)), Sheets(), owner="")
    with pytest.raises(BadInput, match="no drawing and no measured hole"):
        template(replace(part, taken=None), Sheets(), owner="")


def test_more_than_forty_sheets_are_asked_for():
    part = bent_part()
    ring = Contour(((0, 0, 0.0), (1500, 0, 0.0), (1500, 1400, 0.0), (0, 1400, 0.0)))
    large = replace(part, taken=replace(part.taken, profile=Profile(ring, outlines=(ring,))))
    with pytest.raises(BadInput, match=r"needs \d+ sheets of A4; expected at most 40.*sheets of A3.*--yes"):
        template(large, Sheets(), owner="")
    assert template(large, Sheets(), owner="", many=True).sheets > 40
    assert template(large, Sheets("A3"), owner="").sheets <= 40
