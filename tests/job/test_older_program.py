"""What an older program read and judged is looked at again by the one at hand; what was locked stays as it was."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ledger.checks import all_checks
from ledger.domain.errors import NotReleasable, Unreadable
from ledger.domain.finding import Finding
from ledger.judge import bench as cases
from ledger.profile import read as reading

BOTH = ("BASE", "TURN")


@pytest.fixture
def older(bench, monkeypatch):
    """Two plates taken and signed by a program whose reader is older than the one that looks at them."""
    with monkeypatch.context() as patch:
        patch.setattr(reading, "READER_VERSION", "0")
        bench.two_plates()
        bench.sign_all(*BOTH)
    return bench


def read_as(monkeypatch, change):
    """From now on the reader at hand gives what `change` makes of a profile."""
    true = reading.read_profile
    monkeypatch.setattr(reading, "read_profile", lambda data, **said: change(true(data, **said)))


def stops(bench):
    return {(v.part, s.code) for v in bench.job.verdicts(BOTH) for s in v.stops}


def refused(bench):
    """What keeps a set that everybody has signed from being locked; nothing is written."""
    with pytest.raises(NotReleasable) as told:
        bench.job.lock(BOTH, "Jonas", bench.folder / "out")
    assert not list((bench.folder / "out").iterdir())
    return {(v.part, s.code) for v in told.value.verdicts for s in v.stops}


def everywhere(code):
    return {(number, code) for number in BOTH}


def test_a_drawing_that_a_newer_reader_reads_the_same_keeps_its_signatures(older):
    assert stops(older) == set()
    assert older.job.lock(BOTH, "Jonas", older.folder / "out").packet.exists()


def test_a_hole_that_a_newer_reader_sees_elsewhere_stops_until_the_drawing_is_taken_again(older, monkeypatch):
    def moved(profile):
        first = profile.holes[0]
        ((x, y),) = first.core
        return replace(profile, holes=(replace(first, core=((x + 0.01, y),)), *profile.holes[1:]))

    with monkeypatch.context() as patch:
        read_as(patch, moved)
        assert refused(older) == everywhere("profile_changed")
    older.plate("BASE")
    assert ("BASE", "profile_changed") not in stops(older)


def test_what_only_a_newer_reader_finds_wrong_stops_though_the_shapes_are_the_same(older, monkeypatch):
    seen = Finding("entity_unknown", "something nobody has spoken for", severity="stop", where="profile")
    read_as(monkeypatch, lambda profile: replace(profile, findings=(*profile.findings, seen)))
    assert refused(older) == everywhere("profile_changed")


def test_a_note_more_is_no_other_reading(older, monkeypatch):
    seen = Finding("entity_unknown", "something to know", severity="note", where="profile")
    read_as(monkeypatch, lambda profile: replace(profile, findings=(*profile.findings, seen)))
    assert stops(older) == set()


def test_a_file_that_a_newer_reader_refuses_stops(older, monkeypatch):
    def refuses(_profile):
        raise Unreadable("this holds what no vendor reads")

    read_as(monkeypatch, refuses)
    assert refused(older) == everywhere("profile_changed")


def test_a_locked_revision_keeps_what_was_read(older, monkeypatch):
    older.job.lock(BOTH, "Jonas", older.folder / "out")
    read_as(monkeypatch, lambda profile: replace(profile, holes=()))
    (verdict,) = older.job.verdicts(["BASE"])
    assert verdict.go
    assert len(older.job.part("BASE").holes) == 4


def test_what_a_newer_check_finds_stops_though_everybody_has_signed(older, monkeypatch):
    """A signature speaks of the part and not of the program: the same subject, is judged by today's check."""
    assert stops(older) == set()

    def stricter(case):
        yield Finding("open_contour", "seen by the newer check", severity="stop", where="profile")

    newer = tuple(replace(c, rule=stricter) if c.name == "profile_sound" else c for c in all_checks())
    monkeypatch.setattr(cases, "all_checks", lambda: newer)
    assert refused(older) == everywhere("open_contour")


def test_a_newer_build_reads_nothing_that_an_older_one_kept(older, monkeypatch):
    older.job.verdicts(BOTH)
    assert older.job.judging.outcomes.looked > 0
    monkeypatch.setattr("ledger.judge.case_digests.build", lambda: "another build")
    other = older.reopen()
    before = other.judging.outcomes.looked
    other.verdicts(BOTH)
    assert other.judging.outcomes.looked - before > 20
