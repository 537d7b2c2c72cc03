"""
Sampling plans and what they do with a lot, against published tables and exact distributions.

MIL-STD-105E tables I and II-A (= ISO 2859-1:1999 tables 1 and 2-A), AQL 0.65 to 6.5 %, as a guide of the US Government
prints them with every arrow; scipy for the distributions.
"""

from __future__ import annotations

import csv
import json
from fractions import Fraction
from pathlib import Path

import pytest
from scipy import stats
from scipy.optimize import brentq

from ledger.domain.errors import BadInput, UnknownName
from ledger.standards.sampling import every_piece, odds_of_lot, odds_of_many, plan, smallest_sample
from ledger.standards.table import table

ROWS = Path(__file__).parent / "published_rows.csv"
LOTS = (8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000)
SIZES = dict(
    zip("ABCDEFGHJKLMNPQ", (2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250), strict=True)
)
# Rejection numbers by letter; v and ^ are the arrows down and up, at AQL 0.65, 1.0, 1.5, 2.5, 4.0 and 6.5 %.
GUIDE = {
    "A": "v v v v v 1", "B": "v v v v 1 ^", "C": "v v v 1 ^ v", "D": "v v 1 ^ v 2", "E": "v 1 ^ v 2 3",
    "F": "1 ^ v 2 3 4", "G": "^ v 2 3 4 6", "H": "v 2 3 4 6 8", "J": "2 3 4 6 8 11", "K": "3 4 6 8 11 15",
    "L": "4 6 8 11 15 22", "M": "6 8 11 15 22 ^", "N": "8 11 15 22 ^ ^", "P": "11 15 22 ^ ^ ^",
}  # fmt: skip
AQLS = ("0.65", "1.0", "1.5", "2.5", "4.0", "6.5")


def expected(name):
    with ROWS.open(encoding="utf-8", newline="") as lines:
        return json.loads(next(row["expected"] for row in csv.DictReader(lines) if row["id"] == name))


def guided(letter, column):
    """Size and rejection number by the printed arrows."""
    letters = "".join(GUIDE)
    while (cell := GUIDE[letter].split()[column]) in "v^":
        letter = letters[letters.index(letter) + (1 if cell == "v" else -1)]
    return SIZES[letter], int(cell)


@pytest.mark.parametrize("column", range(6))
@pytest.mark.parametrize("letter", GUIDE)
def test_a_plan_is_the_one_that_the_printed_arrows_lead_to(letter, column):
    lot = LOTS["ABCDEFGHJKLMNP".index(letter)]
    size, refuse = guided(letter, column)
    found = plan(lot, AQLS[column])
    assert found.letter == letter
    assert found.sample == min(size, lot)
    assert found.refuse == (refuse if size < lot else 1)


def test_code_letters_of_level_two_by_lot_size():
    for lots, letter in expected("SA-LETTER-II").items():
        if not lots.startswith(">"):
            low, high = map(int, lots.split("-"))
            assert {plan(low, "1.0").letter, plan(high, "1.0").letter} == {letter}


@pytest.mark.parametrize("name", ["SA-AQL1.0", "SA-AQL2.5"])
def test_plans_of_one_quality_level_with_arrows_followed(name):
    for letter, (size, accept, refuse) in expected(name).items():
        lot = LOTS["ABCDEFGHJKLMNP".index(letter)]
        found = plan(lot, name.removeprefix("SA-AQL"))
        assert (found.sample, found.accept, found.refuse) == (min(size, lot), accept, refuse)


def test_whole_look_ups_and_when_every_piece_is_inspected():
    cases = [(200, "1.0"), (60, "0.65"), (10, "2.5"), (6, "1.0"), (1000, "1.0"), (30, "4.0")]
    found = [plan(*case) for case in cases]
    assert [[p.letter, p.sample, p.accept, p.refuse, p.whole_lot] for p in found] == expected("SA-ARROWS")


def test_the_single_plan_of_a_printed_example():
    found = plan(10_000, "1.5")
    assert [found.sample, found.accept, found.refuse] == expected("SA-VIGNETTE")["single"]


