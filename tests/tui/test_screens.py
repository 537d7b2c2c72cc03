"""The screens, driven by keys on a real job: what they show, where keys lead, and what data may never do."""

from __future__ import annotations

import asyncio
import os
from pathlib import Path

import pytest
from bench_job import CORNERS, PASSPHRASE, Bench, plate_dxf
from small_job import edit
from textual.widgets import DataTable, Input, OptionList, Static

from ledger.acts.connections import RequireClearance
from ledger.acts.dimensions import RecordDimension
from ledger.acts.questions import AskQuestion
from tui.app import Fitup
from tui.connection_screen import ConnectionScreen
from tui.journal_screen import JournalScreen
from tui.lock_screen import LockScreen
from tui.part_screen import PartScreen
from tui.parts_screen import PartsScreen
from tui.picture import Picture
from tui.sign_screen import SignScreen
from tui.signs import PLAIN, RICH
from tui.start_screen import StartScreen


@pytest.fixture(autouse=True)
def _seat(monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")


def shown(app):
    """Every line on the terminal, as text."""
    lines = app.screen._compositor.render_strips()
    return "\n".join("".join(piece.text for piece in line).rstrip() for line in lines)


def flat(app):
    """The same without line breaks and frames, for words that were wrapped."""
    return " ".join(shown(app).replace("│", " ").split())


async def settle(pilot):
    """Until no work is left and everything is painted."""
    for _ in range(3):
        await pilot.pause()
        while any(not worker.is_finished for worker in pilot.app.workers):
            await pilot.pause(0.01)


async def press(pilot, *keys):
    await pilot.press(*keys)
    await settle(pilot)


async def write(pilot, text):
    pilot.app.screen.query_one(Input).value = text
    await press(pilot, "enter")


def on_screens(place, script, *, size=(80, 24), signs=RICH):
    async def play():
        app = Fitup(str(place), signs)
        async with app.run_test(size=size, notifications=True) as pilot:
            await settle(pilot)
            await script(app, pilot)

    asyncio.run(play())


def rows(app):
    """Every row of the list, in view or not; on a part's screen those of all tabs. A finding has its code behind it."""
    screen = app.screen
    if isinstance(screen, PartScreen):
        return [_row(row) for tab in screen.tabs.values() for row in tab]
    if isinstance(screen, ConnectionScreen):
        return [_row(row) for row in screen._rows]
    listed = screen.query_one(OptionList)
    return [str(listed.get_option_at_index(i).prompt) for i in range(listed.option_count)]


def _row(row):
    return f"{row.text}  [{row.finding.code}]" if row.finding else str(row.text)


def choose(app, words):
    """Put the cursor of the list on the row that holds these words, in whichever tab it is."""
    screen = app.screen
    if isinstance(screen, PartScreen):
        tab = next(name for name, of in screen.tabs.items() if any(words in _row(row) for row in of))
        screen.action_tab(tab)
        at = next(i for i, row in enumerate(screen.tabs[tab]) if words in _row(row))
    else:
        at = next(i for i, row in enumerate(rows(app)) if words in row)
    screen.query_one("#who" if isinstance(screen, (SignScreen, LockScreen)) else OptionList).highlighted = at


def test_the_first_screen_lists_every_part_with_glyph_and_word(bench):
    async def script(app, pilot):
        assert isinstance(app.screen, PartsScreen)
        assert "Pier mount: 2 parts" in shown(app)
        assert shown(app).count("✗ NO-GO") == 2
        assert "0 GO, 2 NO-GO" in shown(app)

    on_screens(bench.place, script)


def test_the_part_with_most_stops_is_on_top(bench):
    bench.do(AskQuestion, number="TURN", ident="Q1", text="which side is up?")

    async def script(app, pilot):
        assert app.screen.chosen in ("BASE", "TURN")
        lines = [line for line in shown(app).splitlines() if "NO-GO  " in line]
        assert [line.split()[0] for line in lines] == ["TURN", "BASE"]

    on_screens(bench.place, script)


def test_a_part_that_is_go_says_so(bench):
    bench.lock("BASE", "TURN")

    async def script(app, pilot):
        assert shown(app).count("▣ LOCKED") == 2
        assert "OUT 2" in shown(app)

    on_screens(bench.place, script)


def test_without_utf8_everything_of_ours_is_ascii(bench):
    async def script(app, pilot):
        assert "x NO-GO" in shown(app)
        await press(pilot, "v")
        assert "#" in shown(app)
        assert not any("\u2800" <= c <= "\u28ff" for c in shown(app))

    on_screens(bench.place, script, signs=PLAIN)


def test_a_wide_terminal_shows_picture_and_stops_beside_the_table(bench):
    async def script(app, pilot):
        assert any("\u2800" < c <= "\u28ff" for c in shown(app))
        assert "wait TURN revision A is open" in flat(app)
        assert "lock TURN together with this part" in flat(app)

    on_screens(bench.place, script, size=(120, 40))


def test_a_narrow_terminal_shows_them_in_the_other_tab(bench):
    async def script(app, pilot):
        assert 'no "drawn" signature' not in flat(app)
        await press(pilot, "v")
        assert 'no "drawn" signature' in flat(app)
        await press(pilot, "escape")
        assert "rev state" in shown(app)
        assert 'no "drawn" signature' not in flat(app)

    on_screens(bench.place, script)


def test_the_filter_narrows_and_escape_brings_all_back(bench):
    async def script(app, pilot):
        table = app.screen.query_one(DataTable)
        await press(pilot, "slash", *"turn")
        assert table.row_count == 1
        await press(pilot, "escape")
        assert table.row_count == 2

    on_screens(bench.place, script)


def test_a_filter_hides_no_stop(bench):
    """What stops is counted where it is out of sight, and a set is judged whole whatever the list shows of it."""
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")

    async def script(app, pilot):
        await settle(pilot)
        await press(pilot, "space", "down", "space")
        assert app.screen.marked == {"BASE", "TURN"}
        await press(pilot, "slash", *"turn", "enter")
        assert "1 of 2 shown; 1 NO-GO hidden by the filter" in shown(app)
        await press(pilot, "r")
        assert "0 GO, 2 NO-GO; 1 NO-GO hidden by the filter" in shown(app)
        await press(pilot, "l")
        assert isinstance(app.screen, LockScreen)
        assert "which finish?" in shown(app)
        await press(pilot, "escape", "escape")
        assert "hidden" not in shown(app)

    on_screens(bench.place, script)


def test_keys_typed_into_the_filter_call_no_action(bench):
    async def script(app, pilot):
        await press(pilot, "slash", *"slj?")
        assert isinstance(app.screen, PartsScreen)
        assert app.screen.query_one(Input).value == "slj?"

    on_screens(bench.place, script)


def test_names_that_look_like_markup_are_shown_as_they_are(bench):
    bench.plate("M8 [x4]", title="[/close] [bold]loud[/bold] \u202e")
    bench.do(RecordDimension, number="M8 [x4]", name="[/red]", nominal="200 mm")

    async def script(app, pilot):
        assert "M8 [x4]" in shown(app)
        assert "M8 [x4]" in shown(app)
        assert "\u202e" not in shown(app)
        app.push_screen(PartScreen("M8 [x4]"))
        await settle(pilot)
        choose(app, "[/red]")
        await press(pilot, "enter")
        assert "[/red] = 200 mm" in app.screen.query_one(Input).value
        await press(pilot, "escape", "s")
        assert isinstance(app.screen, SignScreen)
        assert "M8 [x4]" in shown(app)

    on_screens(bench.place, script, size=(120, 40))


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
def test_every_screen_can_be_read_at_this_size(bench, size):
    async def script(app, pilot):
        for screen, words in (
            (None, "TURN"),
            (PartScreen("TURN"), 'no "drawn" signature'),
            (ConnectionScreen("TURN-BASE"), "margin"),
            (SignScreen(("TURN",)), "fingerprint"),
            (LockScreen(("TURN",)), "Mira locks"),
            (JournalScreen(), "record connection"),
        ):
            if screen:
                app.push_screen(screen)
                await settle(pilot)
            assert words in flat(app)
            assert "? Help" in shown(app)

    on_screens(bench.place, script, size=size)


def test_a_failing_judgement_is_a_line_on_the_screen(bench, monkeypatch):
    def fail(_job, _numbers, **_how):
        raise RuntimeError("the solver fell over [/oops]")

    monkeypatch.setattr("ledger.job.Job.verdicts", fail)
    monkeypatch.setattr("ledger.job.Job.each_verdict", fail)

    async def script(app, pilot):
        assert app.is_running
        assert "✗ failed" in shown(app)
        assert "the solver fell over [/oops]" in flat(app)
        await press(pilot, "enter")
        assert isinstance(app.screen, PartScreen)
        assert "RuntimeError" in flat(app)
        await press(pilot, "escape")
        assert isinstance(app.screen, PartsScreen)

    on_screens(bench.place, script)


def test_a_file_that_is_no_job_is_said_on_the_screen(tmp_path):
    (tmp_path / "fitup.db").write_bytes(b"not a database at all")

    async def script(app, pilot):
        assert app.is_running
        assert "is not a job" in flat(app)

    on_screens(tmp_path / "fitup.db", script)


def test_enter_on_a_stop_opens_its_fix_and_escape_comes_back(bench):
    bench.do(AskQuestion, number="TURN", ident="Q1", text="which side is up?")

    async def script(app, pilot):
        app.push_screen(PartScreen("TURN"))
        await settle(pilot)
        choose(app, "question_open")
        await press(pilot, "enter")
        assert "Q1: which side is up?" in shown(app)
        await press(pilot, "escape")
        assert isinstance(app.screen, PartScreen)
        choose(app, "partner_open")
        await press(pilot, "enter")
        assert "sign TURN and BASE together" in flat(app)
        await press(pilot, "end", "enter")
        assert isinstance(app.screen, ConnectionScreen)
        assert app.screen.connection == "TURN-BASE"
        await press(pilot, "escape")
        assert isinstance(app.screen, PartScreen)
        choose(app, "role_missing")
        await press(pilot, "enter")
        assert isinstance(app.screen, SignScreen)

    on_screens(bench.place, script)


def test_an_answer_typed_on_the_part_screen_closes_the_question(bench):
    bench.do(AskQuestion, number="TURN", ident="Q1", text="which side is up?")

    async def script(app, pilot):
        app.push_screen(PartScreen("TURN"))
        await settle(pilot)
        choose(app, "question_open")
        await press(pilot, "enter")
        await write(pilot, "the brushed one")
        assert any("the brushed one" in row for row in rows(app))
        assert not any("question_open" in row for row in rows(app))

    on_screens(bench.place, script)
    assert bench.job.part("TURN").questions[0].answer == "the brushed one"


def test_a_dimension_shows_how_it_is_read_while_it_is_typed(bench):
    async def script(app, pilot):
        app.push_screen(PartScreen("TURN"))
        await settle(pilot)
        await press(pilot, "k")
        box = app.screen.query_one(Input)
        box.value = "lip = 3/16 in"
        await pilot.pause()
        assert "3/16 in = 4.7625 mm" in shown(app)
        box.value = "lip = 3/16 furlong"
        await press(pilot, "enter")
        assert box.is_attached
        await write(pilot, "lip = 3/16 in ±0.01")
        assert isinstance(app.screen, PartScreen)

    on_screens(bench.place, script)
    lip = next(d for d in bench.job.part("TURN").dimensions if d.name == "lip")
    assert (lip.nominal.written, str(lip.limits.upper_mm)) == ("3/16 in", "0.254")


def test_an_edited_dimension_keeps_what_was_not_typed(bench):
    async def script(app, pilot):
        app.push_screen(PartScreen("TURN"))
        await settle(pilot)
        choose(app, "width = 200 mm")
        await press(pilot, "enter")
        await write(pilot, "width = 201 mm +0.2/-0.1")
        assert any("off_drawing" in row for row in rows(app))

    on_screens(bench.place, script)
    width = next(d for d in bench.job.part("TURN").dimensions if d.name == "width")
    assert (width.nominal.written, str(width.measured_on), str(width.limits.lower_mm)) == (
        "201 mm",
        "width",
        "-0.1",
    )


def test_a_profile_is_taken_from_a_path(bench):
    bench.job.write_part("ARM", {"title": "arm"}, by="Mira")
    file = bench.folder / "arm.dxf"
    file.write_bytes(plate_dxf())

    async def script(app, pilot):
        app.push_screen(PartScreen("ARM"))
        await settle(pilot)
        choose(app, "profile_missing")
        await press(pilot, "enter")
        await write(pilot, str(file))
        await settle(pilot)
        assert isinstance(app.screen, PartScreen)
        assert "recorded" in shown(app)

    on_screens(bench.place, script)
    assert len(bench.job.part("ARM").holes) == 4


def test_the_unit_is_asked_for_when_the_file_does_not_say_it(bench):
    bench.job.write_part("ARM", {"title": "arm"}, by="Mira")
    file = bench.folder / "arm.dxf"
    lines = plate_dxf().decode().splitlines()
    at = lines.index("$INSUNITS")
    file.write_text("\n".join([*lines[: at - 1], *lines[at + 3 :]]) + "\n")

    async def script(app, pilot):
        app.push_screen(PartScreen("ARM"))
        await settle(pilot)
        await press(pilot, "t")
        await write(pilot, str(file))
        assert "which unit is it?" in flat(app)
        assert "read as mm" in flat(app)
        await write(pilot, "in")

    on_screens(bench.place, script)
    assert bench.job.part("ARM").taken.unit == "in"


def test_the_connection_screen_marks_a_wrong_hole_with_its_move(bench):
    moved = (*CORNERS[:3], (24.0, 80.0))
    bench.job.take_profile("TURN", "TURN.dxf", plate_dxf(moved), by="Mira")

    async def script(app, pilot):
        app.push_screen(ConnectionScreen("TURN-BASE"))
        await settle(pilot)
        assert "NO-GO" in shown(app)
        assert "H1 TURN" in shown(app)
        assert "H1 BASE" in shown(app)
        assert "4.00 mm" in shown(app)
        assert "4.000 mm off, allows" in flat(app)
        assert "(-4.00, +0.00) mm" in flat(app)

    on_screens(bench.place, script, size=(120, 40))


def test_the_picture_moves_and_comes_closer(bench):
    async def script(app, pilot):
        app.push_screen(ConnectionScreen("TURN-BASE"))
        await settle(pilot)
        picture = app.screen.query_one(Picture)
        first = picture.view
        await press(pilot, "plus")
        assert picture.view.mm_per_dot < first.mm_per_dot
        picture.focus()
        await press(pilot, "right")
        assert picture.view.middle[0] > first.middle[0]
        await press(pilot, "0")
        assert picture.view == first

    on_screens(bench.place, script)


def test_a_measured_clearance_is_one_line_with_a_live_reading(bench):
    bench.do(RequireClearance, connection="TURN-BASE", name="edge", required=">= 2 mm")

    async def script(app, pilot):
        app.push_screen(PartScreen("TURN"))
        await settle(pilot)
        choose(app, "not_measured")
        await press(pilot, "enter")
        app.screen.query_one(Input).value = "2.8 ±0.1 mm"
        await press(pilot, "enter")
        assert "name what it was measured with" in shown(app)
        await write(pilot, "2.8 ±0.1 mm feeler")
        assert isinstance(app.screen, PartScreen)
        assert not any("not_measured" in row for row in rows(app))

    on_screens(bench.place, script)
    (connection,) = bench.job.connections()
    assert connection.clearances[0].reading.instrument == "feeler"


async def sign(app, pilot, words, *, passphrase=True):
    choose(app, words)
    await press(pilot, "enter")
    await press(pilot, "tab", "enter")
    if passphrase:
        await write(pilot, PASSPHRASE)


def test_a_set_is_signed_and_locked_by_keys_alone(bench):
    async def script(app, pilot):
        await press(pilot, "space", "down", "space")
        assert "marked: BASE, TURN" in shown(app)
        await press(pilot, "s")
        assert shown(app).count("fingerprint") == 2
        await sign(app, pilot, "Mira signs as drawn")
        assert "Mira signed as drawn" in shown(app)
        await sign(app, pilot, "Jonas signs as checked")
        await press(pilot, "escape")
        await press(pilot, "l")
        choose(app, "Jonas locks")
        await press(pilot, "enter")
        await write(pilot, "1")
        assert "expected 2: BASE A, TURN A" in shown(app)
        await write(pilot, "2")
        await write(pilot, str(bench.folder / "sent"))
        assert "packet:" in shown(app)

    on_screens(bench.place, script, size=(100, 30))
    assert bench.job.part("BASE").locked
    assert bench.job.part("TURN").locked
    assert len(list((bench.folder / "sent").glob("*.zip"))) == 1


def test_a_passphrase_is_asked_once_a_sitting(bench):
    async def script(app, pilot):
        app.push_screen(SignScreen(("BASE", "TURN")))
        await settle(pilot)
        await sign(app, pilot, "Mira signs as drawn")
        await sign(app, pilot, "Mira signs as approved", passphrase=False)
        assert "Mira signed as approved" in shown(app)

    on_screens(bench.place, script)


def test_a_wrong_passphrase_signs_nothing(bench):
    async def script(app, pilot):
        app.push_screen(SignScreen(("BASE", "TURN")))
        await settle(pilot)
        choose(app, "Mira signs as drawn")
        await press(pilot, "enter")
        await press(pilot, "tab", "enter")
        await write(pilot, "wrong horse")
        assert "wrong passphrase" in flat(app)

    on_screens(bench.place, script)
    assert not any(e.kind == "sign_revision" for e in bench.job.journal())


def test_enter_alone_signs_nothing(bench):
    async def script(app, pilot):
        app.push_screen(SignScreen(("BASE", "TURN")))
        await settle(pilot)
        await press(pilot, "enter", "enter")
        assert isinstance(app.screen, SignScreen)

    on_screens(bench.place, script)
    assert not any(e.kind == "sign_revision" for e in bench.job.journal())


def test_one_person_alone_types_two_dimensions_again_without_seeing_them(tmp_path, clock):
    alone = Bench.started(tmp_path, clock, people=("Mira",))
    alone.two_plates()

    async def script(app, pilot):
        app.push_screen(SignScreen(("BASE", "TURN")))
        await settle(pilot)
        choose(app, "Mira signs as checked")
        await press(pilot, "enter")
        assert "BASE/" in shown(app)
        assert "200" not in shown(app)
        await write(pilot, "100.1 mm")
        await write(pilot, "200.1 mm")
        await press(pilot, "tab", "enter")
        await write(pilot, PASSPHRASE)
        assert "Mira signed as checked" in shown(app)

    on_screens(alone.place, script)
    (verdict,) = alone.job.verdicts(["BASE"])
    assert verdict.signed[0].self_check
    alone.job.close()


def test_a_no_go_is_not_locked(bench):
    async def script(app, pilot):
        await press(pilot, "l")
        await press(pilot, "enter")
        assert isinstance(app.screen, LockScreen)
        assert "NO-GO: cannot be locked until the stops above are fixed" in shown(app)

    on_screens(bench.place, script)


def test_the_journal_filters_shows_one_entry_and_verifies(bench):
    async def script(app, pilot):
        await press(pilot, "j")
        assert isinstance(app.screen, JournalScreen)
        await press(pilot, "slash", *"connection", "enter")
        assert app.screen.query_one(DataTable).row_count == 1
        assert '"fastener": "M12"' in str(app.screen.query_one("#detail", Static).render())
        await press(pilot, "r")
        assert "intact: every entry follows" in shown(app)

    on_screens(bench.place, script)


def test_what_is_wrong_in_a_job_is_told_whole(bench):
    for number in ("BASE", "TURN"):
        bench.do(AskQuestion, number=number, ident="Q1", text="which finish?")
    bench.job.close()
    edit(bench.place, "UPDATE fact_question SET text = 'none'")

    async def script(app, pilot):
        await press(pilot, "j", "r")
        assert "not intact: 2 problems, listed above" in shown(app)
        told = str(app.screen.query_one("#detail", Static).render())
        assert "fact_question BASE, Q1" in told
        assert "fact_question TURN, Q1" in told

    on_screens(bench.place, script)


def test_help_is_searched_and_run(bench):
    async def script(app, pilot):
        await press(pilot, "question_mark")
        await press(pilot, *"journal", "enter")
        assert isinstance(app.screen, JournalScreen)

    on_screens(bench.place, script)


def test_without_a_job_one_is_started_from_the_first_screen(tmp_path):
    async def script(app, pilot):
        assert isinstance(app.screen, StartScreen)
        assert not (tmp_path / "fitup.db").exists()
        await press(pilot, "enter")
        await write(pilot, "Pier mount")
        assert isinstance(app.screen, PartsScreen)
        assert "Pier mount: no parts yet" in shown(app)
        await press(pilot, "n")
        await write(pilot, "ARM cut Fork arm")
        assert "ARM " in shown(app)

    on_screens(tmp_path / "fitup.db", script)


def test_the_demo_is_made_and_opened(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)

    async def script(app, pilot):
        await press(pilot, "d")
        assert "Pier telescope mount: 10 parts" in shown(app)

    on_screens("fitup.db", script)
    assert Path("fitup-demo/fitup.db").is_file()


def test_ctrl_q_leaves_with_exit_zero(bench):
    async def play():
        app = Fitup(bench.place, RICH)
        async with app.run_test(size=(80, 24)) as pilot:
            await settle(pilot)
            await pilot.press("ctrl+q")
        return app.return_code

    assert asyncio.run(play()) == 0


def test_e_on_a_finding_tells_everything_known_of_it(bench):
    async def script(app, pilot):
        await press(pilot, "enter")
        choose(app, "role_missing")
        await press(pilot, "e")
        assert "sign as" in shown(app)
        assert "\\u000a" not in shown(app)
        await press(pilot, "escape")
        assert not app.screen.is_modal

    on_screens(bench.place, script)


def test_keys_that_lie_beside_a_job_that_is_no_demo_are_not_used(bench, monkeypatch):
    monkeypatch.delenv("FITUP_KEYS")
    monkeypatch.delenv("FITUP_PASSPHRASE_FILE", raising=False)
    keys = Path(bench.place).parent / "keys"
    keys.mkdir(exist_ok=True)
    (keys / "passphrase.txt").write_text("someone else's", encoding="utf-8")
    Fitup(bench.place).open_job().close()
    assert "FITUP_KEYS" not in os.environ
    assert "FITUP_PASSPHRASE_FILE" not in os.environ
