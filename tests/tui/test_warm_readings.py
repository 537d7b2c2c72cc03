"""Readings on warm work are entered on the screens, and shown as they were read beside what they are at 20 °C."""

from __future__ import annotations

import pytest
from test_more_verbs import on_part
from test_screens import choose, flat, on_screens, press, rows, settle, write
from textual.widgets import Input, Static

from ledger.acts.connections import RequireClearance
from ledger.domain.errors import BadInput
from ledger.words.clearances import reading_line
from ledger.words.dimensions import dimension_line
from tui.connection_screen import ConnectionScreen


@pytest.fixture(autouse=True)
def _seat(monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")


def told(app):
    return str(app.screen.query_one("#reading", Static).content)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_a_warm_clearance_is_read_on_the_connection(bench, size):
    bench.do(RequireClearance, connection="TURN-BASE", name="gap", required=">= 400 mm")

    async def script(app, pilot):
        app.push_screen(ConnectionScreen("TURN-BASE"))
        await settle(pilot)
        choose(app, "clearance gap")
        await press(pilot, "enter")
        box = app.screen.query_one(Input)
        box.value = "500.1 ±0.05 mm steel rule at 400C"
        await pilot.pause()
        assert "no temperature at which work is measured" in told(app)
        box.value = "500.1 ±0.05 mm steel rule at 45C"
        await pilot.pause()
        assert "read at 45 °C, recorded as it is at 20 °C" in told(app)
        await press(pilot, "enter")
        # 500.1 (11.5 - 11.7)e-6 · 25 = -0.0025 mm: a steel rule grows as the steel does
        assert any("500.0975 mm" in r and "read 500.1 mm at 45 °C" in r for r in rows(app))
        assert "recorded: 500.0975 mm" in flat(app)

    on_screens(bench.place, script, size=size)


def test_a_warm_dimension_keeps_what_was_read_when_its_limits_are_written_anew(bench):
    bench.job.write_part("TURN", {"material": "6061-T6"}, by="Mira")

    async def script(app, pilot):
        await press(pilot, "k")
        await write(pilot, "reach = 1000 mm ±1, measured ±0.02 mm steel rule at 30C")
        assert any("reach = 999.879 mm" in r and "read 1000 mm at 30 °C" in r for r in rows(app))
        choose(app, "reach = 999.879")
        await press(pilot, "enter")
        await write(pilot, app.screen.query_one(Input).value.replace("±1", "±2"))
        assert any("reach = 999.879 mm ±2" in r and "read 1000 mm at 30 °C" in r for r in rows(app))

    on_part(bench, "TURN", script)


def test_a_temperature_where_none_belongs_is_refused():
    for read, text in (
        (dimension_line, "w = 3 mm, given at 30C"),
        (dimension_line, "w = 3 mm, measured at 30C"),
        (dimension_line, "w = 3 mm, measured caliper at 300C"),
        (reading_line, "1.8 ±0.1 mm feeler at 300C"),
        (reading_line, "1.8 ±0.1 mm at 30C"),
    ):
        with pytest.raises(BadInput):
            read(text)
