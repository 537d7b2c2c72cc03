"""
Bolts, washers and drills against the data files of bd-warehouse 0.4.0 (Apache-2.0), and handbooks beside them.

The figures are copied from the wheel's `bd_warehouse/data/*.csv`, named at each table. Two traps of those files are
asserted as such: its clearance holes of M12, M14 and M16 are those of an older British standard, and its washers are
given with their greatest thickness.
"""

from __future__ import annotations

import math

import pytest

from ledger.standards.clearance_holes import clearance_hole
from ledger.standards.fasteners import fastener, fasteners
from ledger.standards.hardware import hardware

# hex_head_parameters.csv iso4014 s, k; hex_nut_parameters.csv iso4032 m (its s is that of the head);
# plain_washer_parameters.csv iso7089 d1, d2, h (the greatest).
# Head heights are nominal (ISO 4014, from memory): the file has 1.3, 1.6, 1.9 and 21.42 for M1.6, M2, M2.5 and M33.
ISO = {
    "M1.6": (3.2, 1.1, 1.3, 1.7, 4.0, 0.35),
    "M2": (4.0, 1.4, 1.6, 2.2, 5.0, 0.35),
    "M2.5": (5.0, 1.7, 2.0, 2.7, 6.0, 0.55),
    "M3": (5.5, 2.0, 2.4, 3.2, 7.0, 0.55),
    "M4": (7.0, 2.8, 3.2, 4.3, 9.0, 0.9),
    "M5": (8.0, 3.5, 4.7, 5.3, 10.0, 1.1),
    "M6": (10.0, 4.0, 5.2, 6.4, 12.0, 1.8),
    "M8": (13.0, 5.3, 6.8, 8.4, 16.0, 1.8),
    "M10": (16.0, 6.4, 8.4, 10.5, 20.0, 2.2),
    "M12": (18.0, 7.5, 10.8, 13.0, 24.0, 2.7),
    "M14": (21.0, 8.8, 12.8, 15.0, 28.0, 2.7),
    "M16": (24.0, 10.0, 14.8, 17.0, 30.0, 3.3),
    "M18": (27.0, 11.5, 15.8, 19.0, 34.0, 3.3),
    "M20": (30.0, 12.5, 18.0, 21.0, 37.0, 3.3),
    "M22": (34.0, 14.0, 19.4, 23.0, 39.0, 3.3),
    "M24": (36.0, 15.0, 21.5, 25.0, 44.0, 4.3),
    "M27": (41.0, 17.0, 23.8, 28.0, 50.0, 4.3),
    "M30": (46.0, 18.7, 25.6, 31.0, 56.0, 4.3),
    "M33": (50.0, 21.0, 28.7, 34.0, 60.0, 5.6),
    "M36": (55.0, 22.5, 31.0, 37.0, 66.0, 5.6),
}
# socket_head_cap_parameters.csv iso4762 dk, k
SOCKET_HEADS = {
    "M3": (5.68, 3.0), "M4": (7.22, 4.0), "M5": (8.72, 5.0), "M6": (10.22, 6.0), "M8": (13.27, 8.0),
    "M10": (16.27, 10.0), "M12": (18.27, 12.0), "M16": (24.33, 16.0), "M20": (30.33, 20.0), "M24": (36.39, 24.0),
}  # fmt: skip
# Machinery's Handbook 31st ed. p. 1734: hexagon nuts style 1, greatest height; M14 of that page.
NUTS_IN_THE_HANDBOOK = {
    "M3": 2.4,
    "M4": 3.2,
    "M6": 5.2,
    "M8": 6.8,
    "M12": 10.8,
    "M14": 12.8,
    "M20": 18,
    "M24": 21.5,
}
# Machinery's Handbook 31st ed. p. 1694: type A narrow washers, greatest thickness, inches.
TYPE_A_THICKNESS = {"1/4": 0.080, "3/8": 0.080, "1/2": 0.121}
# Across flats of the older DIN 931 and 934, which web tables of room for spanners still use: bd-warehouse, din931 s.
OLD_ACROSS_FLATS = {"M10": 17, "M12": 19, "M14": 22, "M22": 32}
# clearance_hole_sizes.csv, metric: close, normal, loose; without M12, M14, M16 (see SUPERSEDED in the table of holes).
CLEARANCE = {
    "M1.6": (1.7, 1.8, 2.0), "M2": (2.2, 2.4, 2.6), "M2.5": (2.7, 2.9, 3.1), "M4": (4.3, 4.5, 4.8),
    "M8": (8.4, 9.0, 10.0), "M20": (21, 22, 24), "M27": (28, 30, 32), "M30": (31, 33, 35), "M36": (37, 39, 42),
}  # fmt: skip
# clearance_hole_sizes.csv, inch: close, normal, loose.
CLEARANCE_DRILLS = {
    "#4": ("#31", "#30", "#27"), "#6": ("#23", "#18", "#13"), "#8": ("#15", "#9", "#3"), "#10": ("#5", "#2", "B"),
    "5/16": ("21/64", "11/32", "23/64"), "1/2": ("17/32", "9/16", "39/64"), "3/4": ("25/32", "13/16", "29/32"),
}  # fmt: skip
# tap_hole_sizes.csv, soft material. It has 10.3, 12.1 and 18.5 mm for M12, M14 and M22: see below.
TAP_DRILLS = {
    "M1.6": 1.25, "M2": 1.6, "M2.5": 2.05, "M3": 2.5, "M4": 3.3, "M5": 4.2, "M6": 5.0, "M8": 6.8, "M8x1": 7.0,
    "M10": 8.5, "M10x1.25": 8.8, "M10x1": 9.0, "M12x1.5": 10.5, "M12x1.25": 10.8, "M14x1.5": 12.5, "M16": 14.0,
    "M16x1.5": 14.5, "M18": 15.5, "M18x1.5": 16.5, "M20": 17.5,
}  # fmt: skip
TAP_DRILLS_BY_NAME = {
    "#4-40": "#43", "#5-40": "#38", "#6-32": "#36", "#8-32": "#29", "#10-24": "#25", "#10-32": "#21", "#12-24": "#16",
    "1/4-20": "#7", "1/4-28": "#3", "5/16-18": "F", "5/16-24": "I", "3/8-16": "5/16", "3/8-24": "Q", "7/16-14": "U",
    "1/2-13": "27/64", "1/2-20": "29/64", "9/16-12": "31/64", "5/8-11": "17/32", "5/8-18": "37/64", "3/4-10": "21/32",
    "3/4-16": "11/16", "7/8-9": "49/64", "1-8": "7/8",
}  # fmt: skip
# drill_sizes.csv, inches.
DRILLS = {
    "#43": 0.089,
    "#36": 0.106,
    "#29": 0.136,
    "#25": 0.149,
    "#21": 0.159,
    "#7": 0.201,
    "F": 0.257,
    "I": 0.272,
}


