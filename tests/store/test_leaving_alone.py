"""
Verifying changes nothing, a job on a read-only disk can be read, and what was killed leaves nothing in the way.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

import pytest
from small_job import answer, ask, small_job

from ledger.cli import main
from ledger.domain import leftovers
from ledger.domain.errors import BadInput, FitupError
from ledger.job import Job
from ledger.release.custody import examine, take_out
from ledger.store import place as place_module

pytestmark = pytest.mark.file_only


@pytest.fixture
def filed(tmp_path, clock):
    (tmp_path / "job").mkdir()
    where = str(tmp_path / "job/fitup.db")
    small_job(where, clock).close()
    return where


def _held(filed):
    """A connection that has the file open, so that the log stays."""
    held = sqlite3.connect(filed)
    held.execute("SELECT COUNT(*) FROM journal").fetchone()
    return held


def test_a_job_behind_a_link_is_read_with_the_log_beside_the_file(filed, tmp_path, monkeypatch):
    """What was written last lies in the log, and no log lies beside the link."""
    link = tmp_path / "link.db"
    link.symlink_to(filed)
    with closing(_held(filed)), Job(filed, ask) as job:
        before = examine(str(link)).seal
        answer(job)
        seen = examine(str(link))
        assert seen.whole
        assert seen.seal != before
        assert seen.seal == f"{job.seal()[0]}:{job.seal()[1]}"
        monkeypatch.setattr(place_module, "may_write", lambda _path: False)
        with Job(str(link), ask) as other:
            assert other.seal() == job.seal()


def digest(folder):
    """Every name, byte and time of what lies in a folder."""
    files = sorted(Path(folder).rglob("*"))
    return [
        (str(p), p.stat().st_mtime_ns, hashlib.sha256(p.read_bytes()).hexdigest() if p.is_file() else "")
        for p in [Path(folder), *files]
    ]


@pytest.mark.parametrize("state", ["closed", "killed", "in use", "of a backup", "killed in a backup"])
def test_verify_changes_no_byte_of_a_job_nor_of_its_folder(filed, tmp_path, state):
    folder = Path(filed).parent
    holding = None
    if state.endswith("backup"):
        with Job(filed, ask) as job:
            job.backup(tmp_path / "copy.db")
        shutil.move(tmp_path / "copy.db", filed)
    if state in ("killed", "in use"):
        holding = _held(filed)
        with Job(filed, ask) as job:
            answer(job)  # it lies in the log only, since somebody has the file open
        assert Path(f"{filed}-wal").stat().st_size
        if state == "killed":
            for end in ("", "-wal", "-shm"):
                shutil.copy(f"{filed}{end}", tmp_path)
            holding.close()
            for end in ("", "-wal", "-shm"):
                shutil.move(tmp_path / f"fitup.db{end}", f"{filed}{end}")
    if state == "killed in a backup":
        raw = sqlite3.connect(filed, isolation_level=None)
        raw.execute("PRAGMA cache_size = 1")
        raw.execute("BEGIN")
        raw.execute("CREATE TABLE big (a)")
        raw.executemany("INSERT INTO big VALUES (?)", [("x" * 3000,)] * 99)
        for end in ("", "-journal"):
            shutil.copy(f"{filed}{end}", tmp_path)
        raw.execute("ROLLBACK")
        raw.close()
        for end in ("", "-journal"):
            shutil.move(tmp_path / f"fitup.db{end}", f"{filed}{end}")
    before = digest(folder)
    entries = examine(filed).entries
    assert main(["--job", filed, "verify"]) == 0
    assert main(["--job", filed, "--json", "verify", "--since", examine(filed).seal]) == 0
    assert digest(folder) == before
    assert entries == (9 if state in ("killed", "in use") else 8)
    if holding:
        holding.close()


def test_a_job_that_is_written_while_it_is_verified_is_verified_again(filed, monkeypatch):
    seen = []

    def work(engine):
        seen.append(engine)
        if len(seen) == 1:
            with Job(filed, ask) as job:
                answer(job)
        with engine.connect() as connection:
            return connection.exec_driver_sql("SELECT MAX(seq) FROM journal").scalar()

    assert place_module.undisturbed(filed, work) == 9
    assert len(seen) == 2


def test_a_job_that_is_always_being_written_is_verified_beside_the_others(filed):
    turns = []

    def work(engine):
        turns.append(1)
        os.utime(filed, ns=(len(turns), len(turns)))
        with engine.connect() as connection:
            return connection.exec_driver_sql("PRAGMA query_only").scalar()

    assert place_module.undisturbed(filed, work) == 0
    assert len(turns) == 5


@pytest.mark.parametrize("log", [False, True])
def test_a_job_that_may_only_be_read_is_verified_read_and_exported(filed, tmp_path, monkeypatch, log):
    """Whether it may be written is asked in one place; what a disk that refuses does is the next test's matter."""
    holding = _held(filed)
    if log:
        with Job(filed, ask) as job:
            answer(job)
    monkeypatch.setattr(place_module, "may_write", lambda _path: False)
    before = digest(Path(filed).parent)
    _reads_and_writes_nothing(filed, tmp_path, 9 if log else 8)
    assert digest(Path(filed).parent) == before
    holding.close()


