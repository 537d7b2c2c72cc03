"""Entering a table on the screen: from a file or pasted, looked at, then recorded by a key and a yes."""

from __future__ import annotations

import asyncio

import pytest
from test_screens import flat as shown
from test_screens import settle
from textual import events
from textual.widgets import Input, OptionList, TextArea

from ledger.domain.errors import Unreadable
from tui.app import Fitup
from tui.parts_screen import PartsScreen
from tui.signs import PLAIN, RICH
from tui.table_screen import TableScreen, read_bytes

GOOD = "part,name,nominal,limits\nTURN,width,200 mm,±0.2\nTURN,height,101 mm,±0.2\nTURN,lip,3/16 in,\n"
MIXED = GOOD + "TURN,rim [/red],3,\n"


@pytest.fixture(autouse=True)
def _seat(monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")


async def press(pilot, *keys):
    await pilot.press(*keys)
    await settle(pilot)


def on_table(bench, script, *, size=(80, 24), signs=RICH):
    async def play():
        app = Fitup(str(bench.place), signs)
        async with app.run_test(size=size) as pilot:
            await settle(pilot)
            app.push_screen(TableScreen())
            await settle(pilot)
            await script(app, pilot)

    asyncio.run(play())


def file(bench, text):
    path = bench.folder / "t.csv"
    path.write_text(text, encoding="utf-8")
    return path


async def read(app, pilot, path):
    app.screen.query_one("#path", Input).value = str(path)
    await press(pilot, "enter")


async def paste(app, pilot, text):
    await press(pilot, "escape", "V")
    app.post_message(events.Paste(text))
    await settle(pilot)


def names(bench):
    return {d.name for d in bench.job.part("TURN").dimensions}


@pytest.mark.parametrize("signs", [RICH, PLAIN])
@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
def test_each_row_of_a_file_has_a_sign_and_a_word(bench, size, signs):
    async def script(app, pilot):
        await read(app, pilot, file(bench, MIXED))
        for sign, word in (
            (signs.note, "unchanged"),
            (signs.warning, "changed"),
            (signs.chosen, "new"),
            (signs.no_go, "wrong"),
        ):
            assert f"{sign} {word}" in shown(app)
        assert "nominal: 100 mm -> 101 mm" in shown(app)
        assert "rim [/red]" in shown(app)
        assert "4 rows: 1 new, 1 changed, 1 unchanged, 1 wrong" in shown(app)
        assert "? Help" in shown(app)

    on_table(bench, script, size=size, signs=signs)
    assert "lip" not in names(bench)


def test_a_table_is_recorded_by_a_key_and_a_yes_and_not_without(bench):
    entries = len(list(bench.job.journal()))

    async def script(app, pilot):
        await read(app, pilot, file(bench, GOOD))
        await press(pilot, "ctrl+s")
        assert "record 2 entries from this table?" in shown(app)
        await press(pilot, "escape")
        assert "lip" not in names(bench)
        await press(pilot, "ctrl+s", "enter")
        assert "lip" not in names(bench)
        await press(pilot, "ctrl+s", "tab", "enter")
        assert "recorded 2 entries" in shown(app)
        assert "3 rows: 0 new, 0 changed, 3 unchanged, 0 wrong" in shown(app)
        await press(pilot, "ctrl+s")
        assert "nothing to record" in shown(app)

    on_table(bench, script)
    assert len(list(bench.job.journal())) == entries + 2
    assert "lip" in names(bench)


def test_with_a_wrong_row_nothing_is_recorded_unless_the_good_ones_are_asked_for(bench):
    async def script(app, pilot):
        await read(app, pilot, file(bench, MIXED))
        await press(pilot, "ctrl+s")
        assert "1 wrong: fix them" in shown(app)
        assert isinstance(app.screen, TableScreen)
        assert "lip" not in names(bench)
        await press(pilot, "ctrl+g")
        assert "1 wrong, left out" in shown(app)
        await press(pilot, "tab", "enter")
        assert "recorded 2 entries" in shown(app)

    on_table(bench, script)
    assert names(bench) == {"width", "height", "lip"}


@pytest.mark.parametrize("mark", [",", "\t", ";"])
def test_a_pasted_table_is_read(bench, mark):
    async def script(app, pilot):
        await paste(app, pilot, GOOD.replace(",", mark))
        assert "3 rows: 1 new, 1 changed, 1 unchanged, 0 wrong" in shown(app)
        await press(pilot, "escape", "ctrl+s", "tab", "enter")
        assert "recorded 2 entries" in shown(app)

    on_table(bench, script)
    assert "lip" in names(bench)


def test_keys_typed_into_the_box_call_no_action(bench):
    async def script(app, pilot):
        await press(pilot, "escape", "V", *"rgfpu")
        assert app.screen.query_one("#pasted", TextArea).text == "rgfpu"
        assert isinstance(app.screen, TableScreen)

    on_table(bench, script)


def test_what_is_no_table_is_a_line_on_the_screen(bench):
    async def script(app, pilot):
        await read(app, pilot, file(bench, "part,name,nominel\nTURN,lip,3 mm\n"))
        assert "nominal" in shown(app)
        assert app.screen.found is None
        await read(app, pilot, bench.folder / "none.csv")
        assert "cannot read" in shown(app)
        await press(pilot, "escape", "ctrl+s")
        assert "nothing to record" in shown(app)

    on_table(bench, script)


def test_a_bad_table_read_after_a_good_one_leaves_nothing_to_record(bench):
    async def script(app, pilot):
        await read(app, pilot, file(bench, GOOD))
        await press(pilot, "F")
        await read(app, pilot, file(bench, ""))
        assert "is empty" in shown(app)
        await press(pilot, "escape", "ctrl+s")
        assert "nothing to record" in shown(app)

    on_table(bench, script)
    assert "lip" not in names(bench)


def test_of_a_long_table_five_hundred_rows_are_shown_wrong_ones_first(bench):
    lines = [f"TURN,d{k},{k + 1} mm" for k in range(600)] + ["TURN,last,3"]

    async def script(app, pilot):
        await read(app, pilot, file(bench, "part,name,nominal\n" + "\n".join(lines)))
        listed = app.screen.query_one("#rows", OptionList)
        assert listed.option_count == 500
        assert "wrong" in str(listed.get_option_at_index(0).prompt)
        assert "500 of 601 rows shown" in shown(app)

    on_table(bench, script)


def test_escape_leaves_the_entry_then_the_screen(bench):
    async def script(app, pilot):
        await press(pilot, "escape")
        assert isinstance(app.screen, TableScreen)
        await press(pilot, "escape")
        assert isinstance(app.screen, PartsScreen)

    on_table(bench, script)


def test_a_folder_a_device_and_a_strange_name_are_refused(tmp_path):
    with pytest.raises(Unreadable, match="expected a regular file"):
        read_bytes(str(tmp_path))
    with pytest.raises(Unreadable, match="expected a regular file"):
        read_bytes("/dev/zero")
    with pytest.raises(Unreadable, match="check the name"):
        read_bytes("a\0b")
