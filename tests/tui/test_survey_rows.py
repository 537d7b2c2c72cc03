"""Points and distances of a structure on its screen: shown, entered, measured again, removed."""

from __future__ import annotations

import pytest
from test_more_verbs import on_part
from test_screens import choose, press, rows, write

from ledger.domain.errors import BadInput
from ledger.domain.record import Distance
from ledger.standards.expansion import heat_of
from ledger.standards.instruments import measured
from ledger.words.points import distance_line, distance_words, point_line
from ledger.words.questions import question_line


@pytest.fixture(autouse=True)
def _seat(monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")


def test_points_and_distances_are_entered_and_written_anew(bench):
    bench.job.write_part("PIER", {"form": "site"}, by="Mira")

    async def script(app, pilot):
        for line in ("P1, 12 mm", "P2", "P3, left of P1 P2"):
            await press(pilot, "full_stop")
            await write(pilot, line)
        for line in ("P1 P2 300 mm tape", "P2 P3 400 mm tape", "P1 P3 500 501 mm tape"):
            await press(pilot, "D")
            await write(pilot, line)
        assert any("point P1 Ø 12 mm" in row for row in rows(app))
        assert any("P1 to P3 = 500.5 mm ±" in row for row in rows(app))
        choose(app, "P1 to P2 = 300 mm")
        await press(pilot, "enter")
        await write(pilot, "P1 P2 302 ±1 mm tape")
        assert any("P1 to P2 = 302 mm ±1 mm" in row for row in rows(app))
        choose(app, "P1 to P3 = ")
        await press(pilot, "enter")
        await write(pilot, "P1 P3 removed: the hook slipped")
        assert any("points 3, distances 2" in row for row in rows(app))

    on_part(bench, "PIER", script)


def test_what_is_not_said_again_of_a_point_stays_unless_it_was_opened(bench):
    bench.job.write_part("PIER", {"form": "site"}, by="Mira")

    async def script(app, pilot):
        for line in ("P1", "P2", "P3, 16 mm", "P3, left of P1 P2"):
            await press(pilot, "full_stop")
            await write(pilot, line)
        assert any("point P3 Ø 16 mm left of P1 P2" in row for row in rows(app))
        choose(app, "point P3")
        await press(pilot, "enter")
        await write(pilot, "P3, left of P1 P2")
        assert any("point P3 left of P1 P2" in row for row in rows(app))

    on_part(bench, "PIER", script)


def test_a_cut_part_has_no_points(bench):
    async def script(app, pilot):
        await press(pilot, "full_stop")
        assert not any("points 0" in row for row in rows(app))

    on_part(bench, "BASE", script)
    assert bench.job.part("BASE").points == ()


@pytest.mark.parametrize(
    ("text", "fields"),
    [
        ("P1", {"label": "P1", "diameter": "", "side": "", "at": (), "uncertainty": ""}),
        ("P3, 12 mm, left of P1 P2", {"label": "P3", "diameter": "12 mm", "side": "left of P1 P2"}),
        ("P4 at 0 mm, -5 mm, 7 mm ±0.5 mm", {"at": ("0 mm", "-5 mm", "7 mm"), "uncertainty": "0.5 mm"}),
        ("P4 at 0 mm, 5 mm with station 1", {"at": ("0 mm", "5 mm"), "instrument": "station 1"}),
    ],
)
def test_a_line_of_a_point_is_read(text, fields):
    read = point_line(text).fields
    assert {k: read[k] for k in fields} == fields


def test_lines_that_do_not_read_are_refused():
    for reader, text in (
        (point_line, ""),
        (point_line, "P1 ±0.5 mm"),
        (point_line, "P1, 5 kg"),
        (distance_line, "P1 P2"),
        (distance_line, "P1 P2 300 mm"),
        (distance_line, "P1 P2 removed"),
        (question_line, ""),
        (question_line, "up?; stops TURN"),
    ):
        with pytest.raises(BadInput):
            reader(text)
    read = question_line(
        "which face is up?; holds up TURN, T-B; depends on BASE/Q2; needed by 2026-05-01"
    ).fields
    assert read["holds_up"] == ("TURN", "T-B")
    assert (read["depends_on"], read["needed_by"]) == (("BASE/Q2",), "2026-05-01")


@pytest.mark.parametrize(
    "line",
    [
        "P1 P2 300.2 mm 300.4 mm tape at 30C",
        "P1 P2 90 mm ±0.1 mm caliper",
        "P1 P2 inside 82 mm outside 98 mm caliper at 5C",
    ],
)
def test_a_corrected_distance_is_shown_as_it_was_read_with_its_temperature(line):
    fields = distance_line(line).fields
    heat = heat_of(fields["at"], "steel")
    found = measured(fields["reading"], heat=heat)
    readings = tuple(r.written for r in found.readings)
    old = Distance(
        "P1", "P2", found.value, found.standard, found.uncertainty, found.instrument, readings, found.how
    )
    assert distance_words(old) == line
