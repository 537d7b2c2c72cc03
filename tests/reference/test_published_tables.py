"""
The rest of the tables, number by number, against what standards print: each block names its source.

What is from memory was written down by size, from the standard's own layout or rule, not from the tables here.
"""

from __future__ import annotations

import re

import pytest

from ledger.domain.quantity import read_length
from ledger.standards.bending import sharpest_mm
from ledger.standards.bolts import standards
from ledger.standards.clearance_holes import clearance_holes
from ledger.standards.cuts import cut_size, smallest
from ledger.standards.edges import greatest_distances
from ledger.standards.fasteners import fastener, fasteners
from ledger.standards.gauges import gauge_thickness
from ledger.standards.hardware import all_hardware, hardware
from ledger.standards.instruments import instrument
from ledger.standards.lengths import lengths, shank_mm
from ledger.standards.processes import process
from ledger.standards.sheets import thicker_mm
from ledger.standards.size_limits import limits_of
from ledger.standards.table import band, table
from ledger.standards.tools import socket_mm
from ledger.standards.weld_classes import weld_class_deviation_mm

# ISO 261 coarse pitches; ISO 965-1 table: tolerance of the minor diameter, 6H, micrometres, by pitch; from memory.
COARSE = {
    "1.6": 0.35,
    "2": 0.4,
    "2.5": 0.45,
    "3": 0.5,
    "3.5": 0.6,
    "4": 0.7,
    "5": 0.8,
    "6": 1,
    "7": 1,
    "8": 1.25,
    "10": 1.5,
    "12": 1.75,
    "14": 2,
    "16": 2,
    "18": 2.5,
    "20": 2.5,
    "22": 2.5,
    "24": 3,
    "27": 3,
    "30": 3.5,
    "33": 3.5,
    "36": 4,
    "39": 4,
    "42": 4.5,
    "45": 4.5,
    "48": 5,
    "52": 5,
    "56": 5.5,
    "60": 5.5,
    "64": 6,
}
TD1_6H = {
    0.35: 100,
    0.4: 112,
    0.45: 125,
    0.5: 140,
    0.6: 160,
    0.7: 180,
    0.8: 200,
    1: 236,
    1.25: 265,
    1.5: 300,
    1.75: 335,
    2: 375,
    2.5: 450,
    3: 500,
    3.5: 560,
    4: 600,
    4.5: 670,
    5: 710,
    5.5: 750,
    6: 800,
}
# Tap drills that a data file of others does not have: d - P, common practice.
DRILLS_BY_RULE = {
    "M7": 6,
    "M3.5": 2.9,
    "M12": 10.2,
    "M14": 12,
    "M22": 19.5,
    "M24": 21,
    "M27": 24,
    "M30": 26.5,
    "M33": 29.5,
    "M36": 32,
    "M39": 35,
    "M42": 37.5,
    "M45": 40.5,
    "M48": 43,
    "M52": 47,
    "M56": 50.5,
    "M60": 54.5,
    "M64": 58,
    "M20x1.5": 18.5,
    "M22x1.5": 20.5,
    "M24x2": 22,
    "M30x2": 28,
}


@pytest.mark.parametrize(
    "f", [f for f in fasteners() if f.system == "ISO metric"], ids=lambda f: f.designation
)
def test_metric_threads(f):
    f = fastener(f.designation)
    size, _, fine = f.designation[1:].partition("x")
    pitch = float(fine) if fine else COARSE[size]
    assert (f.diameter_mm, f.pitch_mm) == (float(size), pitch)
    least = f.diameter_mm - 1.082532 * pitch  # ISO 68-1
    assert f.minor_min_mm == pytest.approx(least, abs=6e-4)
    assert f.minor_max_mm - f.minor_min_mm == pytest.approx(TD1_6H[pitch] / 1000, abs=1e-9)
    assert f.tap_drill_mm == DRILLS_BY_RULE.get(f.designation, f.tap_drill_mm)


# ASME B1.1 class 2B minor diameter, least and greatest, inches: 1/4-20, 1/4-28, 1/2-13, 1/2-20, 3/4-10, 3/4-16, 1-8 and
# 1-12 as in screw-thread-lib 0.0.6, the others from memory; tap drill in inches.
MINOR_2B = {
    "#2-56": (0.0667, 0.0737, 0.070),
    "#4-40": (0.0849, 0.0939, 0.089),
    "#5-40": (0.0979, 0.1062, 0.1015),
    "#6-32": (0.104, 0.114, 0.1065),
    "#8-32": (0.130, 0.139, 0.136),
    "#8-36": (0.134, 0.142, 0.136),
    "#10-24": (0.145, 0.156, 0.1495),
    "#10-32": (0.156, 0.164, 0.159),
    "#12-24": (0.171, 0.181, 0.177),
    "1/4-20": (0.196, 0.207, 0.201),
    "1/4-28": (0.211, 0.220, 0.213),
    "5/16-18": (0.252, 0.265, 0.257),
    "5/16-24": (0.267, 0.277, 0.272),
    "3/8-16": (0.307, 0.321, 5 / 16),
    "3/8-24": (0.330, 0.340, 0.332),
    "7/16-14": (0.360, 0.376, 0.368),
    "7/16-20": (0.383, 0.395, 25 / 64),
    "1/2-13": (0.417, 0.434, 27 / 64),
    "1/2-20": (0.446, 0.457, 29 / 64),
    "9/16-12": (0.472, 0.490, 31 / 64),
    "9/16-18": (0.502, 0.515, 33 / 64),
    "5/8-11": (0.527, 0.546, 17 / 32),
    "5/8-18": (0.565, 0.578, 37 / 64),
    "3/4-10": (0.642, 0.663, 21 / 32),
    "3/4-16": (0.682, 0.696, 11 / 16),
    "7/8-9": (0.755, 0.778, 49 / 64),
    "7/8-14": (0.798, 0.814, 13 / 16),
    "1-8": (0.865, 0.890, 7 / 8),
    "1-12": (0.910, 0.928, 59 / 64),
    "1-1/8-7": (0.970, 0.998, 63 / 64),
    "1-1/4-7": (1.095, 1.123, 1 + 7 / 64),
    "1-3/8-6": (1.195, 1.225, 1 + 7 / 32),
    "1-1/2-6": (1.320, 1.350, 1 + 11 / 32),
    "1-3/4-5": (1.534, 1.568, 1 + 9 / 16),
    "2-4.5": (1.759, 1.795, 1 + 25 / 32),
}