@pytest.mark.parametrize("size", ISO)
def test_heads_nuts_and_washers(size):
    found = hardware(size)
    said = (found.across_flats_mm, found.head_height_mm, found.nut_height_mm)
    assert (*said, found.washer_hole_mm, found.washer_mm, found.washer_thickness_mm) == ISO[size]


@pytest.mark.parametrize("size", SOCKET_HEADS)
def test_socket_heads(size):
    found = hardware(size)
    assert (found.socket_head_mm, found.socket_height_mm) == SOCKET_HEADS[size]


@pytest.mark.parametrize("size", NUTS_IN_THE_HANDBOOK)
def test_nuts_of_the_handbook(size):
    assert hardware(size).nut_height_mm == NUTS_IN_THE_HANDBOOK[size]


@pytest.mark.parametrize("size", TYPE_A_THICKNESS)
def test_inch_washers_are_given_with_their_greatest_thickness(size):
    assert hardware(size).washer_thickness_mm / 25.4 == pytest.approx(TYPE_A_THICKNESS[size], abs=1e-6)


def test_a_metric_washer_is_given_with_its_greatest_thickness_not_its_nominal_one():
    assert hardware("M12").washer_thickness_mm == 2.7  # nominal 2.5: ISO 7089, in part from memory


@pytest.mark.parametrize("size", OLD_ACROSS_FLATS)
def test_hexagons_are_not_the_older_ones(size):
    assert hardware(size).across_flats_mm != OLD_ACROSS_FLATS[size]
    assert hardware(size).across_corners_mm == pytest.approx(
        hardware(size).across_flats_mm * 2 / math.sqrt(3)
    )


@pytest.mark.parametrize("size", CLEARANCE)
def test_metric_clearance_holes(size):
    found = clearance_hole(size)
    assert (found.fine_mm, found.medium_mm, found.coarse_mm) == CLEARANCE[size]


@pytest.mark.parametrize("size", CLEARANCE_DRILLS)
def test_inch_clearance_holes(size):
    assert clearance_hole(size).drills == CLEARANCE_DRILLS[size]


@pytest.mark.parametrize("name", TAP_DRILLS)
def test_metric_tap_drills_of_soft_material(name):
    assert fastener(name).tap_drill_mm == TAP_DRILLS[name]


@pytest.mark.parametrize("name", TAP_DRILLS_BY_NAME)
def test_inch_tap_drills_of_soft_material(name):
    found = fastener(f'{name.removesuffix("-8")}"-8' if name == "1-8" else name)
    assert found.tap_drill == TAP_DRILLS_BY_NAME[name]
    if found.tap_drill in DRILLS:
        assert found.tap_drill_mm / 25.4 == pytest.approx(DRILLS[found.tap_drill], abs=6e-4)


def test_no_tap_drill_is_smaller_or_larger_than_the_thread_allows():
    """Where the data file and this table differ (M12, M14, M22) both lie within 6H, but for its 18.5 mm for M22."""
    for f in fasteners():
        assert f.minor_min_mm - 0.05 <= f.tap_drill_mm <= f.minor_max_mm + 0.05, f.designation
    assert fastener("M22").minor_min_mm > 18.5


def test_the_least_minor_diameter_follows_from_the_pitch():
    """ISO 68-1: D1 = d - 1.0825 P."""
    for f in (f for f in fasteners() if f.system == "ISO metric"):
        assert f.minor_min_mm == pytest.approx(f.diameter_mm - 1.082532 * f.pitch_mm, abs=1.1e-3), (
            f.designation
        )
