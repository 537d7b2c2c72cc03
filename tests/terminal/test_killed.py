"""A program killed while it locks leaves a job that is whole: locked with its packet kept, or not locked at all."""

from __future__ import annotations

import os
import random
import signal
import time

import pytest
from bench_job import PASSPHRASE
from in_tmux import command
from walking import mark_both, to_the_lock

from ledger.job import Job
from ledger.packet.inspect import inspect


@pytest.mark.parametrize("seed", range(4))
def test_a_kill_while_locking_leaves_all_or_nothing(open_window, signed, seed):
    window = open_window(signed)
    window.wait("2 GO, 0 NO-GO")
    mark_both(window)
    window.press("l")
    to_the_lock(window, "Jonas", "BASE A, TURN A")
    window.press("Enter")
    window.wait("passphrase of Jonas")
    window.write(PASSPHRASE)
    program = window.program()
    window.press("Enter")
    time.sleep(random.Random(seed).uniform(0, 0.3))
    os.kill(program, signal.SIGKILL)
    assert window.exit_code() == 128 + signal.SIGKILL
    with Job(str(signed / "fitup.db"), lambda _name: PASSPHRASE) as job:
        assert job.verify() == ()
        locked = [job.part(number).locked for number in ("BASE", "TURN")]
        assert locked[0] == locked[1]
        if locked[0]:
            report = inspect(job.packet("BASE")[1])
            assert report.ok
            assert job.holds(report.seal)
            return
    assert not list((signed / "out").glob("*.zip"))
    again = command(
        signed, "lock", "BASE", "TURN", "--by", "Jonas", "--out", "out", FITUP_PASSPHRASE_FILE=_kept(signed)
    )
    assert again.returncode == 0, again.stderr


def _kept(folder):
    path = folder / "passphrase.txt"
    path.write_text(PASSPHRASE + "\n", encoding="utf-8")
    path.chmod(0o600)
    return str(path)