def inches_of(size):
    """1-1/8 is 1.125 in; #10 is 0.060 + 10 x 0.013 in (ASME B1.1)."""
    if size.startswith("#"):
        return 0.060 + 0.013 * int(size[1:])
    whole, _, part = size.rpartition("-") if "/" in size else (size, "", "0/1")
    top, bottom = part.split("/")
    return int(whole or 0) + int(top) / int(bottom)


@pytest.mark.parametrize("name", MINOR_2B)
def test_unified_threads(name):
    f = fastener(name)
    size, _, per_inch = name.rpartition("-")
    assert f.diameter_mm / 25.4 == pytest.approx(inches_of(size), abs=1e-7)
    assert f.pitch_mm == pytest.approx(25.4 / float(per_inch), abs=1e-6)
    said = (f.minor_min_mm / 25.4, f.minor_max_mm / 25.4, f.tap_drill_mm / 25.4)
    assert said == pytest.approx(MINOR_2B[name], abs=1e-7)


def test_no_unified_thread_goes_without_a_published_row():
    assert {f.designation for f in fasteners() if f.system == "UN"} == set(MINOR_2B)


# bd-warehouse 0.4.0: hex_head s, hex_nut m, plain_washer d1, d2, h; ISO 4014 nominal head heights, ISO 7089 above M36,
# ISO 4762 above M36 and all of M7 (DIN 931, 934) from memory: washer, across flats, head, nut, socket head.
LARGE = {
    "M3.5": ((3.7, 8, 0.55), 6, 2.4, 2.8, None),
    "M7": ((7.4, 14, 1.8), 11, 4.8, 5.5, None),
    "M39": ((42, 72, 6.6), 60, 25, 33.4, None),
    "M42": ((45, 78, 9), 65, 26, 34, (63.46, 42)),
    "M45": ((48, 85, 9), 70, 28, 36, None),
    "M48": ((52, 92, 9), 75, 30, 38, (72.46, 48)),
    "M52": ((56, 98, 9), 80, 33, 42, None),
    "M56": ((62, 105, 11), 85, 35, 45, (84.54, 56)),
    "M60": ((66, 110, 11), 90, 38, 48, None),
    "M64": ((70, 115, 11), 95, 40, 51, (96.54, 64)),
}
# socket_head_cap_parameters.csv, iso4762 dk and k.
SOCKETS = {
    "M1.6": (3.14, 1.6),
    "M2": (3.98, 2),
    "M2.5": (4.68, 2.5),
    "M14": (21.33, 14),
    "M30": (45.39, 30),
    "M36": (54.46, 36),
}
WELD_NUTS = {
    "M3": 7.5,
    "M4": 9,
    "M5": 10,
    "M6": 11,
    "M8": 14,
    "M10": 17,
    "M12": 19,
    "M14": 22,
    "M16": 24,
}  # DIN 929:1987
# ASME B18.21.1 type A washers (hole, outside, greatest thickness), B18.2.1 and B18.2.2 (B18.6.3 below 1/4): across
# flats of the wider of head and nut, head, nut, inches. 1/4, 3/8 and 1/2 washers read in a handbook, the rest from
# memory.
ASME = {
    "#2": (0.094, 0.250, 0.025, 3 / 16, 0.050, 0.066),
    "#4": (0.125, 0.312, 0.040, 1 / 4, 0.060, 0.098),
    "#5": (0.156, 0.375, 0.065, 5 / 16, 0.070, 0.114),
    "#6": (0.156, 0.375, 0.065, 5 / 16, 0.093, 0.114),
    "#8": (0.188, 0.438, 0.065, 11 / 32, 0.110, 0.130),
    "#10": (0.219, 0.500, 0.065, 3 / 8, 0.120, 0.130),
    "#12": (0.250, 0.562, 0.080, 7 / 16, 0.155, 0.161),
    "1/4": (0.281, 0.625, 0.080, 7 / 16, 0.163, 0.226),
    "5/16": (0.344, 0.688, 0.080, 1 / 2, 0.211, 0.273),
    "3/8": (0.406, 0.812, 0.080, 9 / 16, 0.243, 0.337),
    "7/16": (0.469, 0.922, 0.080, 11 / 16, 0.291, 0.385),
    "1/2": (0.531, 1.062, 0.121, 3 / 4, 0.323, 0.448),
    "9/16": (0.594, 1.156, 0.121, 7 / 8, 0.371, 0.496),
    "5/8": (0.656, 1.312, 0.121, 15 / 16, 0.403, 0.559),
    "3/4": (0.812, 1.469, 0.160, 9 / 8, 0.483, 0.665),
    "7/8": (0.938, 1.750, 0.160, 21 / 16, 0.563, 0.776),
    "1": (1.062, 2.000, 0.160, 3 / 2, 0.627, 0.887),
    "1-1/8": (1.250, 2.250, 0.160, 27 / 16, 0.718, 0.999),
    "1-1/4": (1.375, 2.500, 0.192, 15 / 8, 0.813, 1.094),
    "1-3/8": (1.500, 2.750, 0.192, 33 / 16, 0.878, 1.206),
    "1-1/2": (1.625, 3.000, 0.192, 9 / 4, 0.974, 1.317),
    "1-3/4": (1.875, 4.000, 0.213, 11 / 4, 1.134, 1.759),
    "2": (2.125, 4.500, 0.213, 25 / 8, 1.263, 2.013),
}


