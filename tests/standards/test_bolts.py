"""What a bolt is made to: the standard, the shank and the hexagon behind its thread."""

from __future__ import annotations

from itertools import permutations

import pytest

from ledger.checks.thread_size import _thread
from ledger.domain.connection import JOINTS
from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.position import read_also
from ledger.standards.bolts import standards
from ledger.standards.fasteners import fastener, fasteners
from ledger.standards.hardware import hardware
from ledger.standards.table import table

STRUCTURAL = {"M16": 16.70, "M20": 20.84, "M24": 24.84, "M30": 30.84, "M36": 37.00}


@pytest.mark.parametrize(
    "standard", ["EN 14399-3", "EN 14399-4", "ISO 4016", "din en 14399-4", "EN ISO 4016"]
)
@pytest.mark.parametrize(("size", "largest"), STRUCTURAL.items())
def test_a_structural_or_grade_c_bolt_is_as_thick_as_its_standard_allows(standard, size, largest):
    bolt = fastener(f"{size} {standard}")
    assert (bolt.largest_mm, bolt.shank_mm, bolt.diameter_mm) == (
        largest,
        float(size[1:]),
        float(size[1:]),
    )


def test_without_a_standard_the_shank_is_nominal_and_that_is_said():
    bolt = fastener("M20")
    assert bolt.largest_mm == 20.0
    assert "names no bolt standard" in bolt.assumption
    assert "20 mm" in bolt.assumption
    assert fastener("M20 ISO 4014").largest_mm == 20.0
    assert not fastener("M20 ISO 4014").assumption
    assert "names no bolt standard" in fastener("M20 washer ISO 7093").assumption


def test_a_fit_bolt_is_drawn_a_millimetre_thicker():
    assert (fastener("M20 EN 14399-8").shank_mm, fastener("M20 EN 14399-8").largest_mm) == (21.0, 21.0)


def test_a_shank_and_a_hexagon_are_entered():
    bolt = fastener("M20 shank 20.84 hex 36")
    assert (bolt.size, bolt.diameter_mm, bolt.shank_mm, bolt.largest_mm) == ("M20", 20.0, 20.84, 20.84)
    assert hardware("M20 shank 20.84 hex 36").across_flats_mm == 36.0
    assert bolt.designation == "M20 shank 20.84 mm hex 36 mm"
    assert fastener("1/2-13 hex 7/8").make.across_flats_mm == pytest.approx(22.225)
    assert fastener("1/2-13 shank 13.1 mm").largest_mm == 13.1


def test_a_standard_brings_its_hexagon_nut_and_washer():
    heavy = hardware("M20 EN 14399-3")
    assert (heavy.across_flats_mm, heavy.nut_height_mm, heavy.washer_thickness_mm) == (32.0, 18.0, 4.3)
    assert hardware("M12 DIN 931").across_flats_mm == 19.0
    assert hardware("M12 washer ISO 7093").washer_mm == 37.0
    assert hardware("M12 ISO 4016 washer ISO 7093").nut_height_mm == 12.2
    assert hardware('3/4" ASTM A325').across_flats_mm == pytest.approx(31.75)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("M20 EN 14398", "EN 14399"),
        ("M10 EN 14399-3", "size of EN 14399-3"),
        ("M20 ASTM A325", "inch threads"),
        ("1/2-13 ISO 4014", "metric threads"),
        ("M20 shank 18", "20 to 30 mm"),
        ("M20 shank 200", "20 to 30 mm"),
        ("M20 hex 19", "width across flats"),
        ("M20 shank", "length"),
        ("M20 shank 21 shank 22", "twice"),
        ("M20 washer ISO 1", "washer standard"),
        ("M20 washer", "washer standard"),
        ("M11 EN 14399-3", "M10, M12"),
    ],
)
def test_what_cannot_be_is_refused_with_what_can(text, said):
    with pytest.raises(BadInput, match=said):
        fastener(text)


@pytest.mark.parametrize("name", standards())
def test_every_size_of_every_standard_is_found_and_no_bolt_is_thinner_than_its_thread(name):
    row = next(r for r in table("bolts")["standard"] if name in (r["name"], *r["also"]))
    sizes = row.get("shank", {"M12": 12.0} if row["system"] == "ISO metric" else {"1/2": 0.5})
    for size in sizes:
        text = f'{size}" {name}' if row["system"] == "UN" else f"{size} {name}"
        bolt, parts = fastener(text), hardware(text)
        assert bolt.diameter_mm <= bolt.shank_mm <= bolt.largest_mm < 1.15 * bolt.diameter_mm
        assert parts.across_flats_mm > 1.2 * bolt.diameter_mm
        assert parts.washer_hole_mm >= bolt.diameter_mm
        assert bolt.make.standard == name


@pytest.mark.parametrize("words", [*permutations(["shank 38", "hex 60", "washer ISO 7093"])])
def test_the_words_behind_the_standard_come_in_any_order(words):
    made = fastener(" ".join(("M36", "EN 14399-3", *words))).make
    assert (made.largest_mm, made.across_flats_mm, made.washer) == (38.0, 60.0, (39.0, 110.0, 9.2))


@pytest.mark.parametrize("joint", JOINTS)
def test_a_standard_does_not_hide_the_joint_of_a_further_fastener(joint):
    said = read_also(f"M20 EN 14399-3 shank 20.9 {joint} A on B")
    assert (said.fastener, said.joint, said.groups) == ("M20 EN 14399-3 shank 20.9", joint, ("A", "B"))


def test_every_plain_fastener_is_as_thick_as_its_thread():
    assert all(f.largest_mm == f.shank_mm == f.diameter_mm and f.assumption for f in fasteners())


@pytest.mark.parametrize("size", [42.0, 48.0, 60.0, 64.0, 50.8, 38.1])
def test_a_plain_hole_of_a_round_size_is_not_asked_for_a_large_or_rare_thread(size):
    assert _thread(size) is None
    assert _thread(8.5) == ("M10", "the tap drill")


def test_an_unknown_standard_names_those_of_its_own_threads():
    with pytest.raises(UnknownName) as refused:
        fastener("1/2 ASTM A326")
    assert "ASTM A325" in str(refused.value)
    assert not any(name.startswith("ISO") for name in refused.value.known)
