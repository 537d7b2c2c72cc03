"""Published hole and thread sizes against our tables."""

import pytest

from ledger.standards.clearance_holes import clearance_hole, clearance_holes
from ledger.standards.fasteners import fastener
from ledger.standards.hardware import all_hardware, hardware
from ledger.standards.materials import material

# ISO 273:1979 (EN 20273:1991): fine, medium, coarse.
ISO_273 = {
    "M3": (3.2, 3.4, 3.6),
    "M5": (5.3, 5.5, 5.8),
    "M6": (6.4, 6.6, 7.0),
    "M10": (10.5, 11.0, 12.0),
    "M14": (15.0, 15.5, 16.5),
    "M16": (17.0, 17.5, 18.5),
}
# The same, in part from memory.
ISO_273_IN_PART_FROM_MEMORY = {"M18": (19, 20, 21), "M22": (23, 24, 26), "M24": (25, 26, 28)}

# ANSI/ASME B18.2.8-1999 (R2017) table 1a, Machinery's Handbook 31st ed. p. 1741.
B18_NORMAL_DRILLS = {
    "#4": "#30",
    "#5": "5/32",
    "#6": "#18",
    "#8": "#9",
    "#10": "#2",
    "1/4": "9/32",
    "5/16": "11/32",
    "3/8": "13/32",
    "7/16": "15/32",
}
# The same table, loose: drill and least diameter in inches.
B18_LOOSE = {
    "1/4": ("19/64", 0.297),
    "3/8": ("27/64", 0.422),
    "7/16": ("31/64", 0.484),
    "5/8": ("47/64", 0.734),
    "7/8": ("1-1/32", 1.031),
    '1"': ("1-5/32", 1.156),
}
# bd-warehouse 0.4.0 (Apache-2.0), clearance_hole_sizes.csv, close.
B18_CLOSE_DRILLS = {"1/4": "17/64", "1/2": "17/32", "5/8": "21/32", "3/4": "25/32", '1"': "1-1/32"}

# BS 4186:1967, Machinery's Handbook 31st ed. p. 2173 table 8: superseded, yet copied under the newer name.
SUPERSEDED = {"M12": (13, 14, 15), "M14": (15, 16, 17), "M16": (17, 18, 19)}

# ISO metric 6H minor diameter and tap drills: from memory and common practice.
MINOR_6H = {"M6": (4.917, 5.153), "M8": (6.647, 6.912), "M10": (8.376, 8.676), "M12": (10.106, 10.441)}
TAP_DRILLS_MM = {"M4": 3.3, "M5": 4.2, "M6": 5.0, "M8": 6.8, "M10": 8.5, "M12": 10.2, "M16": 14.0}
TAP_DRILLS_IN = {"1/4-20": 0.201, "3/8-16": 5 / 16, "1/2-13": 27 / 64}


@pytest.mark.parametrize(("size", "holes"), [*ISO_273.items(), *ISO_273_IN_PART_FROM_MEMORY.items()])
def test_metric_clearance_holes_are_those_of_iso_273(size, holes):
    hole = clearance_hole(size)
    assert holes == (hole.fine_mm, hole.medium_mm, hole.coarse_mm)


def test_the_medium_hole_of_m12_is_13_and_a_half():
    """ISO 273:1979; fine 13 and coarse 14.5 are from memory and not asserted here."""
    assert clearance_hole("M12").medium_mm == 13.5


@pytest.mark.parametrize(("size", "old"), SUPERSEDED.items())
def test_the_superseded_british_holes_are_not_in_the_table(size, old):
    hole = clearance_hole(size)
    assert hole.medium_mm != old[1]
    assert hole.coarse_mm != old[2]


@pytest.mark.parametrize(("size", "drill"), B18_NORMAL_DRILLS.items())
def test_inch_clearance_holes_normal(size, drill):
    assert clearance_hole(size).drills[1] == drill


