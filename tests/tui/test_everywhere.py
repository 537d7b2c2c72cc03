"""What works on every screen: taking back, copying, finding an action, others' news, leaving a long wait, themes."""

from __future__ import annotations

import threading

import pytest
from bench_job import CORNERS, plate_dxf
from test_screens import flat, on_screens, press, settle, shown, write
from textual.widgets import OptionList

from ledger.acts.base import make
from ledger.acts.questions import AskQuestion
from ledger.job import Job
from tui.actions import ACTIONS
from tui.app import has_few_colours
from tui.connection_screen import ConnectionScreen
from tui.entries import entry_words, others_words
from tui.entry_windows import Confirm, LineEntry
from tui.journal_screen import JournalScreen
from tui.part_screen import PartScreen
from tui.parts_screen import PartsScreen
from tui.people_screen import PeopleScreen
from tui.sign_screen import SignScreen
from tui.themes import DARK, LIGHT


@pytest.fixture(autouse=True)
def _seat(monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")
    monkeypatch.setenv("TERM", "xterm-256color")


@pytest.fixture
def jonas(bench):
    """Another workstation on the same job."""
    other = Job(bench.place, lambda _name: "", bench.clock)
    yield other
    other.close()


def ask(job, ident, by):
    job.do(make(AskQuestion, number="BASE", ident=ident, text="which finish?"), by=by)


def test_u_takes_the_newest_entry_back_after_saying_which(bench):
    ask(bench.job, "Q1", "Mira")

    async def script(app, pilot):
        await press(pilot, "u")
        assert isinstance(app.screen, Confirm)
        assert "ask question Q1 of BASE" in flat(app)
        await press(pilot, "tab", "enter")

    on_screens(bench.place, script)
    assert bench.job.part("BASE").questions == ()
    assert list(bench.job.journal())[-1].kind == "undo"


def test_the_way_back_has_the_focus_when_something_is_taken_back(bench):
    ask(bench.job, "Q1", "Mira")

    async def script(app, pilot):
        await press(pilot, "u")
        await press(pilot, "enter")

    on_screens(bench.place, script)
    assert bench.job.part("BASE").questions


def test_nothing_to_take_back_is_said(bench, monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Nobody")

    async def script(app, pilot):
        await press(pilot, "u")
        assert "Nobody has recorded nothing that can be undone" in flat(app)

    on_screens(bench.place, script)


@pytest.mark.parametrize(("key", "copied"), [("y", "NO-GO"), ("Y", "BASE")])
def test_the_row_under_the_cursor_is_copied(bench, key, copied):
    async def script(app, pilot):
        await press(pilot, key)
        assert copied in app.clipboard
        assert "copied:" in flat(app)

    on_screens(bench.place, script)


def test_a_finding_is_copied_with_its_fix(bench):
    async def script(app, pilot):
        await press(pilot, "v", "y")
        assert "lock TURN together with this part" in app.clipboard
        assert "wait  TURN revision A is open and may change" in app.clipboard

    on_screens(bench.place, script)


def test_the_search_window_runs_an_action_of_the_screen_below(bench):
    async def script(app, pilot):
        await press(pilot, "ctrl+p")
        await press(pilot, *"journal")
        await pilot.pause(0.3)
        await press(pilot, "enter")
        assert isinstance(app.screen, JournalScreen)

    on_screens(bench.place, script)


def test_what_another_seat_records_is_told_and_shown(bench, jonas):
    async def script(app, pilot):
        app._look_around()
        await settle(pilot)
        jonas.write_part("CLAMP", {"title": "clamp"}, by="Jonas")
        app._look_around()
        await settle(pilot)
        assert "recorded by Jonas" in flat(app)
        assert "record part of" in flat(app)
        assert "CLAMP" in app.screen.rows

    on_screens(bench.place, script, size=(120, 40))


def test_a_line_half_typed_stays_when_another_seat_records(bench, jonas):
    async def script(app, pilot):
        app._look_around()
        await settle(pilot)
        await press(pilot, "n", *"ARM")
        jonas.write_part("CLAMP", {"title": "clamp"}, by="Jonas")
        app._look_around()
        await settle(pilot)
        assert isinstance(app.screen, LineEntry)
        assert app.screen.query_one("#line").value == "ARM"
        assert "recorded by Jonas" in flat(app)
        await press(pilot, "escape")
        assert "CLAMP" in app.screen.rows

    on_screens(bench.place, script, size=(120, 40))


def test_what_this_seat_records_is_no_news(bench):
    async def script(app, pilot):
        app._look_around()
        await settle(pilot)
        await press(pilot, "n")
        await write(pilot, "CLAMP cut clamp")
        app._look_around()
        await settle(pilot)
        assert "recorded by" not in flat(app)

    on_screens(bench.place, script)


def test_a_long_wait_is_said_and_escape_leaves_it(bench):
    async def script(app, pilot):
        go_on, came = threading.Event(), []
        app.screen.ask(lambda: go_on.wait(10), came.append, busy="looking long")
        await pilot.pause(0.05)
        assert "looking long" not in flat(app)
        await pilot.pause(0.3)
        assert "looking long" in flat(app)
        await pilot.press("escape")
        await pilot.pause()
        assert "cancelled; nothing changed" in flat(app)
        go_on.set()
        await settle(pilot)
        assert came == []
        assert isinstance(app.screen, PartsScreen)

    on_screens(bench.place, script)


def test_writing_is_not_left_half_way(bench):
    async def script(app, pilot):
        go_on, came = threading.Event(), []
        app.screen.ask(lambda: go_on.wait(10), came.append, busy="writing", group="change")
        await pilot.pause(0.3)
        await pilot.press("escape")
        go_on.set()
        await settle(pilot)
        assert came == [True]

    on_screens(bench.place, script)


def test_the_theme_goes_from_dark_to_light_and_back(bench):
    async def script(app, pilot):
        assert app.theme == DARK.name
        await press(pilot, "ctrl+t")
        assert app.theme == LIGHT.name
        await press(pilot, "ctrl+t")
        assert app.theme == DARK.name

    on_screens(bench.place, script)


@pytest.mark.parametrize(
    ("environ", "few"),
    [
        ({"TERM": "linux"}, True),
        ({"TERM": "xterm"}, True),
        ({"TERM": "xterm-256color"}, False),
        ({"TERM": "xterm", "COLORTERM": "truecolor"}, False),
        ({}, False),
    ],
)
def test_a_terminal_of_16_colours_is_known_by_its_name(environ, few):
    assert has_few_colours(environ) is few


def test_entries_are_said_in_words(bench):
    ask(bench.job, "Q1", "Jonas")
    bench.job.undo(bench.job.last_of("Jonas").seq, by="Jonas")
    *_, question, back = bench.job.journal()
    assert entry_words(question) == f"entry {question.seq}, ask question Q1 of BASE"
    assert entry_words(back) == f"entry {back.seq}, undo entry {question.seq} of BASE"
    assert others_words([question, back]).endswith("and 1 more before it")


def test_one_key_means_one_thing_on_every_screen():
    meaning = {}
    for action in ACTIONS:
        if action.key in ("up", "down", "left", "right"):
            continue  # a picture that has the focus is moved by them, a list its cursor
        meaning.setdefault(action.key, set()).add(action.name)
    assert {key: names for key, names in meaning.items() if len(names) > 1} == {}


def seen(app):
    """What changes when something happens: the screen on top, its tab, the line at the foot, its title."""
    top = app.screen
    told = str(top.query_one("#told").render()) if top.query("#told") else ""
    return type(top), getattr(top, "tab", ""), told, getattr(getattr(top, "picture", None), "view", None)


@pytest.mark.parametrize(
    "make",
    [
        lambda: PartScreen("TURN"),
        lambda: ConnectionScreen("TURN-BASE"),
        lambda: SignScreen(("TURN",)),
        PeopleScreen,
    ],
    ids=["part", "connection", "sign", "people"],
)
def test_enter_on_any_line_leads_on(bench, make):
    bench.job.take_profile("TURN", "TURN.dxf", plate_dxf((*CORNERS[:3], (24.0, 80.0))), by="Mira")
    ask(bench.job, "Q1", "Mira")

    async def script(app, pilot):
        screen = make()
        app.push_screen(screen)
        await settle(pilot)
        for tab in getattr(screen, "tabs", {None: ()}):
            if tab:
                screen.action_tab(tab)
            for at in range(screen.query(OptionList).last().option_count):
                listed = screen.query(OptionList).last()
                if listed.get_option_at_index(at).disabled:
                    continue
                listed.highlighted = at
                before = seen(app)
                await press(pilot, "enter")
                row = str(listed.get_option_at_index(at).prompt) if at < listed.option_count else ""
                assert seen(app) != before, f"Enter does nothing on {tab}: {row}"
                while app.screen is not screen:
                    app.pop_screen()
                    await settle(pilot)
                if tab:
                    screen.action_tab(tab)
                screen.tell("")

    on_screens(bench.place, script, size=(120, 40))


def test_a_part_is_jumped_to_from_the_search_window(bench):
    async def script(app, pilot):
        await press(pilot, "ctrl+p")
        await press(pilot, *"TURN")
        await pilot.pause(0.3)
        await press(pilot, "enter")
        assert isinstance(app.screen, PartScreen)
        assert app.screen.number == "TURN"

    on_screens(bench.place, script)


def test_what_a_row_shows_cut_is_copied_whole(bench):
    title = "base plate under the turntable, with its four holes for the studs of the pier"
    bench.job.write_part("BASE", {"title": title}, by="Mira")

    async def script(app, pilot):
        await press(pilot, "y")
        assert "~" in shown(app)
        assert "~" not in app.clipboard
        assert app.clipboard.startswith("BASE\tA\tNO-GO\t")
        assert app.clipboard.endswith(title)

    on_screens(bench.place, script, size=(200, 40))


def test_the_list_is_sorted_by_a_click_on_a_column(bench):
    async def script(app, pilot):
        numbers = lambda: [row.part.number for row in app.screen.table.in_table]  # noqa: E731 - one call
        assert numbers() == ["BASE", "TURN"]
        await press(pilot, "S")
        assert "sorted by part" in shown(app)
        await pilot.click("#parts", offset=(5, 0))
        await settle(pilot)
        assert "sorted by what is to be done" in shown(app)

    on_screens(bench.place, script)
