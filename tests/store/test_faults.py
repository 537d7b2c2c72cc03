"""
Whatever fails, and wherever it is cut off, the job is whole behind it: everything of a verb happened, or nothing.

Each verb is run again and again; the n-th call to the database or the disk fails, n = 1, 2, 3 … until one run
passes. Then the same with the process killed there. Where making tables or reading lines goes on for hundreds of calls,
only every few are tried, unless FITUP_FAULTS=all asks for each.
"""

from __future__ import annotations

import errno
import itertools
import os
import shutil
import signal
import sqlite3
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
from faulty import Fault, forked
from small_job import PASSPHRASE, answer, ask, small_job
from sqlalchemy import event

from ledger.acts.base import make
from ledger.acts.dimensions import RecordDimension
from ledger.acts.parts import RecordPart
from ledger.domain.errors import BadInput, FitupError
from ledger.job import Job
from ledger.packet.inspect import inspect
from ledger.release.custody import examine
from ledger.store.journal import now
from ledger.store.sealed import keys_folder

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="processes are forked here")


@pytest.fixture
def signed(tmp_path):
    """A job whose stud is signed and may be locked; the job is closed."""
    home = tmp_path / "signed"
    home.mkdir()
    with small_job(str(home / "fitup.db"), lambda: datetime(2026, 3, 2, tzinfo=UTC), acts=0) as job:
        job.do(
            make(RecordPart, number="STUD", title="stud", form="bought", quantity=4, unconnected=True),
            by="Mira",
        )
        job.do(make(RecordDimension, number="STUD", name="length", nominal="40 mm", limits="±0.2"), by="Mira")
        stops = {s.code for v in job.verdicts(["STUD"]) for s in v.stops_against_signing()}
        assert not stops
        job.sign(["STUD"], "checked", "Mira", {})
        assert job.verdicts(["STUD"])[0].go
        job.export(home / "exported")
    return home


def lock(home):
    with Job(str(home / "fitup.db"), ask) as job:
        job.lock(["STUD"], "Mira", home / "out")


def enroll(home):
    with Job(str(home / "fitup.db"), ask) as job:
        job.enroll("Jonas", ("checked",), PASSPHRASE)


def replace_key(home):
    with Job(str(home / "fitup.db"), ask) as job:
        old = job.keys("Mira")[0].key
        job.change_key("Mira", retires=old, new=PASSPHRASE, reason="lost", by="Mira")


def bring_in(home):
    Job.bring_in(str(home / "new.db"), home / "exported", ask).close()


def begin(home):
    Job.start(str(home / "new.db"), "another", ask).close()


def export(home):
    with Job(str(home / "fitup.db"), ask) as job:
        job.export(home / "again.zip")


def backup(home):
    with Job(str(home / "fitup.db"), ask) as job:
        job.backup(home / "copy.db")


def rebuild(home):
    raw = sqlite3.Connection(home / "fitup.db")
    raw.execute("UPDATE fact_stamp SET schema_digest = 'older'")
    raw.commit()
    raw.close()
    Job(str(home / "fitup.db"), ask).close()


VERBS = (lock, enroll, replace_key, bring_in, begin, export, backup, rebuild)
BEFORE = 5  # entries of the job that every verb starts from
ALL = os.environ.get("FITUP_FAULTS") == "all"
STRIDE = {lock: 17, enroll: 7, replace_key: 11, export: 7, backup: 5, bring_in: 67, begin: 29, rebuild: 53}
MOST_CALLS = 1600
WRITES = {lock: 2, enroll: 1, replace_key: 1}