@pytest.mark.parametrize("size", LARGE)
def test_hardware_of_large_and_odd_sizes(size):
    h = hardware(size)
    washer, across, head, nut, socket = LARGE[size]
    assert (h.washer_hole_mm, h.washer_mm, h.washer_thickness_mm) == washer
    assert (h.across_flats_mm, h.head_height_mm, h.nut_height_mm) == (across, head, nut)
    assert (h.socket_head_mm, h.socket_height_mm) == (socket or (None, None))


@pytest.mark.parametrize("size", SOCKETS)
def test_socket_heads_of_further_sizes(size):
    assert (hardware(size).socket_head_mm, hardware(size).socket_height_mm) == SOCKETS[size]


@pytest.mark.parametrize("size", ASME)
def test_inch_hardware(size):
    h = all_hardware()[size]
    parts = (
        h.washer_hole_mm,
        h.washer_mm,
        h.washer_thickness_mm,
        h.across_flats_mm,
        h.head_height_mm,
        h.nut_height_mm,
    )
    assert [mm / 25.4 for mm in parts] == pytest.approx(ASME[size], abs=1e-6)


def test_weld_nuts_and_inch_sizes_are_all_published():
    assert {s: h.weld_nut_across_mm for s, h in all_hardware().items() if h.weld_nut_across_mm} == WELD_NUTS
    assert {s for s in all_hardware() if s[0] != "M"} == set(ASME)


# ISO 4016: d_s is at most d + IT15; EN 14399-3, -4, DIN 7990 and ASTM heavy hex bolts alike (from memory): so d + IT15.
IT15 = [(3, 0.40), (6, 0.48), (10, 0.58), (18, 0.70), (30, 0.84), (50, 1.00), (80, 1.20)]
THICK = (
    "ISO 4016",
    "ISO 4018",
    "DIN 7990",
    "EN 14399-3",
    "EN 14399-4",
    "ASTM F3125M",
    "ASTM A325M",
    "ASTM A490M",
)
# By size: EN 14399-3 across flats, head, nut; EN 14399-4 head, nut; ASTM F3125M across flats, nut; from memory.
HEAVY = {
    12: (22, 7.95, 10.8, 8.45, 10),
    16: (27, 10.75, 14.8, 10.75, 13, 27, 17.1),
    20: (32, 13.4, 18, 13.9, 16, 34, 20.7),
    22: (36, 14.9, 19.4, 14.9, 18, 36, 23.6),
    24: (41, 15.9, 21.5, 15.9, 20, 41, 24.2),
    27: (46, 17.9, 23.8, 17.9, 22, 46, 27.6),
    30: (50, 19.75, 25.6, 20.05, 24, 50, 30.7),
    36: (60, 23.55, 31, 24.05, 29, 60, 36.6),
}
# EN 14399-6 washers and ASTM F436M ones: hole, outside, greatest thickness; from memory.
EN_WASHERS = {
    12: (13, 24, 3.3),
    16: (17, 30, 4.3),
    20: (21, 37, 4.3),
    22: (23, 39, 4.3),
    24: (25, 44, 4.3),
    27: (28, 50, 5.6),
    30: (31, 56, 5.6),
    36: (37, 66, 6.6),
}
F436M = {16: (17, 34), 20: (21, 42), 22: (23, 44), 24: (25, 50), 27: (28, 56), 30: (31, 60), 36: (37, 72)}
# ISO 4016 head (greatest), ISO 4034 nut (greatest), by size; across flats as ISO 4014; from memory.
GRADE_C = {
    5: (3.875, 5.6),
    6: (4.375, 6.4),
    8: (5.675, 7.9),
    10: (6.85, 9.5),
    12: (7.95, 12.2),
    14: (9.25, 13.9),
    16: (10.75, 15.9),
    18: (12.4, 16.9),
    20: (13.4, 19),
    22: (14.9, 20.2),
    24: (15.9, 22.3),
    27: (17.9, 24.7),
    30: (19.75, 26.4),
    33: (22.05, 29.5),
    36: (23.55, 31.9),
    39: (26.05, 34.3),
    42: (27.05, 34.9),
    45: (29.05, 36.9),
    48: (31.05, 38.9),
    52: (34.25, 42.9),
    56: (36.25, 45.9),
    60: (39.25, 48.9),
    64: (41.25, 52.4),
}
DIN_7990 = {
    12: (18, 8.45, 12.2),
    16: (24, 10.75, 15.9),
    20: (30, 13.9, 19),
    24: (36, 15.9, 22.3),
    27: (41, 17.9, 24.7),
    30: (46, 20.05, 26.4),
}


def sizes_of(standard):
    row = next(r for r in table("bolts")["standard"] if standard in (r["name"], *r["also"]))
    return list(row["shank"])


