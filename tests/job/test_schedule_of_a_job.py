"""The schedule of a job: when each part must go out, by leads, working days, orders, questions and what waits."""

from __future__ import annotations

import json
from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ledger.acts.questions import AskQuestion
from ledger.acts.schedule import RecordDay, RecordWait
from ledger.acts.vendors import RecordVendor
from ledger.cli import main
from ledger.domain.errors import BadInput
from ledger.domain.vendor import Vendor
from ledger.words.schedule import schedule_line, schedule_lines, soon_lines
from ledger.words.vendors import cut_by


@pytest.fixture
def planned(bench):
    """Two plates that one vendor cuts in ten working days, from Monday 2026-03-02 on."""
    bench.do(RecordVendor, name="Kerf & Son", processes=("laser",), lead_days=10)
    return bench


def days(bench):
    return {p.part: p for p in bench.job.schedule().parts}


def test_without_a_day_everything_is_counted_to_the_first_day_on_which_all_can_be_here(planned):
    found = planned.job.schedule()
    assert (found.day, found.all_here) == ("", "2026-03-16")  # ten working days behind Monday
    assert {(p.part, p.send_by, p.here, p.left) for p in found.parts} == {
        ("BASE", "2026-03-02", "2026-03-16", 0),
        ("TURN", "2026-03-02", "2026-03-16", 0),
    }
    assert list(soon_lines(found)) == []


def test_with_a_day_each_part_has_the_last_day_on_which_it_can_go_out(planned):
    planned.do(RecordDay, day="2026-03-27")
    found = days(planned)["BASE"]
    assert (found.send_by, found.here, found.left) == ("2026-03-13", "2026-03-16", 9)
    planned.do(RecordDay, day="2026-03-12")
    found = planned.job.schedule()
    assert found.parts[0].late
    assert found.parts[0].left == -2
    assert "send BASE to Kerf & Son by 2026-02-26; 2 working days LATE" in list(soon_lines(found))
    planned.do(RecordDay, day="")
    assert planned.job.schedule().day == ""


def test_a_part_that_waits_on_another_goes_out_when_that_one_is_here(planned):
    planned.do(RecordWait, number="TURN", after=("BASE",))
    planned.do(RecordDay, day="2026-04-30")
    found = planned.job.schedule()
    assert found.critical == ("BASE", "TURN")
    # by hand: 17 to 30 April are TURN's ten working days, so it goes out on the 16th, the day on which BASE is here;
    # 3 to 16 April are those of BASE
    assert {p.part: (p.send_by, p.here) for p in found.parts} == {
        "BASE": ("2026-04-02", "2026-03-16"),
        "TURN": ("2026-04-16", "2026-03-30"),
    }
    assert days(planned)["TURN"].waits == ("BASE",)


def test_parts_that_would_wait_on_each_other_are_refused_with_the_ring(planned):
    planned.do(RecordWait, number="TURN", after=("BASE",))
    for number, after in (("BASE", ("TURN",)), ("TURN", ("TURN",))):
        with pytest.raises(BadInput, match="it would wait on itself"):
            planned.do(RecordWait, number=number, after=after)
    with pytest.raises(BadInput, match="no part 'ARM'"):
        planned.do(RecordWait, number="TURN", after=("ARM",))
    planned.do(RecordWait, number="TURN", after=())
    planned.do(RecordWait, number="BASE", after=("TURN",))


def test_a_question_holds_a_part_back_until_the_day_by_which_it_is_needed(planned):
    planned.do(AskQuestion, number="BASE", ident="Q1", text="which way up?", needed_by="2026-03-10")
    found = days(planned)["BASE"]
    assert (found.waits, found.here) == (("BASE/Q1",), cut_by(Vendor("Kerf & Son", (), 10), "2026-03-10"))


def test_what_is_ordered_counts_by_its_due_day_and_what_came_is_here(planned):
    planned.lock("BASE", "TURN")
    planned.do(RecordDay, day="2026-03-18")
    parts = {"BASE": 2, "TURN": 2}
    planned.job.record_order(ident="O1", vendor="Kerf & Son", parts=parts, due="2026-03-20", by="Mira")
    planned.job.record_receipt(ident="O1", parts={"BASE": 2}, by="Mira")
    found = days(planned)
    assert found["BASE"].state == "here"
    assert (found["TURN"].state, found["TURN"].here, found["TURN"].left) == ("ordered", "2026-03-20", -2)
    assert list(soon_lines(planned.job.schedule())) == [
        "TURN comes too late with order O1, on 2026-03-20; 2 working days LATE"
    ]


