"""Materials have densities; one that is not listed is none, not an error."""

import pytest

from ledger.standards.materials import material, materials


@pytest.mark.parametrize(
    ("name", "density"),
    [
        ("mild steel", 7850),
        ("A36", 7850),
        ("Stainless 304", 7900),
        ("6061-T6", 2700),
        ("aluminium  5052", 2680),
    ],
)
def test_a_material_is_found_by_name_or_grade(name, density):
    found = material(name)
    assert found is not None
    assert found.density_kg_m3 == density


def test_a_material_that_is_not_listed_is_none():
    assert material("oak from the shed") is None
    assert material("") is None


def test_a_bare_family_is_not_taken_for_a_grade():
    assert [material(n).name for n in ("aluminium", "stainless")] == ["aluminium", "stainless steel"]


@pytest.mark.parametrize("m", materials(), ids=lambda m: m.name)
def test_a_material_has_a_source(m):
    assert m.source
    assert 400 < m.density_kg_m3 < 9000
