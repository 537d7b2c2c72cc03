"""Vendors: recorded as one line or by options, kept through undo, export and import, and told when they deliver."""

from __future__ import annotations

import json
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.acts.base import make
from ledger.acts.vendors import RecordVendor
from ledger.cli import main
from ledger.domain.errors import BadInput
from ledger.domain.vendor import Vendor
from ledger.job import Job
from ledger.words.vendors import cut_by, vendor_line, vendor_words

NEW_YEAR = date(2027, 1, 1)
DAYS = st.integers(0, 900).map(lambda n: (NEW_YEAR + timedelta(n)).isoformat())
SOME = st.builds(
    Vendor,
    name=st.sampled_from(["Kerf & Son", "Plate Works", "Mühlbach-Schnitt"]),
    processes=st.lists(st.sampled_from(["laser", "plasma", "water-jet"]), unique=True).map(tuple),
    lead_days=st.none() | st.integers(0, 1000),
    weekdays=st.sets(st.integers(0, 6), min_size=1).map(lambda s: tuple(sorted(s))),
    days_off=st.sets(DAYS, max_size=30).map(lambda s: tuple(sorted(s))),
)


@given(SOME)
def test_a_vendor_written_as_its_line_reads_as_the_same_vendor(vendor):
    assert Vendor(**vendor_line(vendor_words(vendor)).fields) == vendor


def test_a_vendor_is_kept_through_replay_export_and_import(bench, tmp_path):
    bench.do(RecordVendor, name="Kerf & Son", processes=("laser",), lead_days=10, days_off=("2027-05-01",))
    bench.do(RecordVendor, name="Kerf & Son", processes=("laser", "plasma"), lead_days=12)
    before = bench.job.vendors()
    assert before == (Vendor("Kerf & Son", ("laser", "plasma"), 12),)
    bench.job.export(tmp_path / "out")
    with Job.bring_in(str(tmp_path / "again.db"), tmp_path / "out", lambda _n: "", bench.clock) as again:
        assert again.vendors() == before
    assert bench.job.verify() == ()


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"weekdays": ()}, "never works"),
        ({"weekdays": (7,)}, "never works"),
        ({"weekdays": (4, 1)}, "in order"),
        ({"lead_days": -1}, "lead_days"),
        ({"lead_days": 1001}, "lead_days"),
        ({"days_off": ("2027-02-30",)}, "not a date"),
        ({"processes": ("lazer",)}, "no process 'lazer'"),
    ],
)
def test_a_vendor_that_cannot_be_is_refused(bench, fields, said):
    with pytest.raises(BadInput, match=said):
        bench.job.do(make(RecordVendor, name="Kerf & Son", **fields), by="Mira")
    assert bench.job.vendors() == ()


def test_what_goes_out_on_a_day_is_due_on_the_last_working_day_of_the_lead():
    week = Vendor("Kerf & Son", (), 10, days_off=("2027-05-06",))
    assert cut_by(week, "2027-04-30") == "2027-05-17"  # 3 to 14 May are ten days, less one day off
    assert cut_by(Vendor("Kerf & Son", (), 1), "2027-04-30") == "2027-05-03"
    assert cut_by(Vendor("Kerf & Son", (), 0), "2027-04-30") == "2027-04-30"
    assert cut_by(Vendor("Kerf & Son"), "2027-04-30") == ""


def test_the_command_records_by_line_and_by_options_and_lists(bench, capsys):
    base = ["--job", bench.place, "--by", "Mira", "--json", "vendor"]
    assert main([*base, "Kerf & Son: laser; lead 10 days; Mon..Thu; off 2027-05-01..2027-05-02"]) == 0
    assert main([*base, "Plate Works", "--processes", "waterjet", "--lead", "5"]) == 0
    capsys.readouterr()
    assert main(base) == 0
    first, second = json.loads(capsys.readouterr().out)["vendors"]
    assert (first["weekdays"], first["days_off"]) == ([0, 1, 2, 3], ["2027-05-01", "2027-05-02"])
    assert (second["name"], second["processes"], second["lead_days"]) == ("Plate Works", ["water-jet"], 5)
    assert second["due_if_sent_today"] > bench.job.day
    in_words = [w for w in base if w != "--json"]
    assert main(in_words) == 0
    assert capsys.readouterr().out.splitlines()[1] == f"  sent today, due {first['due_if_sent_today']}"
    assert main([*base, "Kerf & Sons"]) == 2
    assert main([*base, "Kerf & Son: laser; lead -3 days"]) == 2
