"""
Every screen as text at two sizes, line for line.

The texts lie in `golden/`. Where a screen was changed on purpose, `FITUP_RENEW=1 python -m pytest
tests/terminal/test_golden.py` writes them anew; the difference is then read before it is committed. Digests, which
hang on keys made by chance, are shown as dots.
"""

from __future__ import annotations

import asyncio
import difflib
import os
import re
from pathlib import Path

import pytest
from bench_job import PASSPHRASE

from ledger.acts.connections import RequireClearance
from ledger.acts.questions import AskQuestion
from ledger.job import Job
from tui.app import Fitup
from tui.connection_screen import ConnectionScreen
from tui.help_screen import HelpScreen
from tui.journal_screen import JournalScreen
from tui.lock_screen import LockScreen
from tui.part_screen import PartScreen
from tui.sign_screen import SignScreen
from tui.signs import RICH

GOLDEN = Path(__file__).parent / "golden"
SIZES = [(80, 24), (120, 40)]
SCREENS = {
    "parts": lambda: None,
    "part": lambda: PartScreen("TURN"),
    "connection": lambda: ConnectionScreen("TURN-BASE"),
    "sign": lambda: SignScreen(("BASE", "TURN")),
    "lock": lambda: LockScreen(("BASE", "TURN")),
    "journal": JournalScreen,
    "help": lambda: HelpScreen("parts"),
}


def screen_text(place, screen, size, clock):
    """The lines of one screen, once nothing is going on any more."""
    app = Fitup(place, RICH)
    if clock:
        app._job = Job(place, lambda _name: PASSPHRASE, clock)

    async def play():
        async with app.run_test(size=size) as pilot:
            await settle(pilot)
            if screen:
                app.push_screen(screen)
                await settle(pilot)
            strips = app.screen._compositor.render_strips()
            return ["".join(piece.text for piece in line).rstrip() for line in strips]

    lines = asyncio.run(play())
    drawn_anew = (
        r"[0-9a-f]{12,}|(?:[2-9A-HJKMNP-Z]{4}-){4}[2-9A-HJKMNP-Z]"  # hashes, and the letters of a seal
    )
    return "\n".join(re.sub(drawn_anew, lambda m: "." * len(m[0]), line) for line in lines) + "\n"


async def settle(pilot):
    for _ in range(3):
        await pilot.pause()
        await pilot.app.workers.wait_for_complete()
    await pilot.pause(0.05)


def compare(name, text):
    kept = GOLDEN / f"{name}.txt"
    if os.environ.get("FITUP_RENEW") == "1":
        kept.write_text(text, encoding="utf-8")
    old = kept.read_text(encoding="utf-8")
    told = difflib.unified_diff(old.splitlines(), text.splitlines(), "kept", "now", lineterm="")
    assert text == old, f"{name} looks different; renew it if that is meant:\n" + "\n".join(told)


@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
@pytest.mark.parametrize("name", SCREENS)
def test_a_screen_looks_as_it_did(bench, monkeypatch, name, size):
    monkeypatch.setenv("FITUP_BY", "Mira")
    bench.do(RequireClearance, connection="TURN-BASE", name="rim", required=">= 2 mm")
    bench.do(AskQuestion, number="TURN", ident="Q1", text="which side is up?")
    compare(f"{name}-{size[0]}x{size[1]}", screen_text(bench.place, SCREENS[name](), size, bench.clock))


@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
def test_the_start_looks_as_it_did(tmp_path, monkeypatch, size):
    monkeypatch.chdir(tmp_path)
    compare(f"start-{size[0]}x{size[1]}", screen_text("fitup.db", None, size, None))
