"""Instruments, vendors' bend data, links of questions and placed groups: on the screens as on the command line."""

from __future__ import annotations

import pytest
from bench_job import bent_dxf
from test_more_verbs import on_part
from test_screens import choose, flat, on_screens, press, rows, shown, write
from textual.widgets import Input

from ledger.acts.questions import AskQuestion
from ledger.domain.errors import BadInput
from ledger.words.bends import bend_data_line, bend_data_words
from ledger.words.instruments import instrument_line, instrument_words
from ledger.words.questions import link_line
from tui.instruments_screen import InstrumentsScreen
from tui.part_screen import PartScreen
from tui.table_screen import TableScreen

SIZES = ((80, 24), (120, 40))
TODAY = "2026-03-02"
CALIPER = "caliper 7 = caliper, resolution 0.01 mm, limit 0.02 mm, calibrated 2026-01-31, 24 months"


@pytest.fixture(autouse=True)
def _seat(monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")


@pytest.mark.parametrize("size", SIZES)
def test_an_instrument_is_entered_from_the_first_screen_and_calibrated_again(bench, size):
    async def script(app, pilot):
        await press(pilot, "i")
        assert isinstance(app.screen, InstrumentsScreen)
        assert "none entered" in flat(app)
        await press(pilot, "n")
        box = app.screen.query_one(Input)
        box.value = CALIPER.replace("2026-01-31", "2999-01-31")
        await pilot.pause()
        assert "is in the future" in flat(app)
        await press(pilot, "enter")
        assert box.is_attached
        await write(pilot, CALIPER.replace("2026-01-31", "2023-01-31"))
        assert "OVERDUE since 2025-01-31" in flat(app)
        choose(app, "caliper 7: caliper")
        await press(pilot, "enter")
        assert app.screen.query_one(Input).value == CALIPER.replace("2026-01-31", "2023-01-31")
        await write(pilot, CALIPER)
        assert "off by" not in flat(app)
        assert "due 2028-01-31" in flat(app)

    on_screens(bench.place, script, size=size)
    (made,) = bench.job.instruments()
    assert (made.limit, made.resolution, made.due) == ("0.02 mm", "0.01 mm", "2028-01-31")
    assert instrument_words(made) == CALIPER


@pytest.mark.parametrize("size", SIZES)
def test_bend_data_of_a_vendor_is_entered_and_edited(bench, size):
    async def script(app, pilot):
        await press(pilot, "i", "b")
        await write(pilot, "Kerf & Son: 3 mm of S235, R 3 mm")
        assert "Kerf & Son: 3 mm of S235, R 3 mm" in flat(app)
        choose(app, "Kerf & Son")
        await press(pilot, "enter")
        await write(pilot, app.screen.query_one(Input).value + ", K 0.42")
        await press(pilot, "escape")
        assert "BASE" in shown(app)

    on_screens(bench.place, script, size=size)
    (said,) = bench.job.bend_data()
    assert bend_data_words(said) == "Kerf & Son: 3 mm of S235, R 3 mm, K 0.42"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("caliper 7", "expected NAME = KIND"),
        ("caliper 7 = callipper, calibrated 2026-01-31", "caliper"),
        ("caliper 7 = caliper", "last calibration missing"),
        ("caliper 7 = caliper, limit 0 mm, calibrated 2026-01-31", "above zero"),
        ("caliper 7 = caliper, limit 2 kg, calibrated 2026-01-31", "a mass"),
        ("caliper 7 = caliper, limit 0.1 mm, class II, calibrated 2026-01-31", "enter its accuracy once"),
        ("caliper 7 = caliper, class IX, calibrated 2026-01-31", "no class"),
        ("caliper 7 = caliper, calibrated 31.1.2026", "is not a date"),
        ("caliper 7 = caliper, calibrated 2026-01-31, 0 months", "1 to 120 months"),
        ("caliper 7 = caliper, good, calibrated 2026-01-31", "read 'good'"),
    ],
)
def test_a_line_that_says_no_instrument_is_refused_with_its_reason(text, told):
    with pytest.raises(BadInput, match=told):
        instrument_line(text, TODAY)


@pytest.mark.parametrize(
    ("months", "told"), [("1 month", "1 month"), ("2 months", "2 months"), ("", "12 months")]
)
def test_how_long_a_calibration_holds_is_told_with_its_plural(months, told):
    line = f"caliper 7 = caliper, calibrated 2026-01-31, {months}"
    assert instrument_line(line, TODAY).reading.endswith(f"due again after {told}")


