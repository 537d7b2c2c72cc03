"""Published bolt lengths, grips and tool room against ours."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.standards.engagement import engagement_mm
from ledger.standards.fasteners import fastener, fasteners
from ledger.standards.hardware import hardware
from ledger.standards.lengths import Stack, is_sold, lengths, next_length, shank_mm
from ledger.standards.tools import socket_mm, spanner_pitch_mm

# ISO 4014 nominal lengths, first part, as in bd-warehouse 0.4.0.
ISO_4014 = [
    12,
    16,
    20,
    25,
    30,
    35,
    40,
    45,
    50,
    55,
    60,
    65,
    70,
    80,
    90,
    100,
    110,
    120,
    130,
    140,
    150,
    160,
    180,
    200,
]


def test_metric_lengths_are_those_of_iso_4014():
    assert [length for length in lengths(fastener("M12")) if length <= 200] == ISO_4014


def test_the_grip_of_two_plates_asks_for_the_length_that_the_sum_gives():
    # First principles: M12, plates 10 + 8, two washers of 2.5, nut 10.8 (ISO 4032), P 1.75: 37.3 mm, take 40.
    bolt = fastener("M12")
    needed = Stack(18.0, 2 * 2.5, hardware("M12").nut_height_mm).needed_mm(bolt.pitch_mm)
    assert needed == pytest.approx(37.3, abs=1e-9)
    assert next_length(bolt, needed) == 40


# ASME B18.2.6M table 25, Machinery's Handbook 31st ed. p. 1734: greatest height of hex nuts style 1.
@pytest.mark.parametrize(
    ("size", "high"), [("M6", 5.2), ("M8", 6.8), ("M12", 10.8), ("M20", 18.0), ("M24", 21.5)]
)
def test_the_nut_is_reckoned_at_its_greatest_height(size, high):
    assert hardware(size).nut_height_mm == high


def test_a_bolt_past_the_table_is_not_made_up():
    assert next_length(fastener("M12"), 400.0) is None
    assert is_sold(fastener("1/2"), 50.8)
    assert not is_sold(fastener("M12"), 50.8)


def test_the_shank_is_what_the_thread_leaves():
    # ISO 4014, from memory: thread 2 d + 6 up to 125 mm, 2 d + 12 up to 200 mm.
    assert shank_mm(fastener("M12"), 80.0) == 50.0
    assert shank_mm(fastener("M12"), 130.0) == 94.0
    assert shank_mm(fastener("M12"), 25.0) == 0.0


# Common practice (RoyMech, based on BS 3692:2001): least pitch between bolts for spanners.
SPANNER = {"M5": 20, "M6": 24, "M8": 30, "M10": 37, "M12": 42, "M16": 50, "M20": 60, "M24": 75}


@pytest.mark.parametrize(("size", "pitch"), SPANNER.items())
def test_spanners_ask_for_the_published_pitch_and_a_socket_for_less(size, pitch):
    found = spanner_pitch_mm(size)
    assert found is not None
    assert found[0] == pitch
    parts = hardware(size)
    assert (socket_mm(parts)[0] + parts.across_corners_mm) / 2 < pitch


def test_a_socket_is_wider_than_the_corners_that_it_goes_over():
    for f in fasteners():
        if f.size.startswith("M"):
            parts = hardware(f.size)
            assert socket_mm(parts)[0] > parts.across_corners_mm


# Common practice: 1 d in steel, 1.5 d in cast iron and brass, 2 d in aluminium.
@pytest.mark.parametrize(
    ("material", "times"), [("S275", 1), ("304", 1), ("cast iron", 1.5), ("brass", 1.5), ("6061-T6", 2)]
)
def test_threads_bite_as_deep_as_is_common_practice(material, times):
    found = engagement_mm(fastener("M10"), material)
    assert found is not None
    assert found[0] == times * 10
    assert engagement_mm(fastener("M10"), "oak") is None


# Bickford, metric stress and strip areas (4th ed.), engagement 1 d: stress area, external and internal strip area, mm2.
STRIP = {"M8": (36.609, 97.29, 134.63), "M20": (244.79, 665.58, 907.76), "M24": (352.5, 971.1, 1320.2)}


@pytest.mark.parametrize("thread", STRIP)
def test_one_diameter_of_equal_steel_outlasts_the_bolt(thread):
    """In shear steel holds 0.577 of what it holds in tension: both strip areas then carry more than the stress area."""
    stress, external, internal = STRIP[thread]
    bolt = fastener(thread)
    assert math.pi / 4 * (bolt.diameter_mm - 0.9382 * bolt.pitch_mm) ** 2 == pytest.approx(stress, abs=0.7)
    bite = engagement_mm(bolt, "S275")
    assert bite is not None
    assert 0.577 * min(external, internal) * bite[0] / bolt.diameter_mm > stress


@given(plies=st.floats(0.5, 150.0), washers=st.floats(0.0, 12.0))
def test_the_length_taken_is_the_shortest_that_reaches(plies, washers):
    bolt = fastener("M12")
    needed = Stack(plies, washers, 10.8).needed_mm(bolt.pitch_mm)
    taken = next_length(bolt, needed)
    assert taken is not None
    assert taken >= needed - 1e-6
    assert all(length < needed for length in lengths(bolt) if length < taken)
