"""Bends on the part screen: stated in one line with a live reading, shown with what they take of the flat."""

from __future__ import annotations

import pytest
from bench_job import bent_dxf
from test_more_verbs import on_part
from test_screens import choose, flat, press, rows, write
from textual.widgets import Input

from ledger.domain.errors import BadInput
from ledger.words.bends import bend_line


@pytest.fixture(autouse=True)
def _seat(monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")


@pytest.fixture
def bent_part(bench):
    bench.job.write_part("WALL", {"thickness": "3 mm", "material": "S235", "process": "laser"}, by="Mira")
    bench.job.take_profile("WALL", "WALL.dxf", bent_dxf(), by="Mira")
    return bench


def test_a_bend_line_under_the_cursor_is_stated(bent_part):
    async def script(app, pilot):
        assert any("bend lines 2" in row for row in rows(app))
        choose(app, "B2    not entered")
        await press(pilot, "enter")
        box = app.screen.query_one(Input)
        assert box.value == "B2: "
        box.value = "B2: 90 deg up, K 0.7"
        await pilot.pause()
        assert "at most 0.5" in flat(app)
        box.value = "B2: 90 deg up, R 3 mm"
        await pilot.pause()
        assert "K-factor by default" in flat(app)
        await write(pilot, "B2: 90 deg up, R 3 mm, K 0.44")
        assert any("B2" in row and "takes 6.786 mm of the flat" in row for row in rows(app))
        choose(app, "B2    90")
        await press(pilot, "b")
        assert app.screen.query_one(Input).value == "B2: 90 deg up, R 3 mm, K 0.44"

    on_part(bent_part, "WALL", script)
    (made,) = bent_part.job.part("WALL").bends
    assert (made.label, made.direction) == ("B2", "up")


def test_the_warning_about_bends_opens_the_line_that_states_them(bent_part):
    async def script(app, pilot):
        choose(app, "bend_unsaid")
        await press(pilot, "enter")
        assert app.screen.query_one(Input).value == "B1: "
        await write(pilot, "B1 B2: 90 deg up, R 3 mm, K 0.44")
        assert not any("bend_unsaid" in row for row in rows(app))

    on_part(bent_part, "WALL", script)
    assert len(bent_part.job.part("WALL").bends) == 2


def test_a_part_without_bend_lines_says_so(bench):
    bench.plate("BASE")

    async def script(app, pilot):
        assert not any("bend lines" in row for row in rows(app))
        await press(pilot, "b")
        assert "has no bend lines" in flat(app)

    on_part(bench, "BASE", script)


@pytest.mark.parametrize("text", ["B1", "B1:", ": 90 deg up", "B1: up", "B1: 90 deg up, K 2", "B1: 0 deg up"])
def test_a_line_that_says_no_bend_is_refused(text):
    with pytest.raises(BadInput):
        bend_line(text)