@pytest.mark.parametrize("standard", THICK)
def test_thick_shanks_are_nominal_and_it15(standard):
    for size in sizes_of(standard):
        d = float(size[1:])
        allowed = next(it for up_to, it in IT15 if d <= up_to)
        assert fastener(f"{size} {standard}").largest_mm == pytest.approx(d + allowed, abs=1e-9), size


def hexagon(text):
    h = hardware(text)
    return (h.across_flats_mm, h.head_height_mm, h.nut_height_mm)


def washer(text):
    h = hardware(text)
    return (h.washer_hole_mm, h.washer_mm, h.washer_thickness_mm)


@pytest.mark.parametrize("d", HEAVY)
def test_structural_hexagons_and_washers(d):
    across, head3, nut3, head4, nut4, *astm = HEAVY[d]
    assert hexagon(f"M{d} EN 14399-3") == (across, head3, nut3)
    assert hexagon(f"M{d} EN 14399-4") == hexagon(f"M{d} EN 14399-8") == (across, head4, nut4)
    for part in (3, 4, 8):
        assert washer(f"M{d} EN 14399-{part}") == EN_WASHERS[d]
    fit_bolt = fastener(f"M{d} EN 14399-8")
    assert (fit_bolt.shank_mm, fit_bolt.largest_mm) == (d + 1, d + 1)
    if astm:
        assert hexagon(f"M{d} ASTM A325M") == (astm[0], head3, astm[1])
        assert washer(f"M{d} ASTM A325M") == (*F436M[d], 4.6)


@pytest.mark.parametrize("d", GRADE_C)
def test_grade_c_hexagons(d):
    assert hexagon(f"M{d} ISO 4016") == (hardware(f"M{d}").across_flats_mm, *GRADE_C[d])


@pytest.mark.parametrize("d", DIN_7990)
def test_hexagons_of_din_7990(d):
    assert hexagon(f"M{d} DIN 7990") == DIN_7990[d]


def test_older_hexagons():
    """bd-warehouse 0.4.0, hex_head_parameters.csv, din931 s."""
    assert [hardware(f"M{d} DIN 931").across_flats_mm for d in (10, 12, 14, 22)] == [17, 19, 22, 32]


# ASME B18.2.1 and B18.2.6, from memory, inches by size: body, heavy hexagon (1.5 d + 1/8), head of B18.2.6, of the
# heavy hex bolt, heavy nut; ASTM F436 washer hole and outside (0.177 thick).
INCH_BODY = {
    "1/4": 0.260,
    "5/16": 0.324,
    "3/8": 0.388,
    "7/16": 0.452,
    "1/2": 0.515,
    "5/8": 0.642,
    "3/4": 0.768,
    "7/8": 0.895,
    "1": 1.022,
    "1-1/8": 1.149,
    "1-1/4": 1.277,
    "1-3/8": 1.404,
    "1-1/2": 1.531,
    "1-3/4": 1.785,
    "2": 2.039,
}
INCH_HEAVY = {
    "1/2": (0.323, 0.364, 0.504, 0.531, 1.063),
    "5/8": (0.403, 0.444, 0.631, 0.688, 1.313),
    "3/4": (0.483, 0.524, 0.758, 0.813, 1.468),
    "7/8": (0.563, 0.604, 0.885, 0.938, 1.75),
    "1": (0.627, 0.7, 1.012, 1.125, 2.0),
    "1-1/8": (0.718, 0.78, 1.139, 1.25, 2.25),
    "1-1/4": (0.813, 0.876, 1.251, 1.375, 2.5),
    "1-3/8": (0.878, 0.94, 1.378, 1.5, 2.75),
    "1-1/2": (0.974, 1.036, 1.505, 1.625, 3.0),
    "1-3/4": (None, 1.196, 1.759),
    "2": (None, 1.388, 2.013),
}


@pytest.mark.parametrize("size", INCH_BODY)
def test_inch_bodies(size):
    for standard in ("ASME B18.2.1 bolt", "ASTM A307", "ASME B18.2.1 heavy bolt", "ASTM F3125", "ASTM A325"):
        if size in sizes_of(standard):
            found = fastener(f'{size}" {standard}').largest_mm
            assert found / 25.4 == pytest.approx(INCH_BODY[size], abs=1e-7)


@pytest.mark.parametrize("size", INCH_HEAVY)
def test_inch_heavy_hexagons(size):
    head, heavy_head, nut, *f436 = INCH_HEAVY[size]
    across = 1.5 * inches_of(size) + 0.125
    found = hexagon(f'{size}" ASME B18.2.1 heavy bolt')
    assert [mm / 25.4 for mm in found] == pytest.approx([across, heavy_head, nut], abs=1e-6)
    if head:
        assert [mm / 25.4 for mm in hexagon(f'{size}" ASTM A325')] == pytest.approx(
            [across, head, nut], abs=1e-6
        )
        assert [mm / 25.4 for mm in washer(f'{size}" ASTM A325')] == pytest.approx([*f436, 0.177], abs=1e-6)


