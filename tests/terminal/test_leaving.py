"""The program ends when it is asked to, and when its terminal is gone, at once and whatever it is doing then."""

from __future__ import annotations

import os
import pty
import select
import signal
import subprocess
import time

import pytest
from in_pty import printed
from in_tmux import PROGRAM, surroundings

WITHIN_S = 2.0
QUITS_WITHIN_S = 0.3
SLACK_S = 0.5  # of a machine that does other things


class Bare:
    """The program on a pseudo-terminal whose near end can be closed at any moment: nobody else holds it."""

    def __init__(self, folder):
        self.near, far = pty.openpty()
        env = surroundings(folder, TERM="xterm-256color")
        self.program = subprocess.Popen(
            PROGRAM, cwd=folder, env=env, stdin=far, stdout=far, stderr=far, start_new_session=True
        )
        os.close(far)
        self.sent = b""

    def read(self, seconds):
        until = time.monotonic() + seconds
        while (left := until - time.monotonic()) > 0:
            if select.select([self.near], [], [], left)[0]:
                try:
                    self.sent += os.read(self.near, 65536)
                except OSError:  # the program has let go of its end
                    return

    def wait(self, words, within=40.0):
        until = time.monotonic() + within
        while words not in printed(self.sent):
            assert time.monotonic() < until, printed(self.sent)[-2000:]
            self.read(0.05)

    def ended_within(self, seconds):
        begun = time.monotonic()
        self.program.wait(timeout=seconds)
        return time.monotonic() - begun


@pytest.fixture
def bare(plates):
    made = Bare(plates)
    yield made
    if made.program.poll() is None:
        made.program.kill()
        made.program.wait()


@pytest.mark.parametrize("when", ["while it opens", "while it waits", "while it leaves"])
def test_a_terminal_that_is_gone_ends_the_program(bare, when):
    if when == "while it opens":
        bare.read(0.5)
    else:
        bare.wait("0 GO, 2 NO-GO")
    if when == "while it leaves":
        os.write(bare.near, b"\x11")
        time.sleep(0.03)
    os.close(bare.near)
    bare.ended_within(WITHIN_S)
    assert bare.program.returncode in (0, 120, 129)  # 120: python itself could not flush, before the screens


@pytest.mark.parametrize("sign", [signal.SIGHUP, signal.SIGTERM])
def test_a_plea_to_end_is_answered(bare, sign):
    bare.wait("0 GO, 2 NO-GO")
    os.kill(bare.program.pid, sign)
    bare.read(0.5)
    bare.ended_within(WITHIN_S)
    assert bare.program.returncode == 128 + sign


def test_ctrl_q_gives_the_terminal_back_at_once(bare):
    bare.wait("0 GO, 2 NO-GO")
    begun = time.monotonic()
    os.write(bare.near, b"\x11")
    while bare.program.poll() is None:
        assert time.monotonic() - begun < WITHIN_S
        bare.read(0.01)
    assert time.monotonic() - begun < QUITS_WITHIN_S + SLACK_S
    assert bare.program.returncode == 0
    assert b"\x1b[?1049l" in bare.sent
