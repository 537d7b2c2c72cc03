"""Processes say where a hole may lie and how small it may come out."""

import pytest

from ledger.domain.errors import UnknownName
from ledger.standards.processes import process, processes
from ledger.standards.table import table


@pytest.mark.parametrize(
    "name", ["laser", "water-jet", "plasma", "machined", "drilled", "punched", "oxyfuel", "cast"]
)
def test_a_process_is_known(name):
    assert process(name).name == name


@pytest.mark.parametrize(
    ("other", "name"), [("Waterjet", "water-jet"), ("laser  cut", "laser"), ("flame-cut", "oxyfuel")]
)
def test_a_process_is_found_by_its_other_names(other, name):
    assert process(other) == process(name)


def test_what_a_thermal_cut_holds_is_in_one_table_only():
    """No figure beside the one of ISO 9013 by thickness and size, so that the two cannot differ."""
    thermal = {name for made in table("cut_sizes")["class"] for name in made["processes"]}
    assert {p.name for p in processes() if p.hole_shrink_mm is None} == thermal


def test_an_unknown_process_is_refused_with_its_neighbours():
    with pytest.raises(UnknownName, match="laser"):
        process("lazer")


def test_the_zone_is_twice_the_position_either_side():
    """Laser and water-jet ±0.2 mm, plasma ±1 mm: the worse end of common practice."""
    assert [process(n).position_mm for n in ("laser", "water-jet", "plasma")] == [0.4, 0.4, 2.0]


@pytest.mark.parametrize("made", processes(), ids=lambda p: p.name)
def test_a_process_has_a_zone_a_shrink_and_a_source(made):
    assert 0 < made.position_mm <= 3
    assert made.hole_shrink_mm is None or 0 <= made.hole_shrink_mm <= 2
    assert "common practice, no source" in made.source