@pytest.mark.parametrize(
    "text",
    [
        "Kerf & Son",
        "Kerf & Son: 3 mm, R 3 mm",
        "Kerf & Son: 3 kg of S235, R 3 mm",
        "Kerf & Son: 3 mm of S235",
        "Kerf & Son: 3 mm of S235, R 0 mm",
        "Kerf & Son: 3 mm of S235, K 0.7",
        "Kerf & Son: 3 mm of S235, sharp",
    ],
)
def test_a_line_that_says_no_bend_data_is_refused(text):
    with pytest.raises(BadInput):
        bend_data_line(text)


@pytest.mark.parametrize("size", SIZES)
def test_what_a_question_blocks_and_waits_for_is_written_anew(bench, size):
    for ident in ("Q1", "Q2"):
        bench.do(AskQuestion, number="TURN", ident=ident, text="which side is up?")
    bench.do(AskQuestion, number="BASE", ident="Q2", text="how thick?")

    async def script(app, pilot):
        choose(app, "title ")
        await press(pilot, "H")
        assert "put the cursor on a question" in flat(app)
        choose(app, "Q1: which side")
        await press(pilot, "H")
        await write(pilot, "holds up BASE; depends on BASE/Q2, Q2; needed by 2026-05-01")
        assert any("holds up BASE; depends on BASE/Q2, Q2; needed by 2026-05-01" in row for row in rows(app))
        choose(app, "Q2: which side")
        await press(pilot, "H")
        await write(pilot, "depends on Q1")
        assert "it would depend on itself" in flat(app)
        assert app.screen.query_one(Input).value == "depends on Q1", "what was typed stays, to be mended"
        await press(pilot, "escape")
        choose(app, "[question_open]")
        await press(pilot, "H")
        assert app.screen.query_one(Input).value.startswith("holds up BASE; depends on")
        await write(pilot, "")
        assert any("Q1: which side is up? (open)" in row for row in rows(app))

    on_part(bench, "TURN", script, size=size)
    assert {q.words for q in bench.job.part("TURN").questions} == {""}


def test_links_that_do_not_read_are_refused():
    for text in ("stops TURN", "by tomorrow", "by 2026-5-1", "holds up ,", "depends on"):
        with pytest.raises(BadInput):
            link_line(text)
    fields = link_line("depends on Q2; depends on PIER").fields
    assert fields["depends_on"] == ("Q2", "PIER")


@pytest.mark.parametrize("size", SIZES)
def test_a_group_is_placed_from_another_in_the_line_that_names_it(bench, size):
    bench.job.write_part("WALL", {"thickness": "3 mm", "material": "S235", "process": "laser"}, by="Mira")
    points = ((20.0, 10.0), (180.0, 10.0), (20.0, 90.0), (180.0, 90.0))
    bench.job.take_profile("WALL", "WALL.dxf", bent_dxf(points=points), by="Mira")

    async def script(app, pilot):
        await press(pilot, "g")
        await write(pilot, "foot = H1 H2")
        await press(pilot, "g")
        box = app.screen.query_one(Input)
        box.value = "seal = H3 H4 from feet"
        await pilot.pause()
        assert "no hole group or hole 'feet'" in flat(app)
        box.value = "seal = H3 H9"
        await pilot.pause()
        assert "no hole 'H9'" in flat(app)
        await write(pilot, "seal = H3 H4 from foot")
        choose(app, "seal: H3 H4, from foot")
        await press(pilot, "enter")
        assert app.screen.query_one(Input).value == "seal = H3 H4 from foot"

    on_part(bench, "WALL", script, size=size)
    assert bench.job.part("WALL").group("seal").reference == "foot"


def test_a_group_that_cannot_be_placed_is_not_named_either(bench):
    before = len(list(bench.job.journal()))
    with pytest.raises(BadInput):
        bench.job.name_group("BASE", "seal", ("H1",), "nowhere", by="Mira")
    assert len(list(bench.job.journal())) == before


@pytest.mark.parametrize(
    ("words", "kind"), [("instruments", InstrumentsScreen), ("from a table", TableScreen)]
)
def test_they_are_found_in_the_help_and_in_the_list_of_actions(bench, words, kind):
    async def script(app, pilot):
        for way in ("question_mark", "ctrl+p"):
            await press(pilot, way)
            app.screen.query_one(Input).value = words
            await pilot.pause(0.6)
            await press(pilot, "enter")
            assert any(isinstance(screen, kind) for screen in app.screen_stack)
            while len(app.screen_stack) > 2:
                await press(pilot, "escape")

    on_screens(bench.place, script)


def test_links_are_found_in_the_help_of_a_part(bench):
    bench.do(AskQuestion, number="TURN", ident="Q1", text="which side is up?")

    async def script(app, pilot):
        choose(app, "Q1: which side")
        await press(pilot, "question_mark", *"holds", "enter")
        await write(pilot, "holds up BASE")
        assert isinstance(app.screen, PartScreen)

    on_part(bench, "TURN", script)
    assert bench.job.part("TURN").questions[0].holds_up == ("BASE",)
