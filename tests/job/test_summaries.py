"""Verdicts remembered outside the job: current for one seal only, and nothing where the file cannot be believed."""

from __future__ import annotations

import json

import pytest

from ledger.judge.blockers import waits_on
from ledger.judge.summaries import Kept, Stamp, cache_folder, remember, remembered, summary

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


def the_file():
    (path,) = cache_folder().glob("verdicts-*.json")
    return path


def test_what_was_judged_is_remembered(bench, kept):
    assert remembered(bench.job.ident) == kept


def test_another_job_remembers_nothing_of_it(kept):
    assert remembered("another") is None


def test_the_file_of_another_job_put_in_its_place_is_left_aside(bench, kept):
    remember("another", kept)
    other = next(p for p in cache_folder().glob("verdicts-*.json") if "another" in p.read_text())
    mine = next(p for p in cache_folder().glob("verdicts-*.json") if p != other)
    mine.write_bytes(other.read_bytes())
    assert remembered(bench.job.ident) is None


@pytest.mark.parametrize("damage", [b"", b"{", b"[]", b"\xff\xfe", b'{"digest": "0", "kept": "{}"}'])
def test_a_damaged_file_is_left_aside(bench, kept, damage):
    the_file().write_bytes(damage)
    assert remembered(bench.job.ident) is None


def test_a_go_written_in_by_hand_is_left_aside(bench, kept):
    sealed = json.loads(the_file().read_text())
    the_file().write_text(json.dumps({**sealed, "kept": sealed["kept"].replace("false", "true")}))
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
