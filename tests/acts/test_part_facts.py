"""What a part's record may say, and what it refuses."""

from __future__ import annotations

import pytest

from ledger.domain.density import read_density
from ledger.domain.errors import BadInput, UnknownName
from ledger.standards.materials import row_material, row_strength


def write(bench, **fields):
    bench.job.write_part("BASE", fields, by="Mira")
    return bench.job.part("BASE")


def test_a_gauge_is_kept_as_the_thickness_it_means_in_that_material(bench):
    assert write(bench, material="304", thickness="16 ga").thickness.written == "0.0625 in"
    assert write(bench, material="A36").thickness.written == "0.0625 in"
    assert write(bench, thickness="16ga").thickness.written == "0.0598 in"
    assert write(bench, material="5052-H32", thickness="No. 16 gauge").thickness.written == "0.0508 in"


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"material": "", "thickness": "16 ga"}, "no material yet"),
        ({"material": "plywood", "thickness": "16 ga"}, "gauge of 'plywood' is not known"),
        ({"material": "oak from the shed", "thickness": "16 ga"}, "not known"),
    ],
)
def test_a_gauge_without_a_material_whose_gauge_is_known_is_refused(bench, fields, why):
    with pytest.raises(BadInput, match=why):
        write(bench, **fields)


def test_a_gauge_that_the_table_has_not_is_refused_with_the_nearest(bench):
    with pytest.raises(UnknownName, match="nearest to it: 3, 4, 5"):
        write(bench, material="A36", thickness="2 ga")


@pytest.mark.parametrize("text", ["0 kg/m3", "0.0 g/cm3"])
def test_a_density_of_zero_is_refused(bench, text):
    with pytest.raises(BadInput, match="nothing weighs nothing"):
        write(bench, density=text)


@pytest.mark.parametrize(
    "text", ["7850", "nan kg/m3", "-1 kg/m3", "7850 mm", "7.85 kg/m3", "7850 g/cm3", "1e4 kg/m3"]
)
def test_a_density_without_its_unit_or_out_of_this_world_is_refused(text):
    with pytest.raises(BadInput):
        read_density(text)


def test_a_row_of_the_table_without_density_or_strength_above_zero_is_refused():
    row = {"name": "air", "also": [], "density": 0, "source": "practice"}
    with pytest.raises(BadInput, match="density of 0"):
        row_material(row)
    strong = {"of": "air", "yield": [[16, 0]], "tensile": [1, 0], "source": "practice"}
    with pytest.raises(BadInput, match="strength of 0"):
        row_strength(strong)


def test_what_is_ordered_is_worked_out_from_assemblies_and_spares(bench):
    part = write(bench, per_assembly=4, assemblies=3, spares=2)
    assert part.quantity == 14
    assert write(bench, spares=0).quantity == 12
    assert write(bench, per_assembly=5).quantity == 15


def test_a_plain_number_puts_the_counting_aside_and_the_other_way_round(bench):
    write(bench, per_assembly=4, assemblies=3)
    plain = write(bench, quantity=7)
    assert (plain.quantity, plain.per_assembly, plain.assemblies, plain.spares) == (7, None, None, None)
    assert write(bench, per_assembly=2).quantity == 2
    cleared = write(bench, per_assembly=None)
    assert (cleared.quantity, cleared.per_assembly) == (2, None)


@pytest.mark.parametrize(
    "fields", [{"assemblies": 3}, {"spares": 1}, {"quantity": 7, "per_assembly": 4, "assemblies": 2}]
)
def test_half_a_count_or_two_that_differ_are_refused(bench, fields):
    with pytest.raises(BadInput):
        write(bench, **fields)
    assert bench.job.part("BASE").quantity == 2


def test_a_mask_names_holes_of_the_drawing(bench):
    assert write(bench, masked="H1 H2, top").masks.labels == ("H1", "H2")
    with pytest.raises(UnknownName, match="H9"):
        write(bench, masked="H9")
    with pytest.raises(BadInput, match="twice"):
        write(bench, masked="holes holes")


def test_masked_holes_keep_their_size_and_unmasked_ones_do_not(bench):
    """A coat of 0.2 mm takes 0.4 mm of a hole in the worst case; the margin is half of the sum over both."""

    def margin():
        fit = bench.job.connection_view("TURN-BASE").fit
        return fit.worst_case_margin_mm

    bare = margin()
    write(bench, coating="powder", coating_thickness="0.2 mm")
    coated = margin()
    write(bench, masked="H1 H2 H3 H4")
    assert margin() == pytest.approx(bare)
    write(bench, masked="H1 H2 H3")
    assert margin() == pytest.approx(coated)
    assert coated == pytest.approx(bare - 0.2)


def test_old_records_keep_their_digest(bench):
    """What is not written is not in the digest, so signatures made before these facts were known still hold."""
    from ledger.domain.digest import _own

    assert not {"etched", "masked", "density", "per_assembly"} & set(_own(write(bench, etched="")))
    assert _own(write(bench, etched="BASE"))["etched"] == "BASE"
