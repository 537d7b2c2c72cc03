"""Broken and hostile files: each is refused, in words, within the limits; none hangs, none is half read."""

from __future__ import annotations

import struct
import time

import pytest
from hostile_drawings import REFUSED, nested
from profile_drawings import (
    R2000,
    block,
    box,
    circle,
    insert,
    line,
    plate_bytes,
    raw,
    spline,
    tag,
)

from ledger.domain.errors import Unreadable
from ledger.profile.read import read_profile
from ledger.profile.scan import scan

PLATE = box(0, 0, 100, 60)


def outcome(data):
    """What became of a file, in words."""
    try:
        return "usable" if read_profile(data).usable else "not usable"
    except Unreadable as refusal:
        return str(refusal)


@pytest.mark.parametrize("name", REFUSED)
def test_it_is_refused_in_words_before_any_library_sees_it(name):
    data, words = REFUSED[name]
    began = time.monotonic()
    with pytest.raises(Unreadable, match=words):
        scan(data)
    assert time.monotonic() - began < 8


def test_at_the_limits_a_file_is_still_scanned():
    assert scan(raw(insert("B0"), blocks=nested(16, 1))).expanded == 16
    assert scan(raw(line(0, 0, 1, 1) * 100_000)).drawn == 100_000
    assert scan(raw(circle(1e6, -1e6, 1e6))).drawn == 1
    many = insert("B", 0, 0, 70, 50_000)
    assert scan(raw(many, blocks=block("B", circle(0, 0, 1)))).expanded == 50_000


def test_reading_refuses_too_and_needs_no_child_for_it():
    with pytest.raises(Unreadable, match="DWG"):
        read_profile(b"AC1032 and so on")


def test_every_cut_of_a_file_is_refused():
    """A file that lost its tail must never pass for a smaller plate."""
    data = plate_bytes().rstrip()
    for length in range(1, len(data), 97):
        with pytest.raises(Unreadable):
            scan(data[:length])


def test_every_cut_of_a_raw_file_is_refused():
    data = raw(PLATE, circle(20, 20, 4), head=R2000).rstrip()
    for length in range(len(data)):
        with pytest.raises(Unreadable):
            scan(data[:length])


def test_a_flipped_byte_never_hangs_and_never_crashes():
    data = bytearray(raw(PLATE, circle(20, 20, 4), spline(1, [(0, 0), (1, 0)], [0, 0, 1, 1]), head=R2000))
    for place in range(0, len(data), 3):
        spoilt = bytes(data[:place]) + bytes([data[place] ^ 0x15]) + bytes(data[place + 1 :])
        assert outcome(spoilt)


def binary(*pairs):
    """A binary DXF of R2000, with two-byte codes."""
    out = b"AutoCAD Binary DXF\r\n\x1a\x00"
    for code, value in zip(pairs[::2], pairs[1::2], strict=True):
        out += struct.pack("<H", code)
        if isinstance(value, str):
            out += value.encode() + b"\0"
        else:
            out += struct.pack("<d" if isinstance(value, float) else "<h", value)
    return out


HEAD = (0, "SECTION", 2, "HEADER", 9, "$ACADVER", 1, "AC1015", 9, "$INSUNITS", 70, 4, 0, "ENDSEC")
DISC = (0, "SECTION", 2, "ENTITIES", 0, "CIRCLE", 8, "0", 100, "AcDbCircle", 10, 5.0, 20, 6.0, 40)


def test_a_binary_file_is_read():
    profile = read_profile(binary(*HEAD, *DISC, 7.5, 0, "ENDSEC", 0, "EOF"))
    assert profile.size_mm == (15, 15)
    assert profile.unit_declared == "mm"


@pytest.mark.parametrize("radius", [float("nan"), float("inf"), 0.0, -1.0, 1e15])
def test_a_binary_file_is_scanned_like_any_other(radius):
    with pytest.raises(Unreadable):
        read_profile(binary(*HEAD, *DISC, radius, 0, "ENDSEC", 0, "EOF"))


def test_every_cut_of_a_binary_file_is_refused():
    data = binary(*HEAD, *DISC, 7.5, 0, "ENDSEC", 0, "EOF")
    for length in range(len(data) - 1):
        with pytest.raises(Unreadable):
            scan(data[:length])


def test_data_after_the_end_of_a_binary_file_is_refused():
    with pytest.raises(Unreadable, match="after the end"):
        scan(binary(*HEAD, *DISC, 7.5, 0, "ENDSEC", 0, "EOF", 0, "CIRCLE"))


def test_a_scale_that_throws_the_plate_past_a_kilometre_is_refused():
    data = raw(insert("B", 0, 0, 41, 1e6, 42, 1e6, 43, 1e6), blocks=block("B", circle(0, 0, 5)))
    with pytest.raises(Unreadable, match="km"):
        read_profile(data)


def test_thousands_of_curves_that_need_too_many_points_are_refused_not_drawn():
    ellipse = tag(0, "ELLIPSE", 8, "0", 10, 0, 20, 0, 11, 400000, 21, 0, 40, 0.5)
    with pytest.raises(Unreadable, match="points"):
        read_profile(raw(ellipse * 50))


def test_a_large_flat_drawing_is_read_or_refused_within_the_limits():
    """20,000 crossing lines: quadratic work would not end in time."""
    data = raw(*(line(0, k % 700, 700, (k * 7919) % 700) for k in range(20_000)))
    began = time.monotonic()
    assert "8 s" in (said := outcome(data)) or "stopped" in said or said == "not usable"
    assert time.monotonic() - began < 20