@pytest.mark.parametrize(("size", "drill", "least_in"), [(s, *row) for s, row in B18_LOOSE.items()])
def test_inch_clearance_holes_loose(size, drill, least_in):
    hole = clearance_hole(size)
    assert hole.drills[2] == drill
    assert hole.coarse_mm / 25.4 == pytest.approx(least_in, abs=0.0005)


@pytest.mark.parametrize(("size", "drill"), B18_CLOSE_DRILLS.items())
def test_inch_clearance_holes_close(size, drill):
    assert clearance_hole(size).drills[0] == drill


@pytest.mark.parametrize(("size", "limits"), MINOR_6H.items())
def test_minor_diameters_of_the_coarse_metric_threads(size, limits):
    f = fastener(size)
    assert limits == (f.minor_min_mm, f.minor_max_mm)


@pytest.mark.parametrize(("size", "drill_mm"), TAP_DRILLS_MM.items())
def test_metric_tap_drills(size, drill_mm):
    assert fastener(size).tap_drill_mm == drill_mm


@pytest.mark.parametrize(("size", "drill_in"), TAP_DRILLS_IN.items())
def test_inch_tap_drills(size, drill_in):
    assert fastener(size).tap_drill_mm / 25.4 == pytest.approx(drill_in, abs=1e-6)


# Textbook average-property table (secondary, edition not established): density, and how far tables differ.
@pytest.mark.parametrize(
    ("name", "density", "spread"), [("mild steel", 7850, 10), ("6061", 2710, 20), ("304", 7860, 150)]
)
def test_densities(name, density, spread):
    assert material(name).density_kg_m3 == pytest.approx(density, abs=spread)


# ISO 7089 washers, hole and outside diameter (bd-warehouse 0.4.0, plain_washer_parameters.csv).
ISO_7089 = {
    "M5": (5.3, 10),
    "M6": (6.4, 12),
    "M10": (10.5, 20),
    "M12": (13, 24),
    "M20": (21, 37),
    "M24": (25, 44),
}
# ASME B18.21.1-2009 type A narrow washers, inches: Machinery's Handbook 31st ed. p. 1694.
TYPE_A_INCHES = {"1/4": (0.281, 0.625), "3/8": (0.406, 0.812), "1/2": (0.531, 1.062)}
# Hexagon nuts style 1 (ISO 4032), across flats and height: Machinery's Handbook 31st ed. p. 1734.
ISO_4032 = {
    "M3": (5.5, 2.4),
    "M6": (10, 5.2),
    "M8": (13, 6.8),
    "M12": (18, 10.8),
    "M20": (30, 18),
    "M24": (36, 21.5),
}
# DIN 929:1987 hexagon weld nuts, across flats.
DIN_929 = {"M3": 7.5, "M4": 9, "M5": 10, "M6": 11, "M8": 14, "M10": 17, "M12": 19, "M14": 22, "M16": 24}


@pytest.mark.parametrize("size", ISO_7089)
def test_metric_washers_are_those_of_iso_7089(size):
    found = hardware(size)
    assert (found.washer_hole_mm, found.washer_mm) == ISO_7089[size]


@pytest.mark.parametrize("size", TYPE_A_INCHES)
def test_inch_washers_are_those_of_asme_b18_21_1(size):
    found = hardware(size)
    assert (found.washer_hole_mm, found.washer_mm) == pytest.approx(
        [25.4 * x for x in TYPE_A_INCHES[size]], abs=1e-5
    )


@pytest.mark.parametrize("size", ISO_4032)
def test_metric_nuts_are_those_of_iso_4032(size):
    found = hardware(size)
    assert (found.across_flats_mm, found.nut_height_mm) == ISO_4032[size]


@pytest.mark.parametrize("size", DIN_929)
def test_weld_nuts_are_those_of_din_929(size):
    assert hardware(size).weld_nut_across_mm == DIN_929[size]


def test_every_size_with_clearance_holes_has_its_washer():
    assert set(clearance_holes()) <= set(all_hardware())
    assert all(h.source and h.seat_mm > h.washer_hole_mm for h in all_hardware().values())
