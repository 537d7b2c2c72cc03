"""Broken and hostile files: each is refused, in words, within the limits; none hangs, none is half read."""

from __future__ import annotations

import struct
import time

import pytest
from profile_drawings import (
    R2000,
    arc,
    block,
    box,
    circle,
    header,
    insert,
    line,
    plate_bytes,
    raw,
    section,
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


def lwpolyline(points, *more):
    values = [v for x, y, b in points for v in (10, x, 20, y, 42, b)]
    head = (8, "0", 100, "AcDbEntity", 100, "AcDbPolyline", 90, len(points), 70, 1)
    return tag(0, "LWPOLYLINE", *head, *values, *more)


def nested(depth, times, leaf=""):
    """`depth` blocks, each placing the next one `times` times; the last holds `leaf`."""
    body = "".join(block(f"B{k}", insert(f"B{k + 1}") * times) for k in range(depth - 1))
    return body + block(f"B{depth - 1}", leaf or circle(0, 0, 1))


def knots(count, degree):
    inner = list(range(1, count - degree))
    return [0] * (degree + 1) + inner + [len(inner) + 1] * (degree + 1)


REFUSED = {
    "nothing": (b"", "empty"),
    "white space": (b" \r\n\t\n", "empty"),
    "a sentence": (b"this is not a drawing", "not a DXF"),
    "a picture": (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "not a DXF"),
    "a PDF": (b"%PDF-1.7\n1 0 obj", "PDF"),
    "a DWG with another name": (b"AC1027\0\0\0\0\0\0", "DWG"),
    "a text that begins with numbers": (b"1\n2\n3\n4\n", "begin with a section"),
    "no end mark": (raw(PLATE, eof=False), "cut short"),
    "cut in the middle of the entities": (raw(PLATE)[:-60], "cut short|middle of a tag|lacks group"),
    "two ENTITIES sections": (
        raw(PLATE).replace(b"0\nEOF\n", section("ENTITIES", "").encode()) + b"0\nEOF\n",
        "two ENT",
    ),
    "a section within a section": (raw(tag(0, "SECTION", 2, "OBJECTS"), PLATE), "begins inside"),
    "no ENTITIES section": ((header(INSUNITS=4) + tag(0, "EOF")).encode(), "no ENTITIES"),
    "data after the end": (raw(PLATE, tail=circle(5, 5, 1)), "after the end"),
    "a NUL": (raw(PLATE, circle(5, 5, 1, layer="A\0B")), "NUL"),
    "a group code that is no number": (raw(PLATE).replace(b"\n11\n", b"\neleven\n", 1), "group code"),
    "nan for a centre": (raw(PLATE, circle("nan", 5, 1)), "should be a number"),
    "inf for a radius": (raw(PLATE, circle(5, 5, "inf")), "should be a number"),
    "nan for a bulge": (
        raw(lwpolyline([(0, 0, "nan"), (5, 0, 0), (5, 5, 0)]), head=R2000),
        "should be a number",
    ),
    "a number with an underscore": (raw(PLATE, circle("1_0", 5, 1)), "should be a number"),
    "a number past what a float holds": (raw(PLATE, circle(5, 5, "1e400")), "numbers up to"),
    "a radius of 1e15": (raw(PLATE, circle(5, 5, 1e15)), "numbers up to"),
    "a coordinate just past 1e6": (raw(PLATE, circle(1000000.5, 5, 1)), "numbers up to"),
    "radius 0": (raw(PLATE, circle(5, 5, 0)), "radius of 0"),
    "a negative radius": (raw(PLATE, arc(5, 5, -2, 0, 90)), "radius of -2"),
    "a circle without a radius": (raw(PLATE, tag(0, "CIRCLE", 8, "0", 10, 5, 20, 5)), "lacks group 40"),
    "a line without an end": (raw(PLATE, tag(0, "LINE", 8, "0", 10, 5, 20, 5)), "lacks group 11"),
    "two radii": (raw(PLATE, circle(5, 5, 1, 40, 9)), "group 40 2 times"),
    "two centres": (raw(PLATE, circle(5, 5, 1, 10, 9)), "group 10 2 times"),
    "a polyline that miscounts": (
        raw(lwpolyline([(0, 0, 0), (5, 0, 0), (5, 5, 0)]).replace("\n90\n3\n", "\n90\n4\n"), head=R2000),
        "says 4 vertices and has 3",
    ),
    "knots that go backwards": (raw(spline(1, [(0, 0), (1, 0)], [0, 1, 0, 1]), head=R2000), "backwards"),
    "knots without length": (raw(spline(1, [(0, 0), (1, 0)], [1, 1, 1, 1]), head=R2000), "no length"),
    "too few knots": (raw(spline(2, [(0, 0), (1, 0), (2, 0)], [0, 0, 1, 1]), head=R2000), "4 knots for 3"),
    "degree a million": (raw(spline(10**6, [(0, 0), (1, 0)], [0, 0, 1, 1]), head=R2000), "degree 1000000"),
    "degree 0": (raw(spline(0, [(0, 0)], [0, 1]), head=R2000), "degree 0"),
    "10,001 control points": (
        raw(spline(1, [(k, 0) for k in range(10001)], knots(10001, 1)), head=R2000),
        "10001 points",
    ),
    "a negative weight": (
        raw(spline(1, [(0, 0), (1, 0)], [0, 0, 1, 1], 41, 1, 41, -1), head=R2000),
        "weights",
    ),
    "a thousand rows of a thousand": (
        raw(insert("B", 0, 0, 70, 1000, 71, 1000, 44, 1, 45, 1), blocks=block("B", circle(0, 0, 1))),
        "expand to 1000000 entities",
    ),
    "ten nested blocks of ten": (raw(insert("B0"), blocks=nested(10, 10)), "expand to"),
    "a block that holds itself": (raw(insert("B0"), blocks=block("B0", insert("B0"))), "contains itself"),
    "two blocks that hold each other": (
        raw(insert("A"), blocks=block("A", insert("b")) + block("B", insert("a"))),
        "contains itself",
    ),
    "seventeen nested blocks": (raw(insert("B0"), blocks=nested(17, 1)), "17 deep"),
    "3,000 nested blocks": (raw(insert("B0"), blocks=nested(3000, 1)), "deep"),
    "a block defined twice": (raw(blocks=block("B") + block("b")), "defined twice"),
    "minus one rows": (raw(insert("B", 0, 0, 71, -1), blocks=block("B")), "-1 rows"),
    "a count that is a word": (raw(insert("B", 0, 0, 71, "many"), blocks=block("B")), "whole number"),
    "more than 10 MB": (b"999\n" + b"x" * (10 * 1024 * 1024), "10.0 MB"),
    "100,001 entities": (raw(line(0, 0, 1, 1) * 100_001), "more than 100000 entities"),
    "a unit that is a word": (raw(PLATE, head=header(INSUNITS="inch")), "whole number"),
}


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
