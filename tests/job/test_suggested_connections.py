"""What drawings speak of is recorded by number, with its hole groups, in one go or not at all."""

from __future__ import annotations

import json

import pytest
from bench_job import PLATE, plate_dxf

from ledger.acts.parts import NameGroup
from ledger.cli import main
from ledger.domain.errors import BadInput

PATTERN = ((30.0, 30.0), (90.0, 36.0), (84.0, 70.0), (40.0, 77.0))


@pytest.fixture
def job(bench, monkeypatch):
    """ARM fits CAP; FOOT fits RAIL in three places; BASE and TURN are connected already."""
    monkeypatch.setenv("FITUP_BY", "Mira")
    monkeypatch.setenv("FITUP_JOB", bench.place)
    square = ((20.0, 20.0), (60.0, 25.0), (50.0, 64.0), (23.0, 51.0))
    rail = tuple((x + 80 * k, y) for k in range(3) for x, y in square)
    for number, points, size, width in (
        ("ARM", PATTERN, 6.6, 120),
        ("CAP", (*PATTERN, (12.0, 90.0)), 5.0, 160),
        ("FOOT", square, 11.0, 90),
        ("RAIL", rail, 11.0, 300),
    ):
        bench.job.write_part(number, PLATE, by="Mira")
        bench.job.take_profile(number, f"{number}.dxf", plate_dxf(points, size, width=width), by="Mira")
    return bench.job


def entries(job):
    return [w.kind for w in job.journal()]


def pairs(job):
    return {n.number: (n.proposal.a, n.proposal.b) for n in job.suggest() if n.proposal.proposed}


def number_of(job, *parts):
    return next(number for number, pair in pairs(job).items() if pair == parts)


def test_all_records_what_leaves_no_choice(job):
    assert set(pairs(job).values()) == {("ARM", "CAP"), ("FOOT", "RAIL")}
    before = entries(job)
    assert job.record_suggested("all", by="Mira") == ("ARM-CAP",)
    assert entries(job)[len(before) :] == ["name_group", "name_group", "record_connection"]
    made = next(c for c in job.connections() if c.name == "ARM-CAP")
    assert (made.kind, made.fastener, made.joint, made.turned_over) == ("bolted", "M6", "tapped", "no")
    assert [(p.part, p.group) for p in made.plies] == [("ARM", "CAP"), ("CAP", "ARM")]
    assert {len(g.labels) for p in ("ARM", "CAP") for g in job.part(p).groups} == {4}
    view = job.connection_view("ARM-CAP")
    assert view.fit is not None
    assert job.record_suggested("all", by="Mira") == ()
    assert job.verify() == ()


def test_a_choice_is_recorded_as_it_was_entered(job):
    number = number_of(job, "FOOT", "RAIL")
    proposal = next(n.proposal for n in job.suggest() if n.number == number)
    assert len(proposal.choices) == 3
    job.record_suggested(f"{number}b", by="Mira")
    (group,) = job.part("RAIL").groups
    assert set(group.labels) == set(proposal.choices[1].holes_b)


def test_numbers_stay_when_some_are_recorded(job):
    before = pairs(job)
    job.record_suggested(str(number_of(job, "ARM", "CAP")), by="Mira")
    assert pairs(job) == before


@pytest.mark.parametrize(
    "marks", ["{foot}", "{arm},{foot}", "{foot}z", "0", "99", "{arm}..99", "2..1", "", "x", "{arm}b"]
)
def test_what_is_marked_wrongly_records_nothing(job, marks):
    before = entries(job)
    arm, foot = number_of(job, "ARM", "CAP"), number_of(job, "FOOT", "RAIL")
    with pytest.raises(BadInput):
        job.record_suggested(marks.format(arm=arm, foot=foot), by="Mira")
    assert entries(job) == before


def test_a_refusal_on_the_way_records_nothing(job, monkeypatch):
    from ledger.acts.connections import RecordConnection

    def refused(self, facts):
        if self.name == "FOOT-RAIL":
            raise BadInput("not this one")

    before = entries(job)
    monkeypatch.setattr(RecordConnection, "check", refused)
    arm, foot = number_of(job, "ARM", "CAP"), number_of(job, "FOOT", "RAIL")
    with pytest.raises(BadInput, match="not this one"):
        job.record_suggested(f"{arm},{foot}a", by="Mira")
    assert entries(job) == before


def test_groups_that_are_there_are_used_and_names_that_are_taken_are_not(bench, job):
    labels = tuple(h.label for h in job.part("ARM").holes)
    bench.do(NameGroup, number="ARM", name="top", labels=labels)
    bench.do(NameGroup, number="CAP", name="ARM", labels=labels[:2])
    bench.connection("ARM-CAP")
    assert job.record_suggested(str(number_of(job, "ARM", "CAP")), by="Mira") == ("ARM-CAP 2",)
    made = next(c for c in job.connections() if c.name == "ARM-CAP 2")
    assert [p.group for p in made.plies] == ["top", "ARM 2"]


def test_what_is_connected_already_says_so(job):
    shown = {(n.proposal.a, n.proposal.b): n for n in job.suggest()}
    known = [n for n in shown.values() if n.connection]
    assert [n.connection for n in known] == ["TURN-BASE"]
    with pytest.raises(BadInput, match="recorded already, as TURN-BASE"):
        job.record_suggested(str(known[0].number), by="Mira")


def test_the_command_shows_numbers_reasons_and_choices(job, capsys):
    assert main(["suggest"]) == 0
    said = capsys.readouterr().out
    assert "ARM on CAP: M6 tapped, 4 holes; very likely" in said
    assert "3 ways; which is meant?" in said
    assert "2 proposals; not shown: 1 pair that looks like one part in two versions (--all)" in said
    assert main(["suggest", "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)["proposals"]
    assert [r["number"] for r in rows] == [1, 2, 3]
    assert main(["suggest", "--record", "all"]) == 0
    assert "1 connection is recorded: ARM-CAP" in capsys.readouterr().out
    assert main(["suggest", "--record", "7"]) == 2


def test_a_hole_at_a_wrong_place_is_no_go(job):
    wrong = (*PATTERN[:3], (PATTERN[3][0], PATTERN[3][1] + 3), (140.0, 20.0))
    job.take_profile("CAP", "CAP.dxf", plate_dxf(wrong, 6.6, width=160), by="Mira")
    job.take_profile("ARM", "ARM.dxf", plate_dxf((*PATTERN, (10.0, 10.0)), 6.6, width=120), by="Mira")
    assert ("ARM", "CAP") not in pairs(job).values()  # three holes that agree are no more than possible
    wrong = (*PATTERN, (100.0, 12.0), (15.0, 81.0))
    job.take_profile("ARM", "ARM.dxf", plate_dxf(wrong, 6.6, width=120), by="Mira")
    job.take_profile("CAP", "CAP.dxf", plate_dxf((*wrong[:5], (18.0, 81.0)), 6.6, width=160), by="Mira")
    job.record_suggested(str(number_of(job, "ARM", "CAP")), by="Mira")
    (verdict,) = job.verdicts(["ARM"])
    assert "offset" in {f.code for f in verdict.stops}
