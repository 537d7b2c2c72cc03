"""
Ending the program, whatever ends it: Ctrl+Q, a plea from the system, or a terminal that is gone.

What is being written is waited for; nothing else is. Threads that still judge, and the interpreter's own tidying, would
hold the terminal for seconds. A terminal that hung up is noticed by a thread that looks at nothing else, because the
threads that read and write it only spin or block then; the program has a moment to leave by itself, and is ended after.
"""

from __future__ import annotations

import atexit
import os
import select
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress

HUNG_UP = 129  # as a shell says of a program that SIGHUP ended
_LOOKS_EVERY_MS = 250
_GRACE_S = 1.2
_STEP_S = 0.02


def end_process(code: int) -> None:
    """End now, past the interpreter's tidying; what was printed is out, and what asked to run at the end has run."""
    with suppress(Exception):
        atexit._run_exitfuncs()  # the same that an ordinary end would call  # noqa: SLF001
    for stream in (sys.stdout, sys.stderr):
        with suppress(Exception):
            stream.flush()
    os._exit(code)


def wait_while(busy: Callable[[], bool]) -> None:
    """Wait until something being written is written; in a thread."""
    while busy():
        time.sleep(_STEP_S)


def end_within(seconds: float, code: int, *, busy: Callable[[], bool]) -> None:
    """End the process after so long, unless it has ended by itself; something being written is waited for."""

    def wait() -> None:
        time.sleep(seconds)
        wait_while(busy)
        os._exit(code)

    threading.Thread(target=wait, daemon=True, name="fitup-leaving").start()


def watch_terminal(leave: Callable[[], object], *, busy: Callable[[], bool]) -> None:
    """Call `leave` when the terminal hangs up; the process ends a moment later in any case."""
    if not hasattr(select, "poll"):  # Windows: closing its window ends the process
        return
    try:
        poll, fd = select.poll(), sys.stdin.fileno()
    except (OSError, ValueError):
        return
    poll.register(fd, 0)  # no input is asked for: only that the other end is gone

    def watch() -> None:
        while True:
            for _fd, what in poll.poll(_LOOKS_EVERY_MS):
                if what & (select.POLLHUP | select.POLLERR | select.POLLNVAL):
                    end_within(_GRACE_S, HUNG_UP, busy=busy)
                    leave()
                    return

    threading.Thread(target=watch, daemon=True, name="fitup-terminal").start()
