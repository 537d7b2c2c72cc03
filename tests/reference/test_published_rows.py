"""
Every row of the list of published values is asserted by a test, or named as out of scope with the reason.

`published_rows.csv` has them all: id, value, unit, source, the test that holds it, or why none does.
"""

from __future__ import annotations

import csv
import json
import re
from decimal import Decimal
from functools import cache
from pathlib import Path

import pytest

from ledger.domain.quantity import read_length
from ledger.standards.clearance_holes import clearance_hole
from ledger.standards.hardware import hardware
from ledger.standards.materials import material
from ledger.standards.size_limits import limits_of

HERE = Path(__file__).parent
COUNT = 283


@cache
def rows():
    with (HERE / "published_rows.csv").open(encoding="utf-8", newline="") as lines:
        return tuple(csv.DictReader(lines))


def expected(name):
    return json.loads(next(row["expected"] for row in rows() if row["id"] == name))


def test_no_row_is_missing_or_told_twice():
    assert len({row["id"] for row in rows()}) == len(rows()) == COUNT


@pytest.mark.parametrize("row", rows(), ids=lambda row: row["id"])
def test_a_row_is_held_by_a_test_or_out_of_scope_with_a_reason(row):
    assert bool(row["held_by"]) != bool(row["out_of_scope"])
    assert row["source"]
    json.loads(row["expected"])
    if row["held_by"]:
        file, _, name = row["held_by"].partition("::")
        assert re.search(rf"^def {name}\(", (HERE / file).read_text(encoding="utf-8"), re.MULTILINE)
    else:
        assert len(row["out_of_scope"]) > 20


# Rows that our functions answer at once are asked here by their own values, beside the tests that hold them.
@pytest.mark.parametrize("row", [r for r in rows() if r["id"].startswith("CH-ISO273")], ids=lambda r: r["id"])
def test_clearance_holes_of_the_list(row):
    hole = clearance_hole(row["id"].rpartition("-")[2])
    assert [hole.fine_mm, hole.medium_mm, hole.coarse_mm] == expected(row["id"])


@pytest.mark.parametrize("row", [r for r in rows() if re.match(r"FIT-\d", r["id"])], ids=lambda r: r["id"])
def test_fits_of_the_list(row):
    size, hole, shaft = re.fullmatch(r"FIT-(\d+)(H\d)(\w+)", row["id"]).groups()
    required = expected(row["id"])
    for text, um in ((hole, required["hole_um"]), (shaft, required["shaft_um"])):
        found = limits_of(text, read_length(f"{size} mm"))
        assert [float(found.upper_mm * 1000), float(found.lower_mm * 1000)] == um


@pytest.mark.parametrize(
    "row", [r for r in rows() if re.match("BS-(NUT|WASH)-M", r["id"])], ids=lambda r: r["id"]
)
def test_nuts_and_washers_of_the_list(row):
    found, required = hardware(row["id"].rpartition("-")[2]), expected(row["id"])
    if "NUT" in row["id"]:
        assert (found.across_flats_mm, found.nut_height_mm) == (required[0], required[2])
    else:
        said = (found.washer_hole_mm, found.washer_mm, found.washer_thickness_mm)
        assert said == (required["d1"], required["d2"], required["h_max"])


def test_structural_steels_of_the_list():
    for grade, (thin, thick, least, most) in expected("MT-S235").items():
        strength = material(grade).strength
        assert (strength.yield_mpa(16), strength.yield_mpa(40)) == (thin, thick)
        assert (strength.least_mpa, strength.most_mpa) == (least, most)


def test_general_tolerances_of_the_list():
    for name, values in expected("GT-2768-LIN").items():
        for bound, value in zip((3, 6, 30, 120, 400, 1000, 2000, 4000), values, strict=True):
            if value is not None:
                assert limits_of(f"2768-{name}", read_length(f"{bound} mm")).upper_mm == Decimal(str(value))
