"""Names of what leaves."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from packet_samples import plate

from ledger.domain.errors import BadInput
from ledger.domain.quantity import Length
from ledger.packet.names import MOST_NAME, dxf_name, is_safe, packet_name, part_stem, require_distinct

HASH = "0123456789abcdef" * 4
DEVICES = ("CON", "con", "Prn", "AUX", "NUL", "COM1", "com9", "LPT1", "lpt9")


def test_a_file_is_named_for_number_revision_material_thickness_and_quantity():
    assert dxf_name(plate()) == "PL-101-A_S355_12mm_x2.dxf"


def test_an_inch_thickness_is_named_in_mm():
    inch = Length("3/16 in", Decimal("4.7625"))
    assert dxf_name(plate(thickness=inch)) == "PL-101-A_S355_4.7625mm_x2.dxf"


def test_what_is_not_recorded_is_left_out_of_the_name():
    assert dxf_name(plate(material="", thickness=None, quantity=None)) == "PL-101-A.dxf"


@pytest.mark.parametrize(
    ("number", "stem"),
    [
        ("../../etc/passwd", "etc-passwd-A"),
        ("/abs", "abs-A"),
        (r"C:\plates\one", "C-plates-one-A"),
        ("...hidden", "hidden-A"),
        ("--flag", "flag-A"),
        ("a  b", "a-b-A"),
        ("a/////b", "a-b-A"),
        ("a---b", "a-b-A"),
        ("a..b", "a.b-A"),
        ("a\x1b[2Jb", "a-2Jb-A"),
        ("a\u202egnp", "a-gnp-A"),
        ("a\nb", "a-b-A"),
        ("a\0b", "a-b-A"),
        ('x";rm', "x-rm-A"),
        ("ø☃", "part-A"),
        ("", "part-A"),
        ("x" * 39 + "-y", "x" * 39 + "-A"),
        ("x" * 200, "x" * 40 + "-A"),
        ("CON.1", "part-CON.1-A"),
        ("nul.x", "part-nul.x-A"),
    ],
)
def test_a_hostile_number_makes_a_plain_name(number, stem):
    assert part_stem(plate(number=number)) == stem
    assert is_safe(f"{stem}.svg")


@pytest.mark.parametrize("device", DEVICES)
def test_a_device_name_of_windows_is_never_a_file(device):
    assert part_stem(plate(number=device, revision="")) == f"part-{device}"
    assert not is_safe(device)
    assert not is_safe(f"{device}.dxf")
    assert not is_safe(f"pictures/{device}.svg")


@given(*[st.text(max_size=200)] * 3)
def test_no_text_makes_an_unsafe_name(number, revision, material):
    name = dxf_name(plate(number=number, revision=revision, material=material))
    assert re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]*\.dxf", name)
    assert len(name) <= MOST_NAME
    assert is_safe(name)


@given(st.lists(st.text(max_size=80), min_size=1, max_size=6), st.text(max_size=80))
def test_no_text_makes_an_unsafe_packet_name(numbers, seal):
    name = packet_name([plate(number=number) for number in numbers], seal)
    assert name.endswith(".zip")
    assert len(name) <= MOST_NAME
    assert is_safe(name)


def test_a_packet_is_named_for_its_parts_and_its_head():
    assert packet_name([plate()], HASH) == "PL-101-A_0123456789ab.zip"


def test_a_large_set_names_three_parts_and_counts_the_rest():
    parts = [plate(number=f"P{k}") for k in range(5)]
    assert packet_name(parts, HASH) == "P0-A_P1-A_P2-A_and-2-more_0123456789ab.zip"


def test_a_packet_of_no_parts_is_refused():
    with pytest.raises(BadInput, match="no parts"):
        packet_name([], HASH)


@pytest.mark.parametrize("twins", [("a.dxf", "A.dxf"), ("a.dxf", "a.dxf")])
def test_names_that_one_disk_would_merge_are_refused(twins):
    with pytest.raises(BadInput, match="one file"):
        require_distinct(twins)


@pytest.mark.parametrize(
    "name",
    [
        "",
        ".",
        "..",
        "../a",
        "/a",
        "a/b",
        "a\\b",
        "C:a",
        ".a",
        "-a",
        "pictures/",
        "pictures/../a",
        "pictures/a/b",
        "a ",
        "a.",
        "a\n",
        "a\0",
        "é",
        "a" * (MOST_NAME + 10),
        "Pictures/a.svg",
        "a*",
        "a?.dxf",
        "a|b",
    ],
)
def test_an_unsafe_name_is_known(name):
    assert not is_safe(name)


def test_a_field_is_cut_at_its_most_figures():
    assert dxf_name(plate(material="m" * 30)) == f"PL-101-A_{'m' * 24}_12mm_x2.dxf"
    assert part_stem(plate(number="n" * 50, revision="r" * 30)) == f"{'n' * 40}-{'r' * 24}"


def test_the_longest_name_of_a_packet_is_120_figures_and_a_file_in_a_folder_may_have_nine_more():
    parts = [plate(number=f"{k}{'x' * 60}") for k in range(10_002)]
    longest = packet_name(parts, HASH)
    assert (MOST_NAME, len(longest)) == (120, 120)
    assert longest.endswith("_and-9999-more_0123456789ab.zip")
    assert is_safe("a" * 129)
    assert not is_safe("a" * 130)