def calls(verb, killed):
    """Which calls to fail, in order, without an end."""
    step = 1 if ALL else STRIDE[verb]
    return itertools.count(1, max(1, step // 3) if killed else step)


def copied(signed, k, keys):
    """The job in a folder of its own, with its keys."""
    home = signed.parent / f"run{k}"
    shutil.copytree(signed, home)
    shutil.rmtree(keys_folder())
    shutil.copytree(keys, keys_folder())
    return home


def check(home, verb, *, killed):
    """The invariants: whole; all or nothing; nothing half under a real name; and the verb goes now."""
    seen = examine(str(home / "fitup.db"))
    assert seen.whole, seen.problems
    assert seen.entries in (BEFORE, BEFORE + WRITES.get(verb, 0))
    left = [p.name for p in home.rglob("*.part")]
    assert killed or not left
    for made in home.glob("new.db"):
        if killed and verb in (begin, bring_in) and not _is_job(made):
            continue
        assert examine(str(made)).problems == ()
    for made in home.glob("copy.db"):
        assert examine(str(made)).entries == BEFORE
    with Job(str(home / "fitup.db"), ask) as job:
        for name, _roles, _key in job.people():
            assert all((keys_folder() / f"{k.key}.pem").is_file() for k in job.keys(name) if k.in_force)
        known = {k.key for name, _r, _k in job.people() for k in job.keys(name)}
        assert killed or {p.stem for p in keys_folder().iterdir()} == known
        if job.part("STUD").locked:
            name, data, _files = job.packet("STUD")
            report = inspect(data)
            assert report.ok
            assert job.holds(report.seal)
            for packet in (home / "out").glob("*.zip"):
                assert packet.read_bytes() == data
        else:
            assert not list((home / "out").glob("*.zip"))
    if seen.entries == BEFORE and verb is lock:
        verb(home)
        assert examine(str(home / "fitup.db")).entries == BEFORE + WRITES[verb]


def _is_job(path):
    try:
        return examine(str(path)).entries > 0
    except FitupError:
        return False


@pytest.mark.parametrize("verb", VERBS, ids=lambda v: v.__name__)
def test_the_nth_call_fails_and_all_or_nothing_happened(signed, tmp_path, verb):
    keys = shutil.copytree(keys_folder(), tmp_path / "kept-keys")
    reached = set()
    for n in calls(verb, killed=False):
        home = copied(signed, n, keys)
        with Fault(n) as fault:
            try:
                verb(home)
            except FitupError:
                pass
            else:
                if not fault.struck:
                    break
        reached.add(fault.struck.split()[0])
        check(home, verb, killed=False)
        shutil.rmtree(home)
    assert not fault.struck
    assert n > 15
    assert len(reached) > 1


@pytest.mark.parametrize("verb", VERBS, ids=lambda v: v.__name__)
def test_the_process_is_killed_at_the_nth_call_that_writes(signed, tmp_path, verb):
    keys = shutil.copytree(keys_folder(), tmp_path / "kept-keys")
    for n in calls(verb, killed=True):
        home = copied(signed, n, keys)

        def work(home=home, n=n):
            with Fault(n, kill=True, only_writing=True):
                verb(home)

        code = forked(work)
        check(home, verb, killed=code != 0)
        shutil.rmtree(home)
        if code == 0:
            break
        assert code == -signal.SIGKILL
    assert n > 5


def test_a_write_ahead_log_cut_anywhere_loses_whole_entries_only(tmp_path):
    place = tmp_path / "fitup.db"
    seals = {}
    with small_job(str(place), now, acts=3) as job:
        for k in range(4):
            seals[job.seal()[0]] = ":".join(map(str, job.seal()))
            answer(job, text=f"zinc {k}")
        seals[job.seal()[0]] = ":".join(map(str, job.seal()))
        shutil.copy(place, tmp_path / "cut.db")
        whole = Path(f"{place}-wal").read_bytes()
    cut = tmp_path / "cut.db"
    page = int.from_bytes(whole[8:12], "big")
    frames = (len(whole) - 32) // (page + 24)
    assert frames > 20
    seen = set()
    for k in range(frames + 1):
        for more in (0, 1, page // 2) if ALL or k % 6 == 0 else (0,):
            (tmp_path / "part.db").write_bytes(cut.read_bytes())
            (tmp_path / "part.db-wal").write_bytes(whole[: 32 + k * (page + 24) + more])
            try:
                found = examine(str(tmp_path / "part.db"))
            except FitupError:
                assert not seen  # before the first whole entry there is no job yet
                continue
            finally:
                for end in ("-wal", "-shm"):
                    (tmp_path / f"part.db{end}").unlink(missing_ok=True)
            if not found.entries:
                assert not seen
                continue
            assert found.whole
            assert seals.get(found.entries, found.seal) == found.seal
            seen.add(found.entries)
    assert max(seen) == max(seals)
    assert len(seen) >= 4


def _with_pragma(monkeypatch, pragma):
    """Every connection made from now on is set so, as the disk under it would be."""
    from ledger.store import place

    real = place.create_engine

    def create(*args, **kwargs):
        engine = real(*args, **kwargs)
        event.listen(engine, "connect", lambda connection, _r: connection.execute(f"PRAGMA {pragma}"))
        return engine

    monkeypatch.setattr(place, "create_engine", create)


def test_a_full_disk_is_told_and_nothing_is_lost(signed, monkeypatch):
    place = str(signed / "fitup.db")
    raw = sqlite3.connect(place)
    (pages,) = raw.execute("PRAGMA page_count").fetchone()
    raw.close()
    with monkeypatch.context() as patch:
        _with_pragma(patch, f"max_page_count={pages}")
        with Job(place, ask) as job, pytest.raises(FitupError, match="make room"):
            for _ in range(200):
                job.do(make(RecordPart, number=os.urandom(8).hex(), title="x" * 60, form="bought"), by="Mira")
    assert examine(place).whole
    lock(signed)
    assert examine(place).whole


def test_a_full_disk_under_the_packet_locks_nothing(signed):
    for n in itertools.takewhile(lambda n: n < MOST_CALLS, calls(lock, killed=False)):
        with Fault(n, number=errno.ENOSPC, said="database or disk is full") as fault:
            try:
                lock(signed)
            except FitupError as told:
                locked = "locked, but" in str(told)
            else:
                break
        if fault.struck.startswith("os.") and not locked:
            assert not list((signed / "out").glob("*"))
        if locked or examine(str(signed / "fitup.db")).entries > BEFORE:
            break
    assert examine(str(signed / "fitup.db")).entries == BEFORE + 2


def test_a_job_that_may_only_be_read_is_read_and_says_so(signed, monkeypatch):
    place = str(signed / "fitup.db")
    _with_pragma(monkeypatch, "query_only=ON")
    with Job(place, ask) as job:
        assert job.part("STUD").title == "stud"
        with pytest.raises(BadInput, match="only be read"):
            job.enroll("Jonas", ("checked",), PASSPHRASE)
    with sqlite3.connect(place) as raw:
        raw.execute("UPDATE fact_stamp SET schema_digest = 'older'")
    with Job(place, ask) as job:
        assert job.part("STUD").title == "stud"
        with pytest.raises(BadInput, match="only be read"):
            job.lock(["STUD"], "Mira", signed / "out")