# bd-warehouse 0.4.0, plain_washer_parameters.csv, iso7093 and iso7091: d1, d2, h.
ISO_7093 = """M2.5,2.7,8,0.9 M3,3.2,9,0.9 M3.5,3.7,11,0.9 M4,4.3,12,1.1 M5,5.3,15,1.4 M6,6.4,18,1.8 M7,7.4,22,2.2
M8,8.4,24,2.2 M10,10.5,30,2.7 M12,13,37,3.3 M14,15,44,3.3 M16,17,50,3.3 M18,20,56,4.6 M20,22,60,4.6
M24,26,72,6 M30,33,92,7
M36,39,110,9.2"""
ISO_7091 = """M1.6,1.8,4,0.4 M2,2.4,5,0.4 M2.5,2.9,6,0.6 M3,3.4,7,0.6 M4,4.5,9,1 M5,5.5,10,1.2 M6,6.6,12,1.9 M8,9,16,1.9
M10,11,20,2.3 M12,13.5,24,2.8 M16,17.5,30,3.6 M20,22,37,3.6 M24,26,44,4.6 M30,33,56,4.6 M36,39,66,6 M42,45,78,9.2
M48,52,92,9.2 M56,62,105,11.2 M64,70,115,11.2"""


@pytest.mark.parametrize(("name", "rows"), [("ISO 7093", ISO_7093), ("ISO 7091", ISO_7091)])
def test_washers_of_other_standards(name, rows):
    for row in rows.split():
        size, *published = row.split(",")
        assert washer(f"{size} washer {name}") == tuple(map(float, published)), size


def test_every_bolt_standard_is_held_here():
    common = {
        "ISO 4014",
        "ISO 4017",
        "ISO 8765",
        "ISO 8676",
        "ASME B18.2.1 screw",
        "SAE J429",
        "DIN 931",
        "DIN 933",
    }
    inch = {
        "ASTM F3125",
        "ASTM A325",
        "ASTM A490",
        "ASME B18.2.6",
        "ASME B18.2.1 bolt",
        "ASTM A307",
        "ASME B18.2.1 heavy bolt",
    }
    assert set(standards()) == {*THICK, "EN 14399-8", *common, *inch}


# bd-warehouse 0.4.0, clearance_hole_sizes.csv: close, normal, loose (its M12, M14 and M16 are of an older
# standard; those are
# of ISO 273, fine and coarse of M12 from memory), mm and drills.
CLEARANCE = """M1.6,1.7,1.8,2 M2,2.2,2.4,2.6 M2.5,2.7,2.9,3.1 M3,3.2,3.4,3.6 M3.5,3.7,3.9,4.2 M4,4.3,4.5,4.8
M5,5.3,5.5,5.8
M6,6.4,6.6,7 M7,7.4,7.6,8 M8,8.4,9,10 M10,10.5,11,12 M12,13,13.5,14.5 M14,15,15.5,16.5 M16,17,17.5,18.5 M18,19,20,21
M20,21,22,24 M22,23,24,26 M24,25,26,28 M27,28,30,32 M30,31,33,35 M33,34,36,38 M36,37,39,42 M39,40,42,45 M42,43,45,48
M45,46,48,52 M48,50,52,56 M52,54,56,62 M56,58,62,66 M60,62,66,70 M64,66,70,74"""
CLEARANCE_DRILLS = """#2,3/32,#38,#32 #4,#31,#30,#27 #5,9/64,5/32,11/64 #6,#23,#18,#13 #8,#15,#9,#3 #10,#5,#2,B
1/4,17/64,9/32,19/64 5/16,21/64,11/32,23/64 3/8,25/64,13/32,27/64 7/16,29/64,15/32,31/64 1/2,17/32,9/16,39/64
5/8,21/32,11/16,47/64 3/4,25/32,13/16,29/32 7/8,29/32,15/16,1-1/32 1,1-1/32,1-3/32,1-5/32 1-1/8,1-5/32,1-7/32,1-5/16
1-1/4,1-9/32,1-11/32,1-7/16 1-3/8,1-7/16,1-1/2,1-39/64 1-1/2,1-9/16,1-5/8,1-47/64"""
# The same file has #12 and 9/16 in inches.
CLEARANCE_INCHES = {"#12": (0.221, 0.228, 0.246), "9/16": (0.5781, 0.5937, 0.6094)}
# Number and letter drills in inches, ASME B94.11M, from memory.
NUMBER_DRILLS = {
    "#38": 0.1015,
    "#32": 0.116,
    "#31": 0.120,
    "#30": 0.1285,
    "#27": 0.144,
    "#23": 0.154,
    "#18": 0.1695,
    "#15": 0.180,
    "#13": 0.185,
    "#9": 0.196,
    "#5": 0.2055,
    "#3": 0.213,
    "#2": 0.221,
    "#1": 0.228,
    "B": 0.238,
    "D": 0.246,
}


def test_clearance_holes():
    found = {
        h.size: (h.fine_mm, h.medium_mm, h.coarse_mm) for h in clearance_holes().values() if not h.drills
    }
    assert found == {
        size: tuple(map(float, mm)) for size, *mm in (row.split(",") for row in CLEARANCE.split())
    }


def test_clearance_drills():
    found = {
        h.size: h.drills for h in clearance_holes().values() if h.drills and h.size not in CLEARANCE_INCHES
    }
    assert found == {
        size: tuple(drills) for size, *drills in (row.split(",") for row in CLEARANCE_DRILLS.split())
    }
    assert dict(table("clearance_holes")["drills"]) == NUMBER_DRILLS
    for h in clearance_holes().values():
        inches = CLEARANCE_INCHES.get(h.size) or [NUMBER_DRILLS.get(d) or inches_of(d) for d in h.drills]
        if h.drills:
            assert [mm / 25.4 for mm in (h.fine_mm, h.medium_mm, h.coarse_mm)] == pytest.approx(
                inches, abs=6e-5
            )


