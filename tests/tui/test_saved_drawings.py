"""A drawing saved while the screens are open is told, and taken with one key; looking alone records nothing."""

from __future__ import annotations

import time

import pytest
from bench_job import CORNERS, plate_dxf
from test_screens import flat, on_screens, press, settle

from ledger.domain.taking import Asked

MOVED = ((23.0, 20.0), *CORNERS[1:])


@pytest.fixture
def folder(bench, monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")
    made = bench.folder / "drawings"
    made.mkdir()
    for number in ("BASE", "CLAMP"):
        (made / f"{number}.dxf").write_bytes(plate_dxf(diameter=13.5 if number == "BASE" else 9.0))
    bench.job.take_drawings([str(made)], Asked(changed=True), by="Mira")
    return made


async def until(pilot, holds):
    began = time.monotonic()
    while not holds() and time.monotonic() < began + 20:
        await pilot.pause(0.1)
    assert holds()


def test_a_saved_drawing_is_told_and_taken_with_one_key(bench, folder):
    before = bench.job.seal()

    async def script(app, pilot):
        await settle(pilot)
        app.drawings.follow(app.open_job())
        (folder / "BASE.dxf").write_bytes(plate_dxf(MOVED))
        await until(pilot, lambda: app.drawings.waiting)
        (saved,) = app.drawings.waiting.values()
        assert (saved.number, saved.changes) == ("BASE", ("H3 moved 3.00 mm",))
        await until(pilot, lambda: "H3 moved 3.00 mm" in flat(app))
        assert bench.job.seal() == before
        await press(pilot, "A")
        assert not app.drawings.waiting
        assert "BASE.dxf as BASE" in flat(app)

    on_screens(bench.place, script)
    assert {s.state for s in bench.job.saved_drawings([folder])} == {"taken"}


def test_of_several_those_that_are_marked_are_taken(bench, folder):
    async def script(app, pilot):
        await settle(pilot)
        (folder / "BASE.dxf").write_bytes(plate_dxf(MOVED))
        (folder / "CLAMP.dxf").write_bytes(plate_dxf(MOVED, diameter=9.0))
        app.drawings.follow(app.open_job())
        await until(pilot, lambda: len(app.drawings.waiting) == 2)
        await press(pilot, "A", "space", "enter")
        assert len(app.drawings.waiting) == 1

    on_screens(bench.place, script)
    assert sorted(s.state for s in bench.job.saved_drawings([folder])) == ["changed", "taken"]


def test_the_key_says_so_where_nothing_was_saved(bench):
    async def script(app, pilot):
        await settle(pilot)
        await press(pilot, "A")
        assert "no drawing was saved since it was taken" in flat(app)

    on_screens(bench.place, script)
