"""Gauges, strengths, densities, areas and masses against published values; each source beside its figures."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.domain.density import read_density
from ledger.domain.quantity import read_length
from ledger.domain.record import Part, TakenProfile
from ledger.domain.shape import Contour, Hole, Profile
from ledger.papers.figures import figures
from ledger.standards.gauges import gauge_thickness
from ledger.standards.materials import material

# Machinery's Handbook 31st ed. p. 1453 table 20: aluminium (Brown and Sharpe), inches
ALUMINIUM = {
    10: 0.1019, 11: 0.0907, 12: 0.0808, 13: 0.0720, 14: 0.0641, 16: 0.0508, 18: 0.0403, 20: 0.0320, 22: 0.0253,
}  # fmt: skip
# Machinery's Handbook 31st ed. p. 1453 table 20: stainless, inches
STAINLESS = {10: 0.1406, 11: 0.1250, 12: 0.1094, 14: 0.0781, 16: 0.0625, 18: 0.0500, 20: 0.0375}


@pytest.mark.parametrize(("gauge", "inches"), ALUMINIUM.items())
def test_aluminium_gauges(gauge, inches):
    said = float(read_length(gauge_thickness(f"{gauge} ga", "6061-T6")).mm) / 25.4
    assert said == pytest.approx(inches, abs=1e-9)
    # Brown and Sharpe wire gauge: t = 0.005 x 92^((36 - n)/39)
    assert said == pytest.approx(0.005 * 92 ** ((36 - gauge) / 39), abs=6e-5)


@pytest.mark.parametrize(("gauge", "inches"), STAINLESS.items())
def test_stainless_gauges(gauge, inches):
    assert float(read_length(gauge_thickness(f"#{gauge} gauge", "304")).mm) / 25.4 == pytest.approx(inches)


def test_steel_gauges_weigh_what_the_manufacturers_gauge_says():
    """10 ga: 5.625 lb/ft2 = 41.82 lb per square foot and inch x 0.1345 in; 16 ga 2.5 lb/ft2 (manufacturers' gauge)."""
    for gauge, pounds in ((10, 5.625), (11, 5.0), (14, 3.125), (16, 2.5), (18, 2.0)):
        inches = float(read_length(gauge_thickness(f"{gauge} ga", "A36")).mm) / 25.4
        assert inches * 41.82 == pytest.approx(pounds, abs=0.0025)


# EN 10025-2:2004 table 7: least yield up to 16 mm and over 16 to 40 mm, tensile strength 3 to 100 mm, MPa
@pytest.mark.parametrize(
    ("grade", "thin", "thick", "least", "most"),
    [("S235", 235, 225, 360, 510), ("S275JR", 275, 265, 410, 560), ("S355", 355, 345, 470, 630)],
)
def test_structural_steels(grade, thin, thick, least, most):
    strength = material(grade).strength
    assert (strength.yield_mpa(16), strength.yield_mpa(16.1), strength.yield_mpa(40)) == (thin, thick, thick)
    assert strength.yield_mpa(41) is None
    assert strength.yield_mpa(0) is None
    assert (strength.least_mpa, strength.most_mpa) == (least, most)


@pytest.mark.parametrize(
    ("grade", "proof", "tensile"),
    [
        ("A36", 250, 400),  # Philpot, Mechanics of Materials (Wiley 2017) table D.1
        ("304", 207, 517),  # textbook average property table, annealed; in part from memory
        ("6061-T6", 240, 290),  # Callister and Rethwisch 3e appendix B: specified minimum of sheet
    ],
)
def test_other_grades(grade, proof, tensile):
    strength = material(grade).strength
    assert (strength.yield_mpa(6), strength.least_mpa) == (proof, tensile)


def test_a_material_without_a_grade_has_no_strength():
    assert material("mild steel").strength is None
    assert material("aluminium 6061").strength is None


def test_units_of_density():
    """Water: 62.43 lb/ft3 and 0.03613 lb/in3 at 1000 kg/m3; steel 0.2836 lb/in3 (common handbook values)."""
    assert read_density("62.43 lb/ft3").kg_m3 == pytest.approx(1000, abs=0.1)
    assert read_density("0.2836 lb/in3").kg_m3 == pytest.approx(7850, abs=1)
    assert read_density("2.7 g/cm³").kg_m3 == read_density("2700 kg/m^3").kg_m3 == pytest.approx(2700)


def part(profile, **fields):
    taken = TakenProfile(profile, "p.dxf", "a" * 64, "b" * 64, "mm")
    return Part("P", "A", "", "cut", material="S355", thickness=read_length("10 mm"), taken=taken, **fields)


@given(st.floats(50, 300), st.floats(50, 300), st.floats(2, 20), st.integers(0, 4))
def test_mass_area_length_and_pierces_of_a_slotted_plate_with_round_corners(wide, high, radius, count):
    """By plane geometry: a rectangle with corner radii, round holes, one obround slot."""
    w, h, r = wide, high, radius
    bulge = math.tan(math.pi / 8)
    ring = Contour(
        (
            (r, 0, 0), (w - r, 0, bulge), (w, r, 0), (w, h - r, bulge),
            (w - r, h, 0), (r, h, bulge), (0, h - r, 0), (0, r, bulge),
        )
    )  # fmt: skip
    holes = tuple(Hole(f"H{k}", ((10.0 * k, 0.0),), 6.0) for k in range(count))
    slot = Hole("S", ((20.0, 30.0), (35.0, 30.0)), 8.0)
    found = figures(part(Profile(outline=ring, outlines=(ring,), holes=(*holes, slot))))
    area = w * h - (4 - math.pi) * r * r - count * math.pi * 9 - (math.pi * 16 + 15 * 8)
    length = 2 * (w + h) - (8 - 2 * math.pi) * r + count * math.pi * 6 + math.pi * 8 + 30
    assert found.area_mm2 == pytest.approx(area)
    assert found.cut_length_mm == pytest.approx(length)
    assert found.pierces == 2 + count
    assert found.mass_kg == pytest.approx(area * 10 * 7.85e-6)


def test_a_stated_density_comes_before_the_table():
    ring = Contour(((0, 0, 0), (100, 0, 0), (100, 100, 0), (0, 100, 0)))
    drawn = Profile(outline=ring, outlines=(ring,))
    assert figures(part(drawn)).mass_kg == pytest.approx(0.785)
    assert figures(part(drawn, density=read_density("2.7 g/cm3"))).mass_kg == pytest.approx(0.27)