# Manufacturers' standard gauge: pounds per square foot over 41.82; ounces by gauge, of which 3 ga has 160. From memory.
OUNCES = {
    3: 160,
    4: 150,
    5: 140,
    6: 130,
    7: 120,
    8: 110,
    9: 100,
    10: 90,
    11: 80,
    12: 70,
    13: 60,
    14: 50,
    15: 45,
    16: 40,
    17: 36,
    18: 32,
    19: 28,
    20: 24,
    22: 20,
    24: 16,
}
# US standard gauge of stainless: sixty-fourths of an inch; from memory but for 10 to 20 ga (Machinery's Handbook).
SIXTY_FOURTHS = {7: 12, 8: 11, 9: 10, 10: 9, 11: 8, 12: 7, 14: 5, 16: 4, 18: 3.2, 20: 2.4, 22: 2, 24: 1.6}
AWG = (10, 11, 12, 13, 14, 16, 18, 20, 22)
GALVANIZED = (
    10,
    11,
    12,
    13,
    14,
    15,
    16,
    17,
    18,
    19,
    20,
    22,
    24,
)  # 2.5 ounces of zinc more on a square foot, from memory


def gauge(number, metal):
    return float(read_length(gauge_thickness(f"{number} ga", metal)).mm) / 25.4


def test_gauges_follow_from_their_rules():
    for number, ounces in OUNCES.items():
        assert gauge(number, "A36") == pytest.approx(ounces / 16 / 41.82, abs=5.1e-5), number
    for number, parts in SIXTY_FOURTHS.items():
        assert gauge(number, "304") == pytest.approx(round(parts / 64, 4), abs=1e-9), number  # half to even
    for number in AWG:
        assert gauge(number, "6061") == pytest.approx(0.005 * 92 ** ((36 - number) / 39), abs=5.1e-5), number
    for number in GALVANIZED:
        assert gauge(number, "galvanized") == pytest.approx(
            (OUNCES[number] + 2.5) / 16 / 41.82, abs=5.1e-5
        ), number


def test_no_gauge_goes_without_a_rule():
    found = {row["name"]: set(map(int, row["inches"])) for row in table("gauges")["metal"]}
    assert found == {
        "steel": set(OUNCES),
        "stainless": set(SIXTY_FOURTHS),
        "aluminium": set(AWG),
        "galvanized": set(GALVANIZED),
    }


# Common practice, no source: resolution, limit, limit a metre, aim, expansion 1e-6/K, scale 1e-6/K, end.
INSTRUMENTS = {
    "tape": (1, 0.3, 0.2, 0.5, 6, 11.5, 0.2),
    "steel rule": (0.5, 0.1, 0.1, 0.2, 6, 11.5, 0),
    "caliper": (0.01, 0.03, 0.1, 0.02, 0, 11.5, 0),
    "depth gauge": (0.01, 0.03, 0.1, 0.03, 0, 11.5, 0),
    "micrometer": (0.001, 0.004, 0.02, 0.002, 0, 11.5, 0),
    "height gauge": (0.01, 0.03, 0.05, 0.02, 0, 11.5, 0),
    "dial indicator": (0.01, 0.02, 0, 0.01, 0, 11.5, 0),
    "feeler gauge": (0.05, 0.01, 0, 0.03, 0, 11.5, 0),
    "pin gauge": (0.01, 0.005, 0, 0.005, 0, 11.5, 0),
    "bore gauge": (0.01, 0.01, 0, 0.01, 0, 11.5, 0),
    "thickness gauge": (0.01, 0.1, 0, 0.03, 0, 11.5, 0),
    "laser meter": (1, 1.5, 0.05, 0.5, 0, 0, 0),
    "total station": (0.1, 1, 0.002, 0.5, 1, 0, 0),
    "CMM": (0.001, 0.005, 0.01, 0.002, 1, 0, 0),
}


@pytest.mark.parametrize("name", INSTRUMENTS)
def test_instruments(name):
    i = instrument(name)
    said = (
        i.resolution_mm,
        i.limit_mm,
        i.limit_per_m,
        i.aim_mm,
        i.expansion_per_k * 1e6,
        i.scale_per_k * 1e6,
        i.end_mm,
    )
    assert said == pytest.approx(INSTRUMENTS[name], abs=1e-9)


# ISO 4014 lengths to 200 as in bd-warehouse 0.4.0, the others from memory; inch lengths common practice.
def test_bolt_lengths_and_threads():
    metric = [*(12, 16), *range(20, 70, 5), *range(70, 160, 10), *range(160, 301, 20)]
    eighths = [*range(4, 8), *range(8, 32, 2), *range(32, 64, 4), 64, 72, 80]
    assert list(lengths(fastener("M12"))) == metric
    assert [mm / 25.4 for mm in lengths(fastener("1/2"))] == pytest.approx([n / 8 for n in eighths])
    for length, plus in ((125, 6), (125.1, 12), (200, 12), (200.1, 25), (300, 25)):  # ISO 4014, from memory
        assert shank_mm(fastener("M12"), length) == pytest.approx(length - 24 - plus)
    for length, plus in ((6, 0.25), (6.01, 0.5), (10, 0.5)):  # ASME B18.2.1, from memory
        assert shank_mm(fastener("1/2"), length * 25.4) / 25.4 == pytest.approx(length - 1 - plus)