def test_whose_lead_counts_is_never_guessed(planned):
    planned.do(RecordVendor, name="Plate Works", processes=("laser", "plasma"), lead_days=3)
    found = days(planned)["BASE"]
    assert (found.state, found.send_by) == ("not known", "")
    assert found.why == "several vendors cut by laser; fitup part BASE --vendor"
    planned.job.write_part("BASE", {"vendor": "Plate Works"}, by="Mira")
    assert (days(planned)["BASE"].vendor, days(planned)["BASE"].here) == ("Plate Works", "2026-03-05")
    planned.job.write_part("BASE", {"vendor": "Nobody"}, by="Mira")
    assert days(planned)["BASE"].why == "Nobody is not recorded as a vendor"


def test_a_part_that_waits_on_one_of_which_nothing_is_known_has_no_day_either(planned):
    planned.do(RecordWait, number="TURN", after=("BASE",))
    planned.job.write_part("BASE", {"vendor": "Nobody"}, by="Mira")
    found = days(planned)["TURN"]
    assert (found.state, found.send_by, found.here) == ("not known", "", "")
    assert found.why == "it waits on BASE, of which that is not known"


def test_who_cuts_a_part_voids_no_signature_of_it(planned):
    planned.sign_all("BASE", "TURN")
    before = planned.codes("BASE")
    planned.job.write_part("BASE", {"vendor": "Kerf & Son"}, by="Mira")
    assert planned.codes("BASE") == before


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    lead=st.integers(1, 40),
    weekdays=st.sets(st.integers(0, 6), min_size=1).map(lambda s: tuple(sorted(s))),
    off=st.sets(st.integers(0, 60), max_size=10),
    day=st.integers(1, 150),
)
def test_the_last_day_to_send_is_the_last_that_is_in_time(planned, lead, weekdays, off, day):
    start = date(2026, 3, 2)
    days_off = tuple(sorted((start + timedelta(n)).isoformat() for n in off))
    by = (start + timedelta(day)).isoformat()
    fields = {"lead_days": lead, "weekdays": weekdays, "days_off": days_off}
    planned.do(RecordVendor, name="Kerf & Son", processes=("laser",), **fields)
    planned.do(RecordDay, day=by)
    vendor, found = Vendor("Kerf & Son", (), lead, weekdays, days_off), days(planned)["BASE"]
    assert cut_by(vendor, found.send_by) <= by
    after = date.fromisoformat(found.send_by)
    for _ in range(200):  # the next working day is too late
        after += timedelta(1)
        if after.weekday() in weekdays and after.isoformat() not in days_off:
            break
    assert cut_by(vendor, after.isoformat()) > by
    assert found.here == cut_by(vendor, "2026-03-02")
    assert found.late == (found.here > by)


@pytest.mark.parametrize(
    ("line", "fields"),
    [
        ("by 2027-05-01", {"act": "RecordDay", "day": "2027-05-01"}),
        ("by nothing", {"act": "RecordDay", "day": ""}),
        ("ARM-L after BASE, TURN", {"act": "RecordWait", "number": "ARM-L", "after": ("BASE", "TURN")}),
        ("ARM-L after nothing", {"act": "RecordWait", "number": "ARM-L", "after": ()}),
    ],
)
def test_a_line_of_the_schedule_reads(line, fields):
    assert schedule_line(line).fields == fields


def test_the_command_shows_records_and_next_tells_what_must_go_out(planned, capsys):
    base = ["--job", planned.place, "--by", "Mira"]
    for line in ("by 2027-05-01", "TURN after BASE"):
        assert main([*base, "schedule", line]) == 0
    capsys.readouterr()
    assert main([*base, "--json", "schedule"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["day"], told["critical"]) == ("2027-05-01", ["BASE", "TURN"])
    assert main([*base, "schedule"]) == 0
    assert "everything here by 2027-05-01" in capsys.readouterr().out
    assert main([*base, "schedule", "by 2026-01-05"]) == 0
    capsys.readouterr()
    assert main([*base, "next"]) == 0
    assert "send BASE to Kerf & Son by" in capsys.readouterr().out
    assert main([*base, "schedule", "by 2026-13-01"]) == 2


def test_a_job_without_cut_parts_says_so(tmp_path, clock):
    from bench_job import Bench

    made = Bench.started(tmp_path, clock, people=("Mira",))
    assert list(schedule_lines(made.job.schedule())) == ["no part that is cut"]
    made.job.close()
