"""What is kept beside a job is given back as it was or not at all, whatever became of its file."""

from __future__ import annotations

import random
import sqlite3
import sys
from contextlib import closing
from threading import Thread

import pytest

from ledger.judge import cache as room
from ledger.judge.cache import Cache, cache_file, cache_folder

JOB = "a job"
VALUES = {f"check {k}": ["ran", f"reason {k}", [{"code": "offset"}] * (k % 3)] for k in range(400)}


@pytest.fixture
def full():
    cache = Cache(JOB)
    assert cache.write("outcome", VALUES)
    cache.close()
    return cache_file(JOB)


def found(job=JOB):
    cache = Cache(job)
    try:
        return {key: value for key in VALUES if (value := cache.read("outcome", key)) is not None}
    finally:
        cache.close()


def test_what_was_kept_is_found_under_its_room_and_key_alone(full):
    assert found() == VALUES
    assert Cache(JOB).read("verdicts", "check 1") is None
    assert found("another") == {}


@pytest.mark.parametrize("seed", range(40))
def test_a_file_damaged_anywhere_gives_what_was_kept_or_nothing_and_is_kept_in_again(full, seed):
    dice = random.Random(seed)
    whole = bytearray(full.read_bytes())
    for _ in range(dice.choice((1, 3, 30, 300))):
        at = dice.randrange(dice.choice((100, len(whole))))
        whole[at : at + dice.choice((1, 8, 64))] = dice.randbytes(dice.choice((0, 1, 8, 64)))
    full.write_bytes(whole)
    assert found().items() <= VALUES.items()
    cache = Cache(JOB)
    assert cache.write("outcome", VALUES) or cache.write("outcome", VALUES)
    cache.close()
    assert found() == VALUES


def test_two_workstations_write_to_one_file_at_the_same_time(full):
    done = []

    def work(name):
        cache = Cache(JOB)
        for k in range(30):
            done.append(cache.write(name, {f"{k}": k}))
            assert cache.read(name, f"{k}") == k
        cache.close()

    threads = [Thread(target=work, args=(name,)) for name in ("one", "two")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert done == [True] * 60
    both = Cache(JOB)
    assert [both.read(name, f"{k}") for name in ("one", "two") for k in range(30)] == [*range(30)] * 2
    both.close()


def test_a_file_that_another_program_holds_is_waited_for_once(full, monkeypatch):
    monkeypatch.setattr(room, "_BUSY_S", 0.05)
    waits = []
    connect = sqlite3.connect
    monkeypatch.setattr(room.sqlite3, "connect", lambda *a, **kw: waits.append(a) or connect(*a, **kw))
    with closing(connect(full, isolation_level=None)) as holder:
        holder.execute("BEGIN EXCLUSIVE")
        assert found() == {}
        assert len(waits) == 1
        holder.execute("ROLLBACK")
    assert found() == VALUES


def test_a_file_that_grew_too_large_loses_what_was_not_used_for_longest(full, monkeypatch):
    monkeypatch.setattr(room.time, "time", lambda: 4e9)
    used = [f"check {k}" for k in range(0, 400, 4)]
    monkeypatch.setattr(room, "_MOST_BYTES", 1)
    cache = Cache(JOB)
    assert cache.write("outcome", {"new": 1}, used)
    kept = set(found())
    assert set(used) <= kept
    assert len(kept) == 199
    assert cache.read("outcome", "new") == 1
    cache.close()


@pytest.mark.parametrize("taken", ["a file", "a folder in its place"])
def test_where_nothing_can_be_written_nothing_is_kept(tmp_path, monkeypatch, taken):
    if taken == "a file":
        (tmp_path / "taken").write_text("")
        monkeypatch.setenv("FITUP_CACHE", str(tmp_path / "taken"))
    else:
        cache_file(JOB).mkdir(parents=True)
    cache = Cache(JOB)
    assert cache.write("outcome", VALUES) is False
    assert cache.read("outcome", "check 1") is None
    cache.close()


@pytest.mark.skipif(sys.platform != "linux", reason="the folders of this system")
@pytest.mark.parametrize(
    ("set_to", "folder"),
    [
        ({"FITUP_CACHE": "/c", "XDG_CACHE_HOME": "/x"}, "/c"),
        ({"XDG_CACHE_HOME": "/x"}, "/x/fitup"),
        ({}, "/home/mira/.cache/fitup"),
    ],
)
def test_where_it_is_kept(monkeypatch, set_to, folder):
    for name in ("FITUP_CACHE", "XDG_CACHE_HOME"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("HOME", "/home/mira")
    for name, value in set_to.items():
        monkeypatch.setenv(name, value)
    assert cache_folder().as_posix() == folder
