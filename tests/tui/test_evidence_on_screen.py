"""A photograph is kept by a key on the screen of a part, and is listed there."""

from __future__ import annotations

import asyncio

import pytest
from test_screens import flat, settle

from tui.app import Fitup
from tui.part_screen import PartScreen


@pytest.fixture(autouse=True)
def _seat(monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")


async def press(pilot, *keys):
    await pilot.press(*keys)
    await settle(pilot)


def test_a_photograph_is_kept_and_listed(bench):
    photo = bench.folder / "p.jpg"
    photo.write_bytes(b"a picture")

    async def play():
        app = Fitup(str(bench.place))
        async with app.run_test(size=(120, 40)) as pilot:
            await settle(pilot)
            app.push_screen(PartScreen("BASE"))
            await settle(pilot)
            await press(pilot, "E", *"nowhere.jpg", "enter")
            assert "No such file" in flat(app)
            await press(pilot, "escape", "E")
            app.screen.query_one("Input").value = str(photo)
            await press(pilot, "enter", "2")
            assert "BASE: p.jpg" in flat(app)

    asyncio.run(play())
    assert [one.address for one in bench.job.evidence()] == ["BASE"]
