"""
What every screen looks like, measured from what is painted: contrast of every word, and hues that can be told apart.

Contrast is that of WCAG 2.2 (success criterion 1.4.3: 4.5:1 for text, 1.4.11: 3:1 for strokes), from the relative
luminance of sRGB. Color blindness is simulated after Machado, Oliveira and Fernandes, A physiologically-based model for
simulation of color vision deficiency, IEEE TVCG 15 (2009) 1291-1298, severity 1.0 (matrices from memory).
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from bench_job import CORNERS, plate_dxf
from test_screens import on_screens, press, settle
from textual.color import Color

from ledger.acts.connections import RequireClearance
from ledger.acts.questions import AskQuestion
from tui.connection_form import ConnectionForm
from tui.connection_screen import ConnectionScreen
from tui.custody_screen import KeepingScreen
from tui.help_screen import HelpScreen
from tui.instruments_screen import InstrumentsScreen
from tui.job_text_screen import JobTextScreen
from tui.journal_screen import JournalScreen
from tui.lock_screen import LockScreen
from tui.orders_screen import OrdersScreen
from tui.part_rows import TABS
from tui.part_screen import PartScreen
from tui.parts_screen import PartsScreen
from tui.people_screen import PeopleScreen
from tui.sign_screen import SignScreen
from tui.table_screen import TableScreen
from tui.themes import DARK, LIGHT

TEXT, STROKES = 4.5, 3.0
SCREENS = (
    None,
    lambda: PartScreen("TURN"),
    lambda: ConnectionScreen("TURN-BASE"),
    lambda: SignScreen(("BASE", "TURN")),
    lambda: LockScreen(("BASE", "TURN")),
    lambda: ConnectionForm("TURN"),
    lambda: HelpScreen("parts"),
    JournalScreen,
    PeopleScreen,
    InstrumentsScreen,
    OrdersScreen,
    KeepingScreen,
    TableScreen,
    JobTextScreen,
)


def luminance(rgb):
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in (v / 255 for v in rgb)]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def too_faint(app):
    """Every piece of text on the screen that has too little contrast, with its contrast."""
    found = set()
    for strip in app.screen._compositor.render_strips():
        for text, style, _ in strip:
            words = text.strip()
            if not words or style is None:
                continue
            front, ground = (tuple(c.get_truecolor()) for c in (style.color, style.bgcolor))
            if style.dim:
                front = Color(*ground).blend(Color(*front), 0.66).rgb
            drawn = all(not c.isalnum() for c in words)  # braille, boxes, bars
            now = contrast(front, ground)
            if now < (STROKES if drawn else TEXT) and not is_frame(words):
                found.add((words[:40], round(now, 2)))
    return found


def is_frame(words):
    """Frames and scroll bars tell nothing."""
    return all(c in "▔▁▎▊▏▕─│╭╮╰╯▂▃▄▅▆▇█▉▋▌▍▐▀" for c in words)


@pytest.mark.parametrize("colors", ["colors", "NO_COLOR"])
@pytest.mark.parametrize("light", [False, True], ids=["dark", "light"])
def test_every_word_of_every_screen_can_be_read(bench, monkeypatch, light, colors):
    monkeypatch.setenv("FITUP_BY", "Mira")
    monkeypatch.setenv("TERM", "xterm-256color")
    if colors == "NO_COLOR":
        monkeypatch.setenv("NO_COLOR", "1")
    bench.job.take_profile("TURN", "TURN.dxf", plate_dxf((*CORNERS[:3], (24.0, 80.0))), by="Mira")
    bench.do(RequireClearance, connection="TURN-BASE", name="rim", required=">= 2 mm")
    bench.do(AskQuestion, number="TURN", ident="Q1", text="which side is up?")

    async def script(app, pilot):
        if light:
            app.action_theme()
        for make in SCREENS:
            await look_at(app, pilot, make)
        await press(pilot, "space", "down")
        read(app, "the cursor row and a marked one")
        for key in ("n", "t", "f", "u"):
            await press(pilot, key)
            read(app, f"the window of {key}")
            await press(pilot, "escape")

    on_screens(bench.place, script, size=(120, 40))


def read(app, where):
    faint = too_faint(app)
    assert not faint, f"{where}: {sorted(faint)}"


async def look_at(app, pilot, make):
    """Open a screen over the first one, read it with all of its tabs, and leave it."""
    if make:
        app.push_screen(make())
        await settle(pilot)
    read(app, type(app.screen).__name__)
    for tab in TABS if isinstance(app.screen, PartScreen) else ():
        app.screen.action_tab(tab)
        await settle(pilot)
        read(app, tab)
    while not isinstance(app.screen, PartsScreen):
        app.pop_screen()
        await settle(pilot)


SIMULATED = {
    "protanopia": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deuteranopia": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritanopia": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}


@pytest.mark.parametrize("eyes", SIMULATED)
@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda t: t.name)
def test_the_plates_of_a_connection_are_told_apart_by_everybody(theme, eyes):
    """The hues of the two plates and of what is wrong, as seen; they differ in dashes and words besides."""
    names = ("ink-upper", "ink-lower", "ink-wrong")
    matrix = np.array(SIMULATED[eyes])
    seen = {}
    for name in names:
        rgb = np.array(Color.parse(theme.variables[name]).rgb) / 255
        linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
        seen[name] = Color(*(round(float(v) * 255) for v in np.clip(matrix @ linear, 0, 1) ** (1 / 2.2)))
    for one, other in itertools.combinations(names[:2], 2):
        apart = np.abs(np.array(seen[one].rgb) - np.array(seen[other].rgb)).sum()
        assert apart > 90, (one, other, apart)
