"""Verdicts remembered outside the job: current for one seal only, and nothing where the file cannot be believed."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest

from ledger.judge.blockers import waits_on
from ledger.judge.cache import Cache, cache_file
from ledger.judge.summaries import Kept, Stamp, remember, remembered, summary

STAMP = Stamp("14:abc", "build", "2026-03-02")
PEOPLE = (("Mira", ("drawn", "checked")), ("Jonas", ("checked",)))


@pytest.fixture(autouse=True)
def _cache(tmp_path, monkeypatch):
    monkeypatch.setenv("FITUP_CACHE", str(tmp_path / "cache"))


@pytest.fixture
def kept(bench):
    found = [summary(v, waits_on(v, PEOPLE)) for v in bench.job.verdicts(("BASE",))]
    made = Kept(STAMP, {s.number: s for s in found})
    remember(bench.job.ident, made)
    return made


def test_what_was_judged_is_remembered(bench, kept):
    assert remembered(bench.job.ident) == kept


def test_another_job_remembers_nothing_of_it(kept):
    assert remembered("another") is None


def test_the_file_of_another_job_put_in_its_place_is_left_aside(bench, kept):
    remember("another", kept)
    cache_file("another").replace(cache_file(bench.job.ident))
    assert remembered(bench.job.ident) is None


@pytest.mark.parametrize("value", [[], {}, "GO", 7, {"stamp": {}, "summaries": []}, {"stamp": STAMP.seal}])
def test_what_is_no_list_of_verdicts_is_left_aside(bench, kept, value):
    cache = Cache(bench.job.ident)
    assert cache.write("verdicts", {"list": value})
    cache.close()
    assert remembered(bench.job.ident) is None


def test_a_go_written_in_by_hand_is_left_aside(bench, kept):
    with closing(sqlite3.connect(cache_file(bench.job.ident))) as file, file:
        file.execute("UPDATE kept SET value = CAST(replace(value, 'false', 'true') AS BLOB)")
    assert remembered(bench.job.ident) is None


def test_a_folder_that_cannot_be_written_costs_nothing(bench, kept, tmp_path, monkeypatch):
    (tmp_path / "a-file").write_text("")
    monkeypatch.setenv("FITUP_CACHE", str(tmp_path / "a-file"))
    remember(bench.job.ident, kept)
    assert remembered(bench.job.ident) is None


def test_a_part_waits_on_its_partner_and_then_on_people(bench):
    (verdict,) = bench.job.verdicts(("BASE",))
    assert waits_on(verdict, PEOPLE) == "TURN open, drawn: Mira +1"


def test_whoever_drew_it_is_not_named_as_the_checker(bench):
    bench.job.sign(("BASE", "TURN"), "drawn", "Mira", {})
    found = bench.job.verdicts(("BASE", "TURN"))
    assert [waits_on(v, PEOPLE) for v in found] == ["checked: Jonas"] * 2


def test_nobody_to_sign_is_said(bench):
    (verdict, _other) = bench.job.verdicts(("BASE", "TURN"))
    assert waits_on(verdict, ()) == "drawn: nobody enrolled, checked: nobody enrolled"