def _reads_and_writes_nothing(filed, out, entries):
    assert examine(filed).whole
    with Job(filed, ask) as job:
        assert job.seal()[0] == entries
        assert job.part("P0").title == "stud"
        with pytest.raises(BadInput, match="only be read"):
            answer(job)
    take_out(filed, out / "out")
    assert (out / "out/journal.jsonl").read_bytes().count(b"\n") == entries


def _as_somebody_else(folder, script):
    """Run a script as a user who may not write here: only root can become one."""
    if os.name == "nt" or os.geteuid() != 0:
        pytest.skip("only root can run something as another user")
    child = os.fork()
    if child == 0:
        try:
            os.setgid(65534)
            os.setuid(65534)
            script()
        except BaseException:  # noqa: BLE001 - whatever it is, it is told by the exit
            import traceback

            traceback.print_exc()
            os._exit(1)
        os._exit(0)
    return os.waitpid(child, 0)[1]


@pytest.mark.parametrize("mode", ["file", "folder"])
def test_a_job_in_a_folder_or_file_of_somebody_elses_is_read(filed, mode, monkeypatch):
    with closing(_Open()) as open_to_all:
        job = shutil.copy(filed, open_to_all.path)
        Path(job).chmod(0o444 if mode == "file" else 0o666)
        open_to_all.path.chmod(0o777 if mode == "file" else 0o555)
        out = open_to_all.beside
        monkeypatch.setenv("FITUP_CACHE", str(out / "cache"))
        before = digest(open_to_all.path)
        assert _as_somebody_else(out, lambda: _reads_and_writes_nothing(job, out, 8)) == 0
        assert digest(open_to_all.path) == before


class _Open:
    """Two folders that every user may enter, which those of the tests are not."""

    def __init__(self):
        self.path, self.beside = Path(tempfile.mkdtemp()), Path(tempfile.mkdtemp())
        self.path.chmod(0o755)
        self.beside.chmod(0o777)

    def close(self):
        shutil.rmtree(self.path)
        shutil.rmtree(self.beside)


