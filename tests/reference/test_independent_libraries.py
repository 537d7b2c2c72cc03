"""
Doubts, stacks, threads and fits held against libraries that others wrote: GTC, mcerp, screw-thread-lib and pressfit.

They are part of the group `dev`; what is not installed is skipped and says so.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest

from ledger.acts.base import make
from ledger.acts.dimensions import CalculateDimension, RecordDimension
from ledger.acts.parts import RecordPart
from ledger.domain.formula import evaluate, of_unit, read_formula
from ledger.domain.quantity import read_length
from ledger.domain.uncertainty import Contribution, combined, rectangular, resolution, scatter
from ledger.job import Job
from ledger.standards.fasteners import fastener, fasteners
from ledger.standards.instruments import instrument, measured
from ledger.standards.size_limits import limits_of

NOT_THERE = "the group dev is not installed: pip install -e '.[dev]'"
GTC = pytest.importorskip("GTC", reason=NOT_THERE)
mcerp = pytest.importorskip("mcerp", reason=NOT_THERE)
pressfit = pytest.importorskip("pressfit", reason=NOT_THERE)
threads = pytest.importorskip("screw_thread_lib.data", reason=NOT_THERE)
READINGS = ([1.8, 1.9, 1.8], [82.02, 82.05, 82.01, 82.04, 82.03], [1250.0, 1251.5])


@pytest.mark.parametrize("readings", READINGS, ids=len)
def test_repeated_readings_have_the_doubt_that_gtc_gives_them(readings):
    theirs = GTC.type_a.estimate(readings)
    ours = scatter(readings)
    assert (ours.u, ours.dof) == pytest.approx((theirs.u, theirs.df), rel=1e-12)


@pytest.mark.parametrize("readings", READINGS, ids=len)
@pytest.mark.parametrize("level", [0.95, 0.99])
def test_readings_with_an_instrument_have_the_degrees_of_freedom_and_factor_of_gtc(readings, level):
    ours = combined(
        [scatter(readings), resolution(0.5), rectangular("limit", 0.4), Contribution("aim", 0.1, 6)], level
    )
    theirs = (
        GTC.type_a.estimate(readings)
        + GTC.ureal(0, GTC.type_b.uniform(0.25))
        + GTC.ureal(0, GTC.type_b.uniform(0.4))
        + GTC.ureal(0, 0.1, 6)
    )
    assert ours.u == pytest.approx(theirs.u, rel=1e-12)
    assert ours.dof == pytest.approx(theirs.df, rel=1e-9)
    # GTC takes broken degrees of freedom as they are; here they are cut down to a whole number (GUM G.4.1)
    assert ours.k == pytest.approx(
        GTC.reporting.k_factor(math.floor(theirs.df + 1e-9), 100 * level), rel=1e-6
    )
    assert ours.k >= GTC.reporting.k_factor(theirs.df, 100 * level) - 1e-9


def test_a_line_of_readings_comes_to_what_gtc_makes_of_its_causes():
    tool, readings = instrument("tape"), [1250.0, 1251.5, 1250.5]
    found = measured("1250 1251.5 1250.5 mm tape")
    causes = [GTC.ureal(0, c.u, c.dof) for c in tool.contributions(float(np.mean(readings)))]
    theirs = GTC.type_a.estimate(readings) + sum(causes)
    assert float(found.value.mm) == pytest.approx(theirs.x, abs=0.01)
    assert theirs.u <= float(found.standard.mm) <= 1.1 * theirs.u  # two figures, rounded up
    k = GTC.reporting.k_factor(math.floor(theirs.df), 95)
    assert k * theirs.u <= float(found.uncertainty.mm) <= 1.1 * k * theirs.u


RECORDED = {"a": (300.0, 0.40), "b": (120.0, 0.30), "c": (45.0, 0.05)}
FORMULAS = {
    "sum": ("a + b", lambda v: v["a"] + v["b"]),
    "rest": ("a - b - 2*c", lambda v: v["a"] - v["b"] - 2 * v["c"]),
    "twice": ("sum + a", lambda v: v["a"] + v["b"] + v["a"]),
    "back": ("sum - a", lambda v: v["a"] + v["b"] - v["a"]),
    "share": ("sum * c / a", lambda v: (v["a"] + v["b"]) * v["c"] / v["a"]),
    "deep": ("twice - back + rest", lambda v: v["a"] * 3 - v["b"] - 2 * v["c"]),
}


@pytest.fixture
def reckoned(tmp_path, clock):
    job = Job.start(str(tmp_path / "fitup.db"), "Pier mount", lambda _name: "", clock)
    job.do(make(RecordPart, number="P", title="plate", form="cut"), by="Mira")
    for name, (size, doubt) in RECORDED.items():
        said = {
            "nominal": f"{size} mm",
            "uncertainty": f"{doubt} mm",
            "source": "measured",
            "instrument": "caliper",
        }
        job.do(make(RecordDimension, number="P", name=name, **said), by="Mira")
    for name, (text, _) in FORMULAS.items():
        job.do(make(CalculateDimension, number="P", name=name, formula=text), by="Mira")
    yield {d.name: d for d in job.part("P").dimensions}
    job.close()


@pytest.mark.parametrize("name", FORMULAS)
def test_a_calculated_dimension_has_the_doubt_of_gtc_also_where_it_rests_on_one_record_twice(reckoned, name):
    known = {n: GTC.ureal(x, u) for n, (x, u) in RECORDED.items()}
    theirs = FORMULAS[name][1](known)
    ours = reckoned[name]
    assert float(ours.nominal.mm) == pytest.approx(theirs.x, abs=1e-3)
    assert theirs.u * (1 - 1e-9) <= float(ours.uncertainty.mm) <= 1.1 * theirs.u  # two figures, rounded up


STACK = "a + b + 2*c - d"
PIECES = {"a": (120.0, 0.05), "b": (45.5, 0.12), "c": (8.0, 0.02), "d": (30.0, 0.08)}


def propagated(text, pieces):
    found = evaluate(read_formula(text), lambda ref: of_unit(Fraction(str(pieces[ref.name][0])), "mm", ref))
    return float(found.number), math.hypot(*(float(s) * pieces[r.name][1] for r, s in found.slopes.items()))


def test_a_stack_of_dimensions_spreads_as_a_simulation_of_it_does():
    mcerp.npts = 20_000
    np.random.seed(7)  # noqa: NPY002 - the library draws from the old generator
    a, b, c, d = (mcerp.N(*PIECES[n]) for n in "abcd")
    theirs = a + b + 2 * c - d
    value, u = propagated(STACK, PIECES)
    assert value == pytest.approx(theirs.mean, abs=1e-3)
    assert u == pytest.approx(theirs.std, rel=0.03)
    points = theirs._mcpts
    within = float(np.mean(np.abs(points - value) <= 1.96 * u))
    assert within == pytest.approx(0.95, abs=0.01)


def test_two_even_spreads_add_up_as_a_simulation_and_the_exact_triangle_say():
    """The sum of two even spreads of ±0.1 is beyond 0.15 once in sixteen; its deviation is 0.1 sqrt(2/3)."""
    mcerp.npts = 20_000
    np.random.seed(11)  # noqa: NPY002 - the library draws from the old generator
    theirs = mcerp.U(-0.1, 0.1) + mcerp.U(-0.1, 0.1)
    ours = combined([rectangular("one", 0.1), rectangular("other", 0.1)])
    assert ours.u == pytest.approx(0.08164965809277261, rel=1e-12)
    assert theirs.std == pytest.approx(ours.u, rel=0.02)
    assert float(np.mean(np.abs(theirs._mcpts) > 0.15)) == pytest.approx(0.0625, abs=0.006)


def test_ten_dimensions_of_a_tenth_add_up_root_sum_square():
    """Worst ±1.0, root sum square ±0.316 (arithmetic); an even spread is 1/sqrt 3 of its half-width."""
    ten = {f"d{k}": (10.0, 0.1) for k in range(10)}
    value, u = propagated(" + ".join(ten), ten)
    assert (value, u) == pytest.approx((100.0, 0.3162), abs=5e-5)
    assert 0.1 / rectangular("x", 0.1).u == pytest.approx(1.7320508075688772, rel=1e-12)


UN = sorted(threads.ASME_UN_2A2B_dict)
OURS = {f.designation.lstrip("#") for f in fasteners()}


@pytest.mark.parametrize("name", [n for n in UN if n in OURS])
def test_unified_threads_are_those_of_asme_b1_1_2019(name):
    row = threads.ASME_UN_2A2B_dict[name]
    found = fastener(name if "/" in name or name.startswith("1-") else f"#{name}")
    inches = [mm / 25.4 for mm in (found.diameter_mm, found.minor_min_mm, found.minor_max_mm)]
    largest = 0.156 if name == "10-24" else row["D1max"]  # ASME B1.1 has 0.156; that library prints 0.155
    assert inches == pytest.approx([row["dbsc"], row["D1min"], largest], abs=1e-6)
    assert (found.series, round(25.4 / found.pitch_mm)) == (row["series"], row["n"])
    assert row["D1min"] - 1e-3 <= found.tap_drill_mm / 25.4 <= row["D1max"] + 1e-3


def test_of_the_threads_of_that_library_only_the_fine_one_inch_ones_are_not_in_the_table():
    assert {n for n in UN if n not in OURS} == {"1-14"}


BANDS = (2, 3, 5, 10, 14, 24, 45, 63, 100, 160, 220, 300, 380, 450, 500)


@pytest.mark.parametrize("size", BANDS)
def test_holes_and_shafts_are_those_of_an_independent_table_of_iso_286(size):
    nominal = read_length(f"{size} mm")
    for letter in ("d", "e", "f", "g", "h", "js", "k", "m", "n", "p"):
        for grade in (6, 7, 8, 9):
            if letter == "k" and grade > 7:
                continue  # refused here
            found = limits_of(f"{letter}{grade}", nominal)
            width = pressfit.it_value(size, grade)
            low = -width / 2 if letter == "js" else pressfit.shaft_deviation(size, letter, grade)
            ends = (low - width, low) if letter in "defgh" else (low, low + width)
            assert (float(found.lower_mm), float(found.upper_mm)) == pytest.approx(
                [e / 1000 for e in ends]
            ), letter
    for grade in range(5, 12):
        hole = limits_of(f"H{grade}", nominal)
        assert (float(hole.lower_mm), float(hole.upper_mm)) == (0, pressfit.it_value(size, grade) / 1000)