def test_a_level_changes_the_letter_and_never_below_the_lot():
    assert [plan(150, "1.0", level).letter for level in ("I", "II", "III")] == ["D", "F", "G"]
    assert plan(4, "1.0").whole_lot
    assert plan(4, "1.0").accept == 0


def test_the_largest_lot_at_level_three_has_letter_q():
    # ISO 2859-1 tables 1 and 2-A (from memory): 1,250 pieces, accepted with up to 14 bad ones at 0.65 %.
    found = plan(500_000, "0.65", "III")
    assert (found.letter, found.sample, found.accept, found.refuse) == ("Q", 1250, 14, 15)


def test_no_cell_of_the_table_leads_outside_it():
    for level in ("I", "II", "III"):
        for aql in table("sampling")["plans"]["levels"]:
            for lot in LOTS:
                assert 0 < plan(lot, aql, level).sample <= lot


@pytest.mark.parametrize(
    ("lot", "aql", "level", "fault"),
    [
        (0, "1.0", "II", BadInput),
        (-4, "1.0", "II", BadInput),
        (500_001, "1.0", "II", BadInput),
        (10, "1.1", "II", UnknownName),
        (10, "one", "II", BadInput),
        (10, "1.0", "IV", UnknownName),
    ],
)
def test_what_is_no_lot_no_quality_level_and_no_inspection_level_is_refused(lot, aql, level, fault):
    with pytest.raises(fault):
        plan(lot, aql, level)


def test_binomial_acceptance_as_printed_for_ten_pieces_and_three():
    shares = [k / 100 for k in range(1, 11)]
    assert [odds_of_many(10, 3, p) for p in shares] == pytest.approx(expected("SA-OC-10-3"), abs=5.1e-8)


def test_operating_characteristic_of_letter_j():
    row = expected("SA-OC-J")
    assert [odds_of_many(80, 2, p) for p in (0.01, 0.02, 0.05, 0.1)] == pytest.approx(row["Pa"], abs=1e-6)
    found = [brentq(lambda p, at=at: odds_of_many(80, 2, p) - at, 1e-9, 0.5) for at in (0.95, 0.5, 0.1)]
    assert found == pytest.approx(row["p"], abs=1e-6)


def test_the_smallest_plan_between_two_risks():
    def holds(n, c):
        return odds_of_many(n, c, 0.05) >= 0.95 and odds_of_many(n, c, 0.15) <= 0.075

    assert next([n, c] for n in range(1, 200) for c in range(n) if holds(n, c)) == expected("SA-FINDPLAN")


def test_lots_of_twenty_five_by_the_handout():
    odds = [float(odds_of_lot(25, 5, 0, bad)) for bad in (2, 5)]
    assert odds == pytest.approx(expected("SA-HYPER-25"), abs=5e-5)


def test_hypergeometric_and_binomial_differ_for_a_small_lot():
    row = expected("SA-HYP-BIN-POI")
    assert [float(odds_of_lot(400, 100, 2, bad)) for bad in (3, 10)] == pytest.approx(row["hyper"], abs=1e-6)
    assert [odds_of_many(100, 2, bad / 400) for bad in (3, 10)] == pytest.approx(row["binom"], abs=1e-6)


def test_odds_are_those_of_scipy_for_every_small_lot():
    for lot in range(1, 9):
        for sample in range(lot + 1):
            for bad in range(lot + 1):
                for accept in range(3):
                    ours = float(odds_of_lot(lot, sample, accept, bad))
                    assert ours == pytest.approx(stats.hypergeom.cdf(accept, lot, bad, sample), abs=1e-12)


def test_the_smallest_sample_finds_a_bad_piece_often_enough_and_one_less_does_not():
    for lot in (4, 7, 25, 60):
        for bad in range(1, lot + 1):
            n = smallest_sample(lot, bad)
            assert odds_of_lot(lot, n, 0, bad) <= Fraction(1, 10)
            assert n == 0 or odds_of_lot(lot, n - 1, 0, bad) > Fraction(1, 10)


def test_what_may_pass_is_the_largest_number_of_bad_pieces_that_often_does():
    found = plan(25, "2.5")
    bad = found.may_pass()
    assert found.odds(bad) > Fraction(1, 10) >= found.odds(bad + 1)
    assert every_piece(25).may_pass() == 0
    assert plan(4, "1.0").may_pass() == 0
