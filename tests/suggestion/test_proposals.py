"""Connections are proposed from holes alone: planted ones are found, chance and versions are not, repeats are asked."""

from __future__ import annotations

import random
import time
from dataclasses import replace

import numpy as np
import pytest
from many_cases import hold, many_cases
from planted_plates import SPOKEN, apart, folder, moved, plate, rim

from ledger.domain.shape import Contour
from ledger.suggestion.index import MOST_HOLES, sharing
from ledger.suggestion.proposals import proposals
from ledger.suggestion.words import choices, headline, reasons

PATTERN = (0j, 60 + 0j, 60 + 35j, 10 + 41j, -12 + 20j)


def proposed(plates):
    return [p for p in proposals(plates) if p.proposed]


def on(pattern, size, at=100 + 80j):
    return [(z + at, size) for z in pattern]


def planted_are_found(seed):
    plates, planted = folder(seed)
    found = {frozenset((p.a, p.b)): p for p in proposals(plates) if p.proposed or p.versions}
    alike = [made for made in found.values() if made.versions]
    for one in planted:
        made = found.pop(frozenset((one.a, one.b)), None)
        assert made is not None, one
        if made in alike:  # two plates that happen to be of one size, with no other holes
            continue
        assert (made.fastener, made.joint) == (one.fastener, one.joint)
        assert made.agreeing >= one.holes
        assert [c.turned_over for c in made.choices] == [one.turned_over]
        assert made.margin_mm > 0
        if one.joint == "tapped":
            assert (made.a, made.b) == (one.a, one.b)  # the clearance holes lie on the tapped ones
    return "false" if found else "versions" if alike else ""


@many_cases(suite=100, bench=1_000)
def test_planted_connections_are_found_and_hardly_anything_else(seeds):
    hold(planted_are_found, seeds, false=0.02, versions=0.02)


@pytest.mark.parametrize(("size_a", "size_b", "fastener", "joint"), SPOKEN)
@pytest.mark.parametrize("swapped", [False, True])
def test_the_sizes_say_the_fastener_and_which_plate_is_tapped(size_a, size_b, fastener, joint, swapped):
    plates = [plate("A", on(PATTERN, size_a)), plate("B", on(PATTERN, size_b), 400)]
    (found,) = proposed(plates[::-1] if swapped else plates)
    assert (found.fastener, found.joint) == (fastener, joint)
    assert (found.a, found.b) == ("A", "B")


def test_sizes_that_no_fastener_joins_are_not_proposed():
    assert proposals([plate("A", on(PATTERN, 6.6)), plate("B", on(PATTERN, 13.5), 400)]) == ()


def test_a_mirrored_pattern_is_turned_over_and_a_symmetric_one_is_not():
    rng = random.Random(5)
    square = (0j, 50 + 0j, 50 + 50j, 50j)
    for pattern, turned_over in ((PATTERN, True), (square, False)):
        laid = moved(list(pattern), rng, turned_over=True)
        (found,) = proposed([plate("A", on(pattern, 9.0)), plate("B", on(laid, 9.0, 200 + 100j), 400)])
        assert [c.turned_over for c in found.choices] == [turned_over]
        assert ("A turned over" in headline(found)) == turned_over


def test_a_pattern_that_repeats_is_asked_and_not_guessed():
    four = [z for k in range(4) for z, _ in on(PATTERN, 9.0, 50 + 60j + 110 * k)]
    (found,) = proposed([plate("FOOT", on(PATTERN, 9.0), 150), plate("RAIL", [(z, 9.0) for z in four], 500)])
    assert (found.a, found.b, len(found.choices)) == ("FOOT", "RAIL", 4)
    sets = [frozenset(c.holes_b) for c in found.choices]
    assert len(frozenset.union(*sets)) == 4 * len(PATTERN)
    assert [line[:2] for line in choices(found)] == ["a:", "b:", "c:", "d:"]


def test_another_hole_that_meets_tells_which_of_two_is_meant():
    two = [(z, 9.0) for k in range(2) for z, _ in on(PATTERN, 9.0, 60 + 60j + 130 * k)]
    pins = [60 + 60j + 30 + 12j, 60 + 60j + 20 + 25j]
    a = [*on(PATTERN, 9.0, 60 + 60j), *((z, 6.0) for z in pins)]
    (found,) = proposed([plate("A", a, 150), plate("B", [*two, *((z, 6.0) for z in pins)], 500)])
    assert len(found.choices) == 1
    assert found.also == 2


def test_a_hole_at_a_wrong_place_is_taken_in_and_told():
    wrong = [*PATTERN[:4], PATTERN[4] + 3]
    (found,) = proposed([plate("ARM", on(PATTERN, 9.0)), plate("BASE", on(wrong, 9.0), 400)])
    assert (found.agreeing, len(found.choices[0].holes_a)) == (4, 5)
    assert found.margin_mm < 0
    said = "\n".join(reasons(found))
    assert "H5 of ARM is 3.00 mm off H5 of BASE" in said
    assert "M8 does not pass as drawn" in said


