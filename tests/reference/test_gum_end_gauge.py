"""The end gauge of JCGM 100:2008 (GUM) H.1, and ISO 14253-1 limits of proof."""

from __future__ import annotations

import math

import pytest
from uncertainties import ufloat

from ledger.domain.errors import BadInput
from ledger.domain.uncertainty import Contribution, combined, decide, rectangular, scatter, stated


def end_gauge():
    length, alpha = 50_000_623.0, 11.5e-6
    return (
        Contribution("calibration of the standard", 25.0, 18),
        Contribution("repeated observations", 5.8, 24),
        Contribution("random effects of the comparator", 3.9, 5),
        Contribution("systematic effects of the comparator", 6.7, 8),
        Contribution("difference of expansion", length * 0.1 * 1e-6 / math.sqrt(3), 50),
        Contribution("difference of temperature", length * alpha * 0.05 / math.sqrt(3), 2),
    )


def test_gum_h1_gives_32_nm_16_degrees_of_freedom_and_93_nm():
    found = combined(end_gauge(), level=0.99)  # JCGM 100:2008 H.1.6; second order left out, as there in H.1.4
    assert found.u == pytest.approx(31.66, abs=0.05)
    assert math.floor(found.dof) == 16
    assert found.k == pytest.approx(2.92, abs=0.005)
    assert found.expanded == pytest.approx(93, abs=1.5)


def test_the_sum_agrees_with_the_uncertainties_library():
    total = sum(ufloat(0, c.u) for c in end_gauge())
    assert combined(end_gauge()).u == pytest.approx(total.std_dev, rel=1e-12)


def test_iso_14253_proves_from_9_92_to_10_08():
    # LSL 9.9, USL 10.1, U 0.02: accept 9.92 to 10.08, reject below 9.88 and above 10.12
    def outcome(value):
        return decide(value, 9.9, 10.1, 0.02).outcome

    assert [outcome(v) for v in (9.9201, 10.0799)] == ["inside"] * 2
    assert [outcome(v) for v in (9.8799, 10.1201)] == ["outside"] * 2
    assert [outcome(v) for v in (9.9199, 9.8801, 10.0801, 10.1199)] == ["not proven"] * 4
    assert decide(9.91, 9.9, 10.1, 0.02).better_than == pytest.approx(0.01)


def test_scatter_is_the_deviation_of_the_mean_and_a_zero_is_refused():
    assert scatter([1.8, 1.9, 1.8]).u == pytest.approx(0.057735 / math.sqrt(3), rel=1e-4)
    assert rectangular("x", 0.5).u == pytest.approx(0.288675, rel=1e-5)
    with pytest.raises(BadInput, match="claims to be exact"):
        stated(0.0)
