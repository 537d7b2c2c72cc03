"""Terminals and jobs for the tests in a real terminal; every window is closed at the end of its test."""

from __future__ import annotations

import shutil

import pytest
from bench_job import PASSPHRASE, Bench
from in_tmux import Window, need_tmux

from ledger.job import Job
from ledger.store.journal import now


@pytest.fixture
def open_window():
    """Open windows on a folder; all of them are ended afterwards."""
    need_tmux()
    opened = []

    def make(folder, size=(80, 24), **more):
        opened.append(Window(folder, size, **more))
        return opened[-1]

    yield make
    for window in opened:
        window.close()


@pytest.fixture(scope="session")
def two_plates(tmp_path_factory):
    """A job with two people, two plates and a bolted connection, made once; to be copied, not written to."""
    folder = tmp_path_factory.mktemp("two-plates")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FITUP_KEYS", str(folder / "keys"))
        bench = Bench.started(folder, now)
        bench.two_plates()
        bench.job.close()
    return folder


@pytest.fixture(scope="session")
def signed_plates(two_plates, tmp_path_factory):
    """The same with both plates signed by both people: GO, not locked."""
    folder = tmp_path_factory.mktemp("signed") / "job"
    shutil.copytree(two_plates, folder)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FITUP_KEYS", str(folder / "keys"))
        with Job(str(folder / "fitup.db"), lambda _name: PASSPHRASE) as job:
            for person, role in (("Mira", "drawn"), ("Jonas", "checked")):
                job.sign(("BASE", "TURN"), role, person, {})
    return folder


@pytest.fixture
def plates(two_plates, tmp_path):
    """A copy of the job of two plates."""
    return shutil.copytree(two_plates, tmp_path / "job")


@pytest.fixture
def signed(signed_plates, tmp_path):
    """A copy of the job with everything signed."""
    return shutil.copytree(signed_plates, tmp_path / "job")