# Common practice, no source: position either side, shrink; that of a thermal cut is in cut_sizes (ISO 9013).
PROCESSES = {
    "laser": (0.2, None),
    "water-jet": (0.2, 0.2),
    "plasma": (1, None),
    "oxyfuel": (1.5, None),
    "machined": (0.1, 0.05),
    "drilled": (0.5, 0),
    "punched": (0.2, 0.1),
    "cast": (1.5, 1),
}
# Common practice: smallest hole and web over the thickness, least kerf.
# Hole and web that come out well, the least of both (times the thickness), the least kerf: common practice, the least
# webs from memory.
SMALLEST = {
    "laser": (1, 1, 0.5, 0.5, 0.15),
    "water-jet": (0.5, 1, 0.5, 0.5, 0.8),
    "plasma": (1.5, 1, 1.5, 0.5, 1.5),
    "oxyfuel": (1.5, 1, 1.5, 0.5, 1.5),
    "punched": (1, 1, 1, 1, 0),
}


def test_processes():
    assert {n: (process(n).position_mm / 2, process(n).hole_shrink_mm) for n in PROCESSES} == PROCESSES
    found = {n: smallest(n) for n in SMALLEST}
    assert {n: (s.hole, s.web, s.hole_least, s.web_least, s.kerf_mm) for n, s in found.items()} == SMALLEST


def test_bends_and_sockets():
    """Sharpest inside radius over the thickness, common practice; ISO 2725-1: 1.25 s + 3 mm; from memory."""
    sharp = {"4130": 1.5, "mild steel": 0.8, "copper": 0.8, "304": 1, "6061-T6": 3, "5754": 1}
    assert {name: sharpest_mm(name, 1.0)[0] for name in sharp} == sharp
    assert socket_mm(hardware("M12"))[0] == pytest.approx(1.25 * 18 + 3)


def test_inch_bolts_in_the_weather():
    """AISC 360 J3.5, from memory: spacing at most 24 t and 12 in."""
    bolt = fastener("3/4")
    assert [greatest_distances(bolt, t).spacing_mm for t in (10.0, 20.0)] == [240, pytest.approx(304.8)]


# Which range a size at a bound belongs to, for every table that is looked up by ranges. Below: "over 6 up to 30".
BELOW = {
    "ISO 2768-1": (("size_limits", "general", "up_to_mm"), (3, 6, 30, 120, 400, 1000, 2000, 4000)),
    "ISO 2768-1 angles": (("size_limits", "angles", "up_to_mm"), (10, 50, 120, 400, 1000000)),
    "ISO 286": (
        ("size_limits", "fits", "up_to_mm"),
        (3, 6, 10, 18, 30, 50, 80, 120, 180, 250, 315, 400, 500),
    ),
    "ISO 286 finer": (
        ("size_limits", "fits", "fine", "up_to_mm"),
        (
            3,
            6,
            10,
            18,
            24,
            30,
            40,
            50,
            65,
            80,
            100,
            120,
            140,
            160,
            180,
            200,
            225,
            250,
            280,
            315,
            355,
            400,
            450,
            500,
        ),
    ),
    "ISO 13920": (
        ("weld_classes", "sizes", "up_to"),
        (30, 120, 400, 1000, 2000, 4000, 8000, 12000, 16000, 20000, 1000000),
    ),
    "EN 10051": (("sheets", "sheet", "up_to"), (2, 2.5, 3, 4, 5, 6, 8, 10, 12.5, 15, 25)),
    "EN 10051 category": (("sheets", "category", "yield_up_to"), (300, 360, 420, 900)),
    "EN 1090-2": (("clearance_holes", "structural", "EN", "up_to"), (14, 24, 1000)),
    "EN 1090-2 oversize": (("clearance_holes", "structural", "EN", "oversize_up_to"), (14, 22, 24, 1000)),
    "AISC J3.5": (("edges", "aisc", "inch", "up_to"), (0.875, 1, 1000)),
    "AISC J3.5M": (("edges", "aisc", "metric", "up_to"), (22, 24, 1000)),
}
ABOVE = {
    "ISO 9013": (("cut_sizes", "sizes", "below"), (3, 10, 35, 125, 315, 1000, 2000, 4000)),
    "EN 10029": (("sheets", "plate", "below"), (5, 8, 15, 25, 40, 80, 150, 250, 400)),
}


def bounds_of(path):
    name, *keys = path
    found = table(name)
    for key in keys:
        found = found[key]
    return found


@pytest.mark.parametrize("standard", [*BELOW, *ABOVE])
def test_ranges_have_the_bounds_of_their_standard_and_a_bound_is_on_the_right_side(standard):
    path, published = BELOW.get(standard) or ABOVE[standard]
    bounds = bounds_of(path)
    assert tuple(bounds) == published
    for k, bound in enumerate(published):
        after = k + 1 if k + 1 < len(published) else None
        assert band(bounds, bound, edge_above=standard in ABOVE) == (after if standard in ABOVE else k)
        assert band(bounds, bound * (1 - 1e-9), edge_above=standard in ABOVE) == k
        assert band(bounds, bound * (1 + 1e-9), edge_above=standard in ABOVE) == after
    assert band(bounds, 0.0) is None


