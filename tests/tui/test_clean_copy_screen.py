"""From a stop of the drawing to a clean copy, on the part screen."""

from __future__ import annotations

import io

import ezdxf
import pytest
from test_more_verbs import on_part
from test_screens import choose, flat, press, rows, write

from ledger.words.layers import layers_line


@pytest.fixture(autouse=True)
def _seat(monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")


def untidy():
    document = ezdxf.new("R2010", units=0)
    space = document.modelspace()
    for x in (0, 300):
        space.add_lwpolyline([(x, 0), (x + 200, 0), (x + 200, 100 + x / 10), (x, 100 + x / 10)], close=True)
        space.add_circle((x + 50, 50), 6.75)
        space.add_circle((x + 50, 50), 9)
    space.add_text("as drawn")
    out = io.StringIO()
    document.write(out)
    return out.getvalue().encode()


def test_from_a_stop_to_a_clean_copy_with_every_question_on_the_way(bench):
    bench.plate("ARM")
    bench.job.take_profile("ARM", "arm.dxf", untidy(), by="Mira")

    async def script(app, pilot):
        choose(app, "unexplained_content")
        await press(pilot, "enter")
        assert "arm.dxf cannot be cut as it is" in flat(app)
        await press(pilot, "enter")
        assert "says “as drawn”" in flat(app)
        await press(pilot, "enter")
        assert "which unit is it?" in flat(app)
        await write(pilot, "mm")
        assert "which of the outlines is the part?" in flat(app)
        await press(pilot, "down", "enter")
        assert "which circle is cut?" in flat(app)
        await press(pilot, "enter")
        assert not any("unexplained_content" in row for row in rows(app))

    on_part(bench, "ARM", script, size=(120, 40))
    taken = bench.job.part("ARM").taken
    assert taken.file_name == "arm-clean.dxf"
    assert taken.profile.size_mm == pytest.approx((200, 100))
    assert [h.diameter_mm for h in taken.profile.holes] == [13.5]


def test_leaving_a_question_changes_nothing(bench):
    bench.plate("ARM")
    bench.job.take_profile("ARM", "arm.dxf", untidy(), by="Mira")

    async def script(app, pilot):
        choose(app, "unexplained_content")
        await press(pilot, "enter", "enter", "escape")

    on_part(bench, "ARM", script)
    assert bench.job.part("ARM").taken.file_name == "arm.dxf"


def test_broken_lines_and_few_sides_are_asked_about_on_the_way(bench):
    document = ezdxf.new("R2010", units=4, setup=True)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (200, 0), (200, 100), (0, 100)], close=True)
    space.add_lwpolyline(
        [(60, 50), (53, 62.12436), (39, 62.12436), (32, 50), (39, 37.87564), (53, 37.87564)], close=True
    )
    space.add_line((100, 0), (100, 100), dxfattribs={"linetype": "DASHED"})
    out = io.StringIO()
    document.write(out)
    bench.plate("ARM")
    bench.job.take_profile("ARM", "arm.dxf", out.getvalue().encode(), by="Mira")

    async def script(app, pilot):
        choose(app, "maybe_bend")
        await press(pilot, "enter", "enter")
        assert "what are the lines drawn as DASHED?" in flat(app)
        await press(pilot, "enter")
        assert "few straight sides" in flat(app)
        await press(pilot, "enter")

    on_part(bench, "ARM", script, size=(120, 40))
    profile = bench.job.part("ARM").taken.profile
    assert (len(profile.bends), [h.made_of for h in profile.holes]) == (1, ["circle"])


def test_layers_are_written_in_one_line():
    line = layers_line("KNICK=bend, TEXT=ignore for Kerf & Son")
    assert line.fields == {"roles": {"KNICK": "bend", "TEXT": "ignore"}, "vendor": "Kerf & Son"}
    assert line.reading == "KNICK bend, TEXT ignore; remembered for Kerf & Son"
