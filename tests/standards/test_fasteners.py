"""A fastener is found by any of its spellings, and an unknown one is refused with its neighbours."""

import pytest

from ledger.domain.errors import UnknownName
from ledger.standards.fasteners import fastener, fasteners

SPELLINGS = {
    "M8": ["m8", "M8", " M 8 ", "M8x1.25", "M8 × 1.25", "M8X1.250", "M8 x 1.25"],
    "M8x1": ["M8x1", "m8x1.0", "M8×1"],
    "1/4-20": ["1/4-20", "1/4", '1/4"', "1/4 in", '1/4"-20', "1/4-20 UNC", "1/4 unc", "1/4 – 20"],
    "1/4-28": ["1/4-28", "1/4 UNF", "1/4-28 UNF"],
    "#10-24": ["#10-24", "#10", "No. 10-24", "no10", "# 10 - 24"],
    "#10-32": ["#10-32", "No.10-32", "#10 UNF"],
    "M7": ["M7", "m7x1"],
    "1-1/8-7": ["1-1/8", "1 1/8", '1 1/8"-7', "1-1/8-7 UNC", "1 1/8 - 7"],
    "2-4.5": ['2"', "2-4.5", "2 in"],
    "1-12": ["1-12", "1 UNF", '1" UNF'],
    "1-8": ["1-8", '1"', "1 in", "1-8 UNC", '1"-8'],
}


@pytest.mark.parametrize(("designation", "spelling"), [(d, s) for d, all_ in SPELLINGS.items() for s in all_])
def test_a_fastener_is_found_by_any_spelling(designation, spelling):
    assert fastener(spelling).designation == designation


@pytest.mark.parametrize(
    "name",
    [
        "",
        "M9",
        "2",
        "11/8",
        "2-4.25",
        "M8x25",
        "M8x1.251",
        "8",
        "1",
        "10-24",
        "1/4-20 UNF",
        "1/5",
        "M8\x00",
        "nan",
        "M" * 500,
        "M8x",
    ],
)
def test_an_unknown_fastener_is_refused(name):
    with pytest.raises(UnknownName):
        fastener(name)


def test_the_refusal_names_the_nearest_known():
    with pytest.raises(UnknownName, match=r"no fastener 'M8x25'.*M8"):
        fastener("M8x25")


def test_every_designation_finds_itself():
    assert [fastener(f.designation) for f in fasteners()] == list(fasteners())
    assert len({f.designation for f in fasteners()}) == len(fasteners())


@pytest.mark.parametrize("f", fasteners(), ids=lambda f: f.designation)
def test_sizes_of_a_thread_agree_with_each_other(f):
    """D1 = D - 1.0825 P is the least minor diameter (ISO 68-1); inch tables round it to a thousandth."""
    slack = 0.001 if f.system == "ISO metric" else 0.015
    assert f.minor_min_mm == pytest.approx(f.diameter_mm - 1.0825318 * f.pitch_mm, abs=slack)
    assert f.minor_min_mm < f.minor_max_mm < f.diameter_mm == f.largest_mm
    assert f.minor_min_mm - 0.02 <= f.tap_drill_mm <= f.minor_max_mm + 0.05
    assert f.source


def test_a_bare_size_is_coarse():
    for f in fasteners():
        if f.series in ("fine", "UNF"):
            bare = f.size if f.size[0] in "#M" else f'{f.size}"'
            assert fastener(bare).pitch_mm > f.pitch_mm


def test_inch_threads_are_in_mm():
    half = fastener("1/2-13")
    assert (half.diameter_mm, half.tap_drill) == (12.7, "27/64")
    assert half.pitch_mm == pytest.approx(25.4 / 13, abs=1e-6)
