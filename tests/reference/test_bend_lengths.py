"""Published bend allowances, deductions and distances against ours."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.domain.bend import Bend
from ledger.domain.quantity import read_length
from ledger.standards.bending import (
    allowance_mm,
    bent,
    default_k,
    default_radius_mm,
    din_k,
    hole_to_bend_mm,
    off_per_bend,
    relief_mm,
    setback_mm,
    smallest_flange_mm,
)

LINE = ((0.0, 0.0), (100.0, 0.0))
MM = st.floats(0.3, 30.0)
ANGLES = st.floats(1.0, 179.0)


def stated(angle="90", **fields):
    lengths = {k: read_length(v) for k, v in fields.items() if k != "k_factor"}
    k_factor = Decimal(fields["k_factor"]) if "k_factor" in fields else None
    return Bend("B1", LINE, Decimal(angle), "up", k_factor=k_factor, **lengths)


def test_two_legs_of_fifty_need_the_flat_that_the_identity_gives():
    # BD = 2 (R + T) tan(A/2) - BA; flat = legs outside - BD; R 3, T 3, K 0.40, 90 deg: first principles.
    found = bent(stated(radius="3 mm", k_factor="0.4"), 3.0, "mild steel")
    assert found.allowance_mm == pytest.approx(6.5973, abs=1e-3)
    assert found.deduction_mm == pytest.approx(5.4027, abs=1e-3)
    assert 50 + 50 - found.deduction_mm == pytest.approx(94.5973, abs=1e-3)


def test_the_trade_example_with_k_0_44():
    # Arithmetic: t 3, inside R 3, K 0.44, 90 deg: allowance 6.786 mm; legs 50 + 50: 94.786 mm flat.
    found = bent(stated(radius="3 mm", k_factor="0.44"), 3.0, "mild steel")
    assert found.allowance_mm == pytest.approx(6.786, abs=5e-4)
    assert 100 - found.deduction_mm == pytest.approx(94.786, abs=5e-4)


# Machinery's Handbook 31st ed. p. 1421, formulas (32) to (34): 0.55, 0.64 or 0.71 T + 1.57 R; the same as K-factors.
@pytest.mark.parametrize(
    ("material", "coefficient", "k"),
    [
        ("copper", 0.55, 0.3501),
        ("mild steel", 0.64, 0.4074),
        ("6061-T6", 0.64, 0.4074),
        ("bronze", 0.71, 0.452),
    ],
)
def test_square_bends_take_the_length_of_the_handbook(material, coefficient, k):
    found, source = default_k(material, 3.0, 2.0)
    assert found == pytest.approx(k, abs=5e-4)
    assert "1421" in source
    assert allowance_mm(90.0, 3.0, 2.0, found) == pytest.approx(coefficient * 2 + 1.57 * 3, abs=3e-3)


# DIN 6935: k = 0.65 + 0.5 log10(r/s), 1 from r/s 5 on.
@pytest.mark.parametrize(("ratio", "k"), [(1, 0.65), (2, 0.8005), (3, 0.8886), (5, 0.9995), (8, 1.0)])
def test_the_correction_is_that_of_din_6935(ratio, k):
    assert din_k(ratio * 2.0, 2.0) == pytest.approx(k, abs=5e-4)


def test_a_material_without_a_row_goes_by_din_6935():
    k, source = default_k("stainless 304", 3.0, 3.0)
    assert k == pytest.approx(0.325)
    assert "DIN 6935" in source


def test_the_deduction_of_thin_plate_changes_sign_where_din_6935_says():
    # DIN 6935: opening angle 180 - 360/pi = 65 deg 24' 30" for s -> 0.
    thin = 1e-9

    def deduction(opening):
        turned = 180 - opening
        return 2 * setback_mm(turned, 10.0, thin) - allowance_mm(turned, 10.0, thin, 0.4)

    assert deduction(65.40844097383535) == pytest.approx(0.0, abs=1e-7)
    assert deduction(65.5) > 0 > deduction(65.3)


def test_a_hole_keeps_the_distance_of_the_shop_guides():
    # Common practice, shop guides: hole edge to bend line at least 2 t + R; t 3, R 3: 9 mm.
    assert hole_to_bend_mm(3.0, 3.0) == 9


def test_air_bends_leave_and_ask_for_what_is_common_practice():
    # Common practice, no source: V 8 t, R 0.16 V, flange 0.7 V, relief t by t + R, ±0.5 mm and ±1 deg a bend.
    assert default_radius_mm(3.0) == pytest.approx(0.16 * 24)
    assert smallest_flange_mm(3.0) == pytest.approx(0.7 * 24)
    assert relief_mm(3.0, 2.0) == (3.0, 5.0)
    assert off_per_bend()[:2] == (0.5, 1.0)


@given(angle=ANGLES, radius=MM, thick=MM, k=st.floats(0.001, 0.5))
def test_a_bend_never_takes_more_flat_than_its_outer_face_is_long(angle, radius, thick, k):
    taken = allowance_mm(angle, radius, thick, k)
    assert math.radians(angle) * radius < taken <= math.radians(angle) * (radius + thick / 2) * (1 + 1e-12)


@given(angle=st.floats(1.0, 90.0), radius=MM, thick=MM, k=st.floats(0.001, 0.5))
def test_up_to_square_the_outside_legs_are_longer_than_the_flat(angle, radius, thick, k):
    assert 2 * setback_mm(angle, radius, thick) > allowance_mm(angle, radius, thick, k)


@given(angle=ANGLES, radius=MM, thick=MM)
def test_allowance_deduction_and_k_say_the_same(angle, radius, thick):
    angle, radius, thick = round(angle, 2), round(radius, 3), round(thick, 3)
    by_k = bent(stated(str(angle), radius=f"{radius} mm", k_factor="0.41"), thick, "")
    by_allowance = bent(
        stated(str(angle), radius=f"{radius} mm", allowance=f"{by_k.allowance_mm:.9f} mm"), thick, ""
    )
    assert by_allowance.k == pytest.approx(0.41, abs=1e-5)
    assert by_allowance.deduction_mm == pytest.approx(by_k.deduction_mm, abs=1e-6)
    if by_k.deduction_mm > 1e-6:
        by_table = bent(
            stated(str(angle), radius=f"{radius} mm", deduction=f"{by_k.deduction_mm:.9f} mm"), thick, ""
        )
        assert by_table.allowance_mm == pytest.approx(by_k.allowance_mm, abs=1e-6)
