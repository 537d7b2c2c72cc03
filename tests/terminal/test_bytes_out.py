"""What data says never steers the terminal, and a program that is ended gives the terminal back as it was."""

from __future__ import annotations

import os
import shutil
import signal
import time
from contextlib import nullcontext

import pytest
from bench_job import PASSPHRASE, plate_dxf
from in_pty import Raw, kinds, printed, steering

from ledger.acts.base import make
from ledger.acts.questions import AnswerQuestion, AskQuestion
from ledger.domain.errors import BadInput
from ledger.job import Job

HOSTILE = (
    "\x1b]52;c;cHduZWQ=\x07",  # writes to the clipboard
    "\x1b]0;owned\x1b\\",  # names the window
    "\x1b[2J\x1b[H",  # wipes the screen
    "\x1b[?1049l",  # leaves the alternate screen
    "\x9b31m\x9d52;c;eA==\x9c",  # the same by C1 characters
    "\x1bP+q544e\x1b\\",  # asks the terminal back
    "\x07\x08\x7f",
    "\u202eegg\u202c\u2066x\u2069\u200f",
)
GIVES_BACK = ("\x1b[?1049l", "\x1b[?1000l", "\x1b[?1003l", "\x1b[?2004l", "\x1b[?25h")


@pytest.fixture
def open_raw():
    opened = []

    def start(folder, size=(120, 40), **env):
        opened.append(Raw(folder, size, **env))
        return opened[-1]

    yield start
    for raw in opened:
        raw.close()


def write_down(folder, words):
    """A question, an answer, a title and a note that say these words; a file name may not where they steer."""
    with Job(str(folder / "fitup.db"), lambda _name: PASSPHRASE) as job:
        job.write_part("BASE", {"title": f"plate {words}", "note": f"note {words}"}, by="Mira")
        ask = make(AskQuestion, number="BASE", ident="Q1", text=f"which {words} side?")
        job.do(ask, by="Mira")
        job.do(make(AskQuestion, number="BASE", ident="Q2", text="and how?"), by="Mira")
        job.do(make(AnswerQuestion, number="BASE", ident="Q2", answer=f"so {words}"), by="Mira")
        with (
            nullcontext()
            if words == "plain words"
            else pytest.raises(BadInput, match="not a plain file name")
        ):
            job.take_profile("BASE", f"ba{words.replace('/', '')}se.dxf", plate_dxf(), by="Mira")


def look_around(raw, folder, file_name):
    """Through the screens of the part, a picture, a path that is not there, signing, the journal, and out."""
    at = raw.wait("0 GO, 2 NO-GO")
    raw.write("\r")
    at = raw.wait("Connection", after=at)
    raw.write("t")
    at = raw.wait("DXF file of", after=at)
    raw.write(file_name)
    at = raw.wait("no such file yet", after=at)
    raw.write("\x1b")
    time.sleep(0.5)
    raw.write("s")
    at = raw.wait("signs as", after=at)
    raw.write("\x1b")
    at = raw.wait("Connection", after=at)
    time.sleep(1.5)  # Escape while the part is still being read leaves the reading, not the screen
    raw.write("\x1b")
    at = raw.wait("0 GO, 2 NO-GO", after=at)
    raw.write("j")
    raw.wait("entries", after=at)
    time.sleep(0.3)
    raw.write("\x11")
    assert raw.ended() == 0


def test_escapes_in_data_never_reach_the_terminal(open_raw, plates, tmp_path):
    harmless = tmp_path / "harmless"
    shutil.copytree(plates, harmless)
    write_down(harmless, "plain words")
    usual = open_raw(harmless, FITUP_KEYS=str(harmless / "keys"))
    look_around(usual, harmless, "nowhere.dxf")
    write_down(plates, "".join(HOSTILE))
    raw = open_raw(plates, FITUP_KEYS=str(plates / "keys"))
    look_around(raw, plates, "nowhere\u202e\u2066.dxf")
    assert kinds(raw.sent) <= kinds(usual.sent)
    assert steering(raw.sent) == set()
    assert "\\u001b]52;c" in printed(raw.sent), "what was written is shown as escapes"


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP"])
def test_a_program_that_is_ended_gives_the_terminal_back(open_raw, plates, name):
    raw = open_raw(plates)
    at = raw.wait("0 GO, 2 NO-GO")
    os.kill(raw.program.pid, getattr(signal, name))
    raw.ended(within=15)
    last = raw.sent[at:].decode()
    assert [one for one in GIVES_BACK if one not in last] == []
