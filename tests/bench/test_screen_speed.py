"""
How quick the screens are on a real pseudo-terminal with 5,000 parts, and against peers in the same run.

FITUP_BENCH_JOB may name a job that `many_parts.build` made before; it is copied. The absolute goals are printed
as met or not met, because they depend on the machine; the ratios are asserted.
"""

from __future__ import annotations

import importlib.util
import os
import shutil
import statistics
import time
from pathlib import Path

import pytest
from many_parts import build
from terminal_clock import Terminal

pytestmark = pytest.mark.bench
PARTS, BIG = 5000, 2000
APPS = str(Path(__file__).parent / "apps.py")
FITUP = ("-c", "from tui.start import main; main()")
FIRST_PAINT_S, FIRST_FILLED_S = 1.0, 2.0
MEDIAN_MS, MOST_MS = 50.0, 100.0
CURSOR_KEYS, ZOOM_KEYS, PEER_KEYS = 40, 24, 6


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    """A job of 5,000 plates in 2,500 connections, and a plate of 2,000 holes."""
    place = tmp_path_factory.mktemp("many") / "fitup.db"
    made = os.environ.get("FITUP_BENCH_JOB")
    if made:
        shutil.copy(made, place)
    else:
        build(str(place), PARTS, big=BIG)
    return place


@pytest.fixture
def say(capsys):
    """Print past pytest, so that the numbers are seen."""

    def out(text):
        with capsys.disabled():
            print(text)  # noqa: T201 - the numbers are what a bench is for

    return out


def surroundings(tmp_path, job):
    return {"FITUP_JOB": str(job), "FITUP_CACHE": str(tmp_path / "cache"), "FITUP_BY": "Mira"}


def goal(seen, limit):
    return f"{'met' if seen < limit else 'not met'} (goal {limit:g})"


def row(name, times):
    middle, most = statistics.median(times), sorted(times)[int(len(times) * 0.95)]
    return (
        f"{name:<44} {len(times):>3} keys  median {middle:6.1f} ms {goal(middle, MEDIAN_MS):<20}"
        f" 95 % {most:6.1f} ms {goal(most, MOST_MS)}"
    )


def test_the_first_screen_with_5000_parts_against_a_table_that_holds_all(job, tmp_path, say):
    own = surroundings(tmp_path, job)
    with Terminal(*FITUP, **own) as terminal:
        paint, filled = terminal.until("opening the job"), terminal.until("plate 0025 of the p")
        judged = terminal.until("1 of ")
    with Terminal(APPS, "table", str(PARTS)) as terminal:
        peer = terminal.until("plate 0025 of the p")
    say(f"\nload {os.getloadavg()[0]:.1f}, {os.cpu_count()} cores")
    say(f"first paint      {paint:6.2f} s  {goal(paint, FIRST_PAINT_S)}")
    say(f"first filled     {filled:6.2f} s  {goal(filled, FIRST_FILLED_S)}")
    say(f"first verdicts   {judged:6.2f} s")
    say(f"table of all     {peer:6.2f} s; ours {filled / peer:.2f} of it")
    assert paint < peer
    assert filled < 2.0 * peer


def test_remembered_verdicts_are_in_the_first_filling(job, tmp_path, say):
    own = surroundings(tmp_path, job)
    with Terminal(*FITUP, **own) as terminal:
        terminal.until("1 of ")
        terminal.quiet(longest=3.0)
        os.write(terminal.fd, b"\x1b")
        terminal.until("stopped: ")
        time.sleep(1.0)
    with Terminal(*FITUP, **own) as terminal:
        known = terminal.until("NO-GO")
        filled = terminal.until("plate 0025 of the p")
    say(f"\nfirst filled, with verdicts remembered {filled:.2f} s, first verdict {known:.2f} s")
    assert known <= filled + 0.5


def test_keys_on_the_first_screen_while_verdicts_are_worked_out(job, tmp_path, say):
    with Terminal(*FITUP, **surroundings(tmp_path, job)) as terminal:
        terminal.until("1 of ")
        moves, typed = [], []
        for k in range(CURSOR_KEYS):
            moves.append(terminal.key(b"\x1b[B", marker=rb"P%04d" % k))
            time.sleep(0.05)
        for digits in ("4217", "3586", "2794"):
            os.write(terminal.fd, b"/")
            terminal.quiet(0.15)
            for at in range(4):
                part = digits[: at + 1].encode()
                marker = rb"P%b" % part if at == 3 else rb"P\d*%b" % part
                typed.append(terminal.key(digits[at].encode(), marker=marker))
                time.sleep(0.12)
            os.write(terminal.fd, b"\x1b")
            time.sleep(0.4)
            terminal.quiet(0.05)
        still = terminal.until("judged")
    say(f"\nload {os.getloadavg()[0]:.1f}; judging goes on ({still:.0f} s)")
    say(row("cursor down, 5,000 parts, judging", moves))
    say(row("filter typing, 5,000 parts, judging", typed))
    assert statistics.median(moves) < 500
    assert statistics.median(typed) < 500


def test_keys_with_a_part_of_2000_holes_under_the_cursor(job, tmp_path, say):
    with Terminal(*FITUP, **surroundings(tmp_path, job)) as terminal:
        terminal.until("1 of ")
        times = []
        for _ in range(8):
            times.append(terminal.key(b"\x1b[B", marker=rb"P0000"))
            time.sleep(0.6)
            times.append(terminal.key(b"\x1b[A", marker=rb"A0000-GRID"))
            time.sleep(0.6)
    say(row("\nonto and off a part of 2,000 holes, judging", times))


def zoomed(keys, *command):
    with Terminal(APPS, *command) as terminal:
        terminal.until("step 0")
        terminal.quiet(0.5, longest=5.0)
        times = []
        for k in range(keys):
            key = b"+" if k % 8 < 4 else b"-"
            times.append(terminal.key(key, marker=rb"%d!" % (k + 1), longest=30.0))
            terminal.quiet(0.1)
    return times


@pytest.mark.parametrize("holes", [200, 2000])
def test_zooming_a_picture_against_peers(holes, job, say):
    for module, package in (
        ("textual_plotext", "textual-plotext"),
        ("textual_hires_canvas", "textual-hires-canvas"),
    ):
        if importlib.util.find_spec(module) is None:
            pytest.fail(f"the peer {package} is not here: pip install 'fitup[bench]'")
    ours = zoomed(ZOOM_KEYS, "picture", "ours", str(holes))
    busy = zoomed(ZOOM_KEYS, "picture", "ours", str(holes), str(job))
    plotext = zoomed(PEER_KEYS, "picture", "plotext", str(holes))
    hires = zoomed(PEER_KEYS, "picture", "hires", str(holes))
    say(f"\nload {os.getloadavg()[0]:.1f}; {holes} holes at 120x40")
    say(row("zoom, ours", ours))
    say(row("zoom, ours, judging 5,000 parts", busy))
    say(row("zoom, textual-plotext", plotext))
    say(row("zoom, textual-hires-canvas", hires))
    assert statistics.median(ours) < statistics.median(plotext)
    assert statistics.median(ours) < 1.2 * statistics.median(hires)
