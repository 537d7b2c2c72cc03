"""What lies over a hole: every standard clearance hole is closed by it, and none as wide as its cover."""

import pytest

from ledger.domain.connection import JOINTS
from ledger.standards.bearing import covers
from ledger.standards.clearance_holes import clearance_hole, clearance_holes
from ledger.standards.fasteners import fasteners
from ledger.standards.hardware import all_hardware

# ASME B18.2.8 has no clearance hole above 1-1/2, where ASME B18.2.6 still has hardware
SIZES = [f.designation for f in fasteners() if f.size in all_hardware() and f.size in clearance_holes()]


@pytest.mark.parametrize("joint", JOINTS)
@pytest.mark.parametrize("washers", [None, 0, 1, 2])
def test_no_cover_goes_through_the_clearance_hole_of_its_own_size(joint, washers):
    for size in SIZES:
        for cover in filter(None, covers(size, joint, washers)):
            assert not cover.lets_through(clearance_hole(size).medium_mm), (size, cover)


@pytest.mark.parametrize("size", SIZES)
def test_a_washer_closes_a_coarse_hole_wherever_the_bolt_stands_in_it(size):
    for cover in filter(None, covers(size, "through")):
        assert not cover.leaves_open(clearance_hole(size).coarse_mm)


@pytest.mark.parametrize("joint", JOINTS)
def test_every_cover_goes_through_a_hole_as_wide_as_itself(joint):
    for size in SIZES:
        for cover in filter(None, covers(size, joint)):
            assert cover.lets_through(cover.diameter_mm)
            assert cover.lets_through(float("nan"))
            assert cover.leaves_open(float("nan"))


def test_one_washer_lies_on_the_wider_side():
    assert [c.what for c in covers("M12", "through", 1) if c] == ["washer", "nut"]
    assert [c.what for c in covers("M12", "through", 1, wide_last=True) if c] == ["head", "washer"]


def test_a_countersunk_head_is_wider_than_its_bolt_and_narrower_than_three_of_them():
    heads = [(c.diameter_mm, c.bolt_mm) for s in SIZES if (c := covers(s, "countersunk")[0])]
    assert len(heads) > 20
    assert all(bolt * 1.5 < head < bolt * 3 for head, bolt in heads)
