"""Facts of a part and of a weld on the screens: shown, typed with a reading, recorded."""

from __future__ import annotations

import pytest
from bench_job import PLATE, plate_dxf
from test_more_verbs import on_part
from test_screens import choose, flat, press, rows, write

from ledger.domain.errors import BadInput
from ledger.domain.finding import Finding
from ledger.words.parts import field_value
from tui.connection_form import ConnectionForm
from tui.fixes import fix_for


@pytest.fixture(autouse=True)
def _seat(monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")


def test_what_is_typed_into_a_field_is_read_back():
    assert field_value("thickness", "16 ga").reading == "thickness: 16 ga of the part's material"
    assert field_value("density", "2.7 g/cm3").reading == "density: 2700 kg/m3"
    assert field_value("per_assembly", "4").fields == {"per_assembly": 4}
    assert field_value("spares", "").fields == {"spares": None}
    assert field_value("etched", "P-1").fields == {"etched": "P-1"}
    for name, text in (
        ("density", "0 kg/m3"),
        ("masked", "top top"),
        ("assemblies", "-1"),
        ("thickness", "16 g"),
    ):
        with pytest.raises(BadInput):
            field_value(name, text)


def test_a_part_shows_its_figures_and_the_warning_opens_the_field_that_settles_it(bench):
    """10 mm of S275: 200 x 100 less four holes of 13.5 mm is 19427 mm2 and 1.53 kg, in five pierces."""
    bench.job.write_part("TWIN", PLATE, by="Mira")
    bench.job.take_profile("TWIN", "TWIN.dxf", plate_dxf(), by="Mira")
    bench.job.write_part("BASE", {"etched": ""}, by="Mira")

    async def script(app, pilot):
        said = " ".join(rows(app))
        assert "1.53 kg" in said
        assert "net 19427 mm2, cut 770 mm, 5 pierces" in said
        assert "yield 275 MPa" in said
        choose(app, "not_told_apart")
        await press(pilot, "enter")
        assert "etched of TWIN" in flat(app)
        await write(pilot, "TWIN")
        assert not any("not_told_apart" in row for row in rows(app))

    on_part(bench, "TWIN", script)
    assert bench.job.part("TWIN").etched == "TWIN"


def test_a_gauge_is_typed_as_a_thickness(bench):
    async def script(app, pilot):
        choose(app, "thickness")
        await press(pilot, "enter")
        await write(pilot, "11 ga")

    on_part(bench, "BASE", script)
    assert bench.job.part("BASE").thickness.written == "0.1196 in"


def test_the_form_of_a_weld_asks_for_side_class_and_holes(bench):
    async def script(app, pilot):
        await press(pilot, "c")
        await write(pilot, "SEAM: welded, BASE on TURN, gap 0..1.5 mm")
        choose(app, "SEAM")
        assert any("SEAM: welded" in row for row in rows(app))
        (connection,) = (m for m in bench.job.connections() if m.name == "SEAM")
        app.push_screen(ConnectionForm("BASE", connection))
        await pilot.pause()
        await press(pilot)
        said = " ".join(rows(app))
        for words in ("drawn or root gap", "welded on", "class (ISO 13920)", "holes across weld"):
            assert words in said
        choose(app, "class (ISO 13920)")
        await press(pilot, "enter")
        choose(app, "B")
        await press(pilot, "enter")
        choose(app, "record: ")
        await press(pilot, "enter")

    on_part(bench, "BASE", script)
    (connection,) = (m for m in bench.job.connections() if m.name == "SEAM")
    assert connection.weld_class == "B"


def test_findings_of_welds_and_tabs_are_fixed_where_the_connection_is_declared():
    for code in ("weld_unsaid", "weld_spread", "tabs_not_found"):
        assert fix_for(Finding(code, "", where="SEAM/weld"), ["SEAM"]).kind == "record"
    assert fix_for(Finding("tab_misfit", "", where="SEAM/width"), ["SEAM"]).kind == "connection"
    assert fix_for(Finding("not_told_apart", "", where="etched"), ["SEAM"]).name == "etched"
