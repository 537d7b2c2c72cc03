"""Where no fastener is named, the sizes of the holes of both files say which ones they are for."""

from __future__ import annotations

from io import StringIO

import ezdxf
import pytest

from ledger.cli.show import show_comparison
from ledger.comparison.advice import Advice
from ledger.comparison.look import look
from ledger.comparison.rows import comparison_to_json
from ledger.comparison.two_files import compare
from ledger.domain.errors import BadInput
from ledger.standards.clearance_holes import clearance_holes
from ledger.standards.fasteners import fastener
from ledger.standards.spoken_sizes import FIRST_CHOICE, spoken

PLACES = [(0.0, 0.0), (120.0, 0.0), (110.0, 70.0), (0.0, 80.0)]
INNER = [(30.0, 20.0), (90.0, 25.0), (60.0, 55.0)]


def drawing(holes):
    doc = ezdxf.new()
    doc.units = ezdxf.units.MM
    space = doc.modelspace()
    space.add_lwpolyline([(-30, -30), (150, -30), (150, 110), (-30, 110)], close=True)
    for at, size in holes:
        space.add_circle(at, size / 2)
    text = StringIO()
    doc.write(text)
    return look("plate.dxf", text.getvalue().encode())


def plates(outer, inner):
    """Two plates with holes of these sizes (A, B) at the outer and at the inner places."""
    return [drawing([*((p, outer[k]) for p in PLACES), *((p, inner[k]) for p in INNER)]) for k in (0, 1)]


def test_two_sizes_through_are_one_fit_and_said_in_the_first_line():
    found = compare(*plates((13.5, 13.5), (6.6, 6.6)))
    assert found.ruling.verdict == "GO"
    assert (found.fastener, found.also) == ("M12", ("M6 through",))
    assert (
        "assumed from the hole sizes: M12 through (4 on 4 holes), M6 through (3 on 3 holes)" in found.headline
    )
    assert len(found.fit.pairs) == 7
    assert comparison_to_json(Advice(found))["assumed"] == found.assumed


def test_a_clearance_hole_on_a_tap_drill_is_tapped():
    found = compare(*plates((11.0, 8.5), (6.6, 5.0)))
    assert (found.fastener, found.joint, found.also) == ("M10", "tapped", ("M6 tapped",))
    assert found.ruling.verdict == "GO"


def test_nothing_that_fits_is_refused_with_what_was_read():
    with pytest.raises(BadInput, match=r"read .*47.* mm in A .*--fastener"):
        compare(*plates((47.0, 47.0), (48.0, 49.0)))


def test_a_second_fastener_can_be_stated():
    a, b = plates((13.5, 13.5), (6.6, 6.6))
    inner = [",".join(h.label for h in x.profile.holes if h.diameter_mm < 10) for x in (a, b)]
    found = compare(a, b, fastener="M12", also=(f"M6 through {inner[0]} on {inner[1]}",))
    assert (len(found.fit.pairs), found.assumed) == (7, "")
    with pytest.raises(BadInput, match="as a hole of A"):
        compare(a, b, fastener="M12", also=("M6 through H99 on H1",))


def stated(a, b, size, among):
    """A further fastener for the holes of both files of a diameter below this."""
    labels = [",".join(h.label for h in x.profile.holes if h.diameter_mm < among) for x in (a, b)]
    return (f"{size} through {labels[0]} on {labels[1]}",)


@pytest.mark.parametrize(("many", "few"), [("M6", "M12"), ("M8", "M16"), ("M5", "M20"), ("M12", "M6")])
def test_under_each_head_lies_the_washer_of_its_own_fastener(many, few):
    """The first fastener is that of the most holes, not the largest: the washers of the others are wider."""
    sizes = [clearance_holes()[s].medium_mm for s in (many, few)]
    found = compare(*plates((sizes[0], sizes[0]), (sizes[1], sizes[1])))
    assert (found.fastener, found.also) == (many, (f"{few} through",))
    assert (found.falls_through, found.ruling.verdict) == ((), "GO")


@pytest.mark.parametrize("first", [True, False])
def test_a_washer_that_falls_through_is_told_of_whichever_fastener(first):
    a, b = plates((13.5, 13.5), (12.8, 12.8))
    one, other = ("M6", "M12") if first else ("M12", "M6")
    beside = stated(a, b, other, 20.0)[0].split(" through ")[1]
    small = {h.label for h in a.profile.holes if h.diameter_mm < 13}
    holes = [x for x in beside.split(" on ")[0].split(",") if (x in small) is not first]
    also = f"{other} through {','.join(holes)} on {','.join(holes)}"
    found = compare(a, b, fastener=one, also=(also,))
    told = {text.partition(" of ")[0] for text in found.falls_through}
    assert told == small
    assert all("the M6 washer 12.00 mm" in text for text in found.falls_through)
    assert found.ruling.verdict == "NO-GO"


def moved(by, outer, inner):
    """Two plates of which the last inner hole of B is moved along x."""
    places = [INNER, [*INNER[:2], (INNER[2][0] + by, INNER[2][1])]]
    return [drawing([*((p, outer) for p in PLACES), *((p, inner) for p in at)]) for at in places]


@pytest.mark.parametrize(("outer", "inner", "named"), [(13.5, 6.6, "7 mm"), (6.6, 13.5, "14.5 mm")])
def test_what_would_help_is_looked_for_at_the_fastener_that_is_wrong(outer, inner, named):
    found = compare(*moved(1.8 if inner < outer else 2.8, outer, inner))
    assert len(found.fit.wrong) == 1
    told = " ".join(Advice(found).whole())
    assert f"coarse clearance holes ({named}) would fix it" in told
    assert "a slot would fix it" in told


def test_the_next_size_for_the_odds_is_named_for_each_fastener():
    found = compare(*moved(1.0, 13.5, 6.6))
    assert found.ruling.basis == "odds"
    assert "the next standard sizes are 7 mm (coarse), 14.5 mm (coarse)" in Advice(found).larger_holes()


def test_a_hole_that_is_too_small_is_told_with_its_own_fastener(capsys):
    a, b = plates((13.5, 13.5), (5.5, 5.5))
    show_comparison(Advice(compare(a, b, fastener="M12", also=stated(a, b, "M6", 10.0))))
    told = capsys.readouterr().out
    assert "of A is 5.500 mm" in told
    assert "M6 needs at least" in told
    assert "M12 needs" not in told


@pytest.mark.parametrize("size", sorted(FIRST_CHOICE))
def test_every_size_is_read_from_its_own_medium_hole_and_drill(size):
    medium, drill = clearance_holes()[size].medium_mm, fastener(size).tap_drill_mm
    assert [(s.fastener, s.joint) for s in spoken({"H1": medium}, {"H1": medium})] == [(size, "through")]
    first = spoken({"H1": medium, "H2": medium}, {"H1": drill, "H2": drill})[0]
    assert (first.fastener, first.joint) == (size, "tapped")
