"""The job as text on the screens: written, looked at, recorded by a key and a yes."""

from __future__ import annotations

import asyncio

import pytest
from test_screens import flat, settle
from textual.widgets import Input

from tui.app import Fitup
from tui.job_text_screen import JobTextScreen


@pytest.fixture(autouse=True)
def _seat(monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")


async def press(pilot, *keys):
    await pilot.press(*keys)
    await settle(pilot)


def on_text(bench, script):
    async def play():
        app = Fitup(str(bench.place))
        async with app.run_test(size=(80, 24)) as pilot:
            await settle(pilot)
            await press(pilot, "J")
            assert isinstance(app.screen, JobTextScreen)
            app.screen.query_one("#path", Input).value = str(bench.folder / "job.toml")
            await script(app, pilot)

    asyncio.run(play())


def test_the_job_is_written_edited_and_recorded(bench):
    file = bench.folder / "job.toml"

    async def script(app, pilot):
        await press(pilot, "w")
        assert "written:" in flat(app)
        file.write_text(
            file.read_text("utf-8").replace('thickness = "10 mm"', 'thickness = "12 mm"', 1), "utf-8"
        )
        await press(pilot, "r")
        assert "thickness of BASE: 10 mm -> 12 mm" in flat(app)
        await press(pilot, "ctrl+s")
        assert "record 1 change from this text?" in flat(app)
        await press(pilot, "tab", "enter")
        assert "1 change recorded" in flat(app)

    on_text(bench, script)
    assert bench.job.part("BASE").thickness.written == "12 mm"


def test_a_text_that_does_not_read_says_where_and_records_nothing(bench):
    (bench.folder / "job.toml").write_text("[parts.BASE]\ntittle = 'x'\n", "utf-8")

    async def script(app, pilot):
        await press(pilot, "r")
        assert "line 2, column 1: 'tittle' is nothing" in flat(app)
        await press(pilot, "ctrl+s")
        assert "nothing to record: r reads the file" in flat(app)

    on_text(bench, script)


def test_a_file_that_is_not_there_is_told(bench):
    async def script(app, pilot):
        await press(pilot, "r")
        assert "No such file or directory; check the name" in flat(app)

    on_text(bench, script)
