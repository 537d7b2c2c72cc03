"""Order is the entry's number; a time is a claim. Kept in UTC, shown in the time of whoever looks."""

from __future__ import annotations

import json
import sys
import time
from datetime import UTC, datetime, timedelta, timezone

import pytest
from small_job import answer, ask, small_job

from ledger.cli import main
from ledger.domain.moment import local, local_minute
from ledger.job import Job
from ledger.release.custody import examine


@pytest.fixture
def here(monkeypatch):
    """Set the zone of this workstation."""
    if sys.platform == "win32":
        pytest.skip("the zone of a process is not set so here")

    def set_zone(zone):
        monkeypatch.setenv("TZ", zone)
        time.tzset()

    yield set_zone
    monkeypatch.undo()
    time.tzset()


@pytest.fixture
def set_back(tmp_path, clock):
    """A job where the clock of a workstation went back a day for two entries and was put right again."""
    place = str(tmp_path / "fitup.db")
    small_job(place, clock, acts=3).close()
    for day in (1, 1, 3):
        with Job(place, ask, lambda day=day: datetime(2026, 3, day, 12, tzinfo=UTC)) as job:
            answer(job)
    return place


def test_a_clock_set_back_is_shown_and_is_no_tampering(set_back, capsys):
    seen = examine(set_back)
    assert (seen.whole, [entry for entry, _at, _before in seen.clock_set_back]) == (True, [6])
    assert main(["--job", set_back, "--json", "verify"]) == 0
    (step,) = json.loads(capsys.readouterr().out)["clock_set_back"]
    assert (step["entry"], step["at"]) == (6, "2026-03-01T12:00:00Z")
    assert main(["--job", set_back, "journal"]) == 0
    said = capsys.readouterr().out
    assert said.count("the clock was set back before this entry") == 1
    with Job(set_back, ask) as job:
        assert [e.seq for e in job.journal()] == list(range(1, 9))
        assert [e.seq for e in job.journal() if e.set_back_from] == [6]


def test_the_journal_is_kept_in_utc_whatever_the_seats_zone(tmp_path):
    place = str(tmp_path / "fitup.db")
    zone = timezone(timedelta(hours=-11))
    small_job(place, lambda: datetime(2026, 3, 1, 22, 30, tzinfo=zone), acts=1).close()
    with Job(place, ask) as job:
        assert {e.at for e in job.journal()} == {"2026-03-02T09:30:00Z"}


@pytest.mark.parametrize(
    ("zone", "shown", "minute"),
    [
        ("UTC", "2026-03-02 09:00:00 UTC", "2026-03-02 09:00"),
        ("EST5", "2026-03-02 04:00:00 -05:00", "2026-03-02 04:00"),
        ("XXX-5:45", "2026-03-02 14:45:00 +05:45", "2026-03-02 14:45"),
    ],
)
def test_a_moment_is_shown_in_the_time_of_whoever_looks(here, zone, shown, minute):
    here(zone)
    assert local("2026-03-02T09:00:00Z") == shown
    assert local_minute("2026-03-02T09:00:00Z") == minute


def test_what_is_no_moment_stays_as_it_is():
    assert local("yesterday") == local_minute("yesterday") == "yesterday"