def test_each_lookup_is_on_the_side_of_its_standard():
    """One bound of each, through the function that is asked by the checks."""
    deviations = [
        cut_size("laser", 2.0, size).deviation_mm
        for size in (9.999, 10.0, 34.999, 35.0, 125.0, 315.0, 1000.0, 2000.0)
    ]
    assert deviations == [0.15, 0.2, 0.2, 0.25, 0.25, 0.35, 0.4, 0.65]
    assert [cut_size("laser", t, 20.0).deviation_mm for t in (6.3, 6.301, 15.0, 15.001, 32.0)] == [
        0.25,
        0.3,
        0.35,
        0.4,
        0.7,
    ]
    assert [cut_size("plasma", t, 20.0).deviation_mm for t in (15.0, 15.5, 50.0, 50.1)] == [
        1.8,
        1.8,
        1.8,
        2.5,
    ]
    assert [weld_class_deviation_mm("B", size) for size in (120, 120.1, 20000, 20001)] == [2, 2, 14, 16]
    assert [weld_class_deviation_mm(k, 25000) for k in "ABCD"] == [9, 16, 27, 40]
    assert [float(limits_of("2768-m", read_length(f"{s} mm")).upper_mm) for s in (30, 30.01)] == [0.2, 0.3]
    assert [float(limits_of("H7", read_length(f"{s} mm")).upper_mm) for s in (30, 30.01)] == [0.021, 0.025]
    assert [thicker_mm(t) for t in (8.0, 8.01, 12.5, 12.51, 15.0)] == [0.30, 0.33, 0.36, 0.9, 1.0]


def test_every_number_of_the_smaller_tables():
    """EN 10029:2010, EN 10051 over 12.5 mm, AISC bounds and holes; sources as in the tables."""
    sheets, edges = table("sheets"), table("edges")["aisc"]
    assert sheets["plate"]["plus"] == [0.7, 0.8, 0.9, 1.0, 1.3, 1.7, 2.1, 2.4, 3.5]
    assert sheets["sheet"]["plus"][-2:] == [0.38, 0.42]
    assert sheets["sheet"]["sheet_up_to"] == 12.5
    assert edges["inch"]["bolt"] == [n / 8 for n in range(4, 11)]
    assert edges["metric"]["bolt"] == [16, 20, 22, 24, 27, 30, 36]
    assert [
        round(16 * (h - d))
        for h, d in zip(edges["inch"]["standard_hole"], edges["inch"]["bolt"], strict=True)
    ] == [
        1,
        1,
        1,
        1,
        2,
        2,
        2,
    ]
    assert edges["inch"]["standard_hole"] == [9 / 16, 11 / 16, 13 / 16, 15 / 16, 9 / 8, 5 / 4, 11 / 8]
    assert edges["metric"]["standard_hole"] == [18, 22, 24, 27, 30, 33, 39]
    assert (edges["short_up_to"], edges["spacing"]) == (0.5, pytest.approx(8 / 3, abs=4e-9))
    assert [made["number"] for made in table("cut_sizes")["class"]] == [1, 2]
    assert [(b["over"], b["up_to"]) for b in table("cut_sizes")["class"][1]["bands"]] == [
        (0, 1),
        (1, 3.15),
        (3.15, 6.3),
        (6.3, 10),
        (10, 15),
        (15, 50),
        (50, 100),
        (100, 150),
    ]


# ISO 286-1 as in pressfit 0.1.0 (MIT), tables.py: micrometres, by the bands above; r as in isofits 1.0 up to 400 mm,
# its last two from memory; IT14 over 180 mm from memory.
SHAFTS = {
    "d": "20 30 40 50 65 80 100 120 145 170 190 210 230",
    "e": "14 20 25 32 40 50 60 72 85 100 110 125 135",
    "f": "6 10 13 16 20 25 30 36 43 50 56 62 68",
    "g": "2 4 5 6 7 9 10 12 14 15 17 18 20",
    "k": "0 1 1 1 2 2 2 3 3 4 4 4 5",
    "m": "2 4 6 7 8 9 11 13 15 17 20 21 23",
    "n": "4 8 10 12 15 17 20 23 27 31 34 37 40",
    "p": "6 12 15 18 22 26 32 37 43 50 56 62 68",
    "r": "10 15 19 23 28 28 34 34 41 43 51 54 63 65 68 77 80 84 94 98 108 114 126 132",
    "s": "14 19 23 28 35 35 43 43 53 59 71 79 92 100 108 122 130 140 158 170 190 208 232 252",
    "u": "18 23 28 33 41 48 60 70 87 102 124 144 170 190 210 236 258 284 315 350 390 435 490 540",
}
WIDTHS = {
    5: "20 23 25 27",
    6: "29 32 36 40",
    7: "46 52 57 63",
    8: "72 81 89 97",
    9: "115 130 140 155",
    10: "185 210 230 250",
    11: "290 320 360 400",
    12: "460 520 570 630",
    13: "720 810 890 970",
    14: "1150 1300 1400 1550",
}


@pytest.mark.parametrize("letter", SHAFTS)
def test_shafts_of_iso_286(letter):
    published = [int(n) for n in SHAFTS[letter].split()]
    bounds = BELOW["ISO 286" if len(published) == 13 else "ISO 286 finer"][1]
    for bound, um in zip(bounds, published, strict=True):
        found = limits_of(f"{letter}6", read_length(f"{bound} mm"))
        end = -found.upper_mm if letter in "defg" else found.lower_mm
        assert float(end) == pytest.approx(um / 1000), bound


@pytest.mark.parametrize("grade", WIDTHS)
def test_widths_of_iso_286_over_180_mm(grade):
    found = [
        float(limits_of(f"H{grade}", read_length(f"{bound} mm")).upper_mm) for bound in (250, 315, 400, 500)
    ]
    assert found == [int(n) / 1000 for n in WIDTHS[grade].split()]


def test_numbers_in_words_of_a_bolt_are_in_mm():
    assert re.fullmatch(
        r"M20 EN 14399-3 shank 20\.9 mm", fastener("M20  EN 14399-3   shank 20.9").designation
    )