def test_a_job_on_a_disk_that_is_mounted_for_reading_is_read(filed, tmp_path):
    script = (
        "import sys; sys.path[:0] = sys.argv[3].split(':')\n"
        "from pathlib import Path\n"
        "from test_leaving_alone import _reads_and_writes_nothing as reads\n"
        "reads(sys.argv[1], Path(sys.argv[2]), 8)\n"
    )
    folder = Path(filed).parent
    mount = f"mount --bind -o ro {folder} {folder} && mount -o remount,bind,ro {folder}"
    here = Path(__file__).parents
    paths = ":".join(map(str, (here[0], here[1], here[2], here[2] / "fixtures")))
    if (
        shutil.which("unshare") is None
        or subprocess.run(["unshare", "-m", "sh", "-c", mount], check=False, capture_output=True).returncode
    ):
        pytest.skip("this user may mount nothing")
    command = f'{mount} && exec "$0" -c "$1" "$2" "$3" "$4"'
    done = subprocess.run(
        ["unshare", "-m", "sh", "-c", command, sys.executable, script, filed, str(tmp_path), paths],
        check=False,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr


KILLED = """
import os, signal, sys
from pathlib import Path
from ledger.release import custody
from ledger.store import filling, transfer
from ledger.job import Job
def kill(*_args):
    os.kill(os.getpid(), signal.SIGKILL)
if sys.argv[3] == "filling":
    real, seen = filling.add_row, []
    def once(facts, row):
        seen.append(row)
        return kill() if len(seen) > 4 else real(facts, row)
    filling.add_row = once
elif sys.argv[3] == "filled":
    custody.problems = kill
elif sys.argv[3] == "named":
    os.link = kill
else:
    transfer.sync_folder = kill
    Path.rename = kill
    Job(sys.argv[1], None).export(Path(sys.argv[2]))
Job.bring_in(sys.argv[1], Path(sys.argv[2]), None)
"""


def _killed(*args):
    done = subprocess.run([sys.executable, "-c", KILLED, *map(str, args)], check=False, capture_output=True)
    assert done.returncode == -signal.SIGKILL, done.stderr


@pytest.mark.parametrize("at", ["filling", "filled", "named"])
def test_an_import_that_was_killed_does_not_stop_the_next_one(filed, tmp_path, at):
    take_out(filed, tmp_path / "out.zip")
    (tmp_path / "new").mkdir()
    _killed(tmp_path / "new/fitup.db", tmp_path / "out.zip", at)
    assert not (tmp_path / "new/fitup.db").exists()
    with Job.bring_in(str(tmp_path / "new/fitup.db"), tmp_path / "out.zip", ask) as job:
        assert job.seal()[0] == 8
    assert [p.name for p in (tmp_path / "new").iterdir()] == ["fitup.db"]


def test_an_export_that_was_killed_leaves_nothing_behind_the_next_one(filed, tmp_path):
    (tmp_path / "to").mkdir()
    _killed(filed, tmp_path / "to/out", "exporting")
    assert [p.suffix for p in (tmp_path / "to").iterdir()] == [".part"]
    take_out(filed, tmp_path / "to/out")
    assert [p.name for p in (tmp_path / "to").iterdir()] == ["out"]


def test_what_is_still_being_written_is_left_alone(tmp_path):
    ours, other = leftovers.passing(tmp_path), tmp_path / f".fitup-00000000-{os.getpid()}-{'0' * 16}.part"
    strange = tmp_path / ".fitup-notes.part"
    for path in (ours, other, strange):
        path.write_bytes(b"x")
    leftovers.clear_leftovers(tmp_path)
    assert all(p.exists() for p in (ours, other, strange))
    old = time.time() - 2 * 24 * 3600
    for path in (ours, other, strange):
        os.utime(path, (old, old))
    leftovers.clear_leftovers(tmp_path)
    assert [p.exists() for p in (ours, other, strange)] == [False, False, True]


def test_a_job_that_appeared_meanwhile_is_not_written_over(filed, tmp_path, monkeypatch):
    take_out(filed, tmp_path / "out.zip")
    there = tmp_path / "job2.db"
    real = os.link
    monkeypatch.setattr(os, "link", lambda a, b: (there.write_bytes(b"mine"), real(a, b)))
    with pytest.raises(FitupError, match="is there already"):
        Job.bring_in(str(there), tmp_path / "out.zip", ask)
    assert there.read_bytes() == b"mine"
    assert not list(tmp_path.glob(".fitup-*"))


def test_a_disk_without_second_names_gets_its_job_too(tmp_path, clock, monkeypatch):
    def refuse(_a, _b):
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr(os, "link", refuse)
    small_job(str(tmp_path / "job.db"), clock).close()
    assert examine(str(tmp_path / "job.db")).whole