def test_holes_left_out_on_both_plates_are_told():
    a, b = [*on(PATTERN, 9.0), (20 + 20j, 9.0)], [*on(PATTERN, 9.0), (350 + 20j, 9.0)]
    (found,) = proposed([plate("ARM", a), plate("BASE", b, 400)])
    assert "left out on both: 1 hole of ARM and 1 hole of BASE of these sizes" in "\n".join(reasons(found))


def test_too_many_ways_are_counted():
    row = [(complex(20 * k, 7 * (k % 2)), 9.0) for k in range(40)]
    (found,) = proposed([plate("A", row[:8]), plate("B", row, 900)])
    assert found.more_choices > 0
    assert len(found.choices) == 12


def test_two_versions_of_a_part_are_told_and_not_proposed():
    holes = [*on(PATTERN, 9.0), (250 + 150j, 20.0)]
    (found,) = proposals([plate("ARM", holes), plate("ARM-new", [(z + 3, d) for z, d in holes[:-1]], 303)])
    assert (found.proposed, found.sure) == (False, "versions")
    assert "two versions of one part?" in headline(found)


def test_two_plates_of_one_rim_with_other_openings_are_proposed():
    opening = Contour(((120.0, 30.0, 0.0), (280.0, 30.0, 0.0), (280.0, 190.0, 0.0), (120.0, 190.0, 0.0)))
    holes = on(PATTERN, 9.0, 20 + 60j)
    assert [p.sure for p in proposals([plate("TOP", holes), plate("COVER", holes, openings=(opening,))])] == [
        "very likely"
    ]


def test_the_words_say_what_and_why():
    (found,) = proposed(
        [plate("ARM", on(PATTERN, 11.0)), plate("BASE", [*on(PATTERN, 8.5), (9 + 9j, 8.5)], 400)]
    )
    assert headline(found) == "ARM on BASE: M10 tapped, 5 holes; very likely"
    said = "\n".join(reasons(found))
    assert "all 5 holes of 11.00 mm in ARM meet 5 of 6 holes of 8.50 mm in BASE" in said
    assert "margin 0.500 mm nominal" in said
    assert "--as tapped --thread M10" in said


HOSTILE = {
    "no holes": [],
    "one place": [(50 + 50j, 9.0)] * 6,
    "in a row": [(complex(10 + 10 * k, 20), 9.0) for k in range(20)],
    "perforated": [(complex(8 * (k % 30), 8 * (k // 30)), 6.6) for k in range(MOST_HOLES + 40)],
    "a grid": [(complex(10 * (k % 12), 10 * (k // 12)), 6.6) for k in range(120)],
    "far away": [(z + 9e5, 9.0) for z in PATTERN],
    "bores": [(z, 80.0) for z in PATTERN],
}


@pytest.mark.parametrize("one", HOSTILE)
def test_plates_of_any_kind_are_answered_in_time(one):
    began = time.process_time()
    plates = [plate(f"{one} {k}", HOSTILE[name], 900, 900) for k, name in enumerate([one, *HOSTILE])]
    found = proposals(plates)
    assert all(len(c.holes_a) == len(set(c.holes_a)) for p in found for c in p.choices)
    assert time.process_time() - began < 20


def test_names_and_order_of_plates_change_nothing():
    plates, _ = folder(3)
    once = {frozenset((p.a, p.b)): p.agreeing for p in proposed(plates)}
    again = {frozenset((p.a, p.b)): p.agreeing for p in proposed(plates[::-1])}
    assert once == again


def test_patterns_that_share_triangles_are_all_listed():
    rng = random.Random(1)
    patterns = [apart(rng, 9, 300, 300) for _ in range(12)]
    patterns[7][:4] = [z + 500 for z in patterns[2][:4]]
    found = {(a, b): n for a, b, n in sharing([np.array(p) for p in patterns])}
    assert found[2, 7] >= 4
    assert len(found) < 8


def test_a_large_pattern_still_finds_a_small_one():
    rng = random.Random(2)
    many = apart(rng, 150, 1500, 1500)
    (found,) = proposed(
        [
            plate("FOOT", [(z, 9.0) for z in many[:10]], 800),
            plate("BED", [(z, 9.0) for z in many], 1500, 1500),
        ]
    )
    assert found.agreeing == 10


def test_a_rim_is_needed_for_no_proposal():
    bare = [plate("A", on(PATTERN, 9.0)), plate("B", on(PATTERN, 9.0), 400)]
    none = [replace(p, profile=replace(p.profile, outline=None, outlines=())) for p in bare]
    assert len(proposed(none)) == 1


def test_holes_of_two_plates_on_one_sheet_are_no_pattern():
    sheet = plate("SHEET", on(PATTERN[:4], 9.0, 100 + 80j))
    other = rim(130.0, 200.0)  # two of the holes lie in it
    cut = replace(sheet, profile=replace(sheet.profile, outlines=(*sheet.profile.outlines, other)))
    assert proposed([plate("A", on(PATTERN[:4], 9.0), 400), cut]) == []
    assert len(proposed([plate("A", on(PATTERN[:4], 9.0), 400), sheet])) == 1
