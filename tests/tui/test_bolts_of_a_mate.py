"""Bolts of a mate on the command line and on the mate screen: stated, judged, carried through a new declaration."""

from __future__ import annotations

import json

import pytest
from bench_shop import Bench
from test_screens import choose, flat, on_screens, press, rows, settle, write
from textual.widgets import Input

from ledger.acts.mates import DropMate, StateBolt
from ledger.cli import main
from ledger.domain.errors import BadInput
from tui.mate_lines import bolt_line
from tui.mate_screen import MateScreen


@pytest.fixture(autouse=True)
def _seat(monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")


def told(bench: Bench, capsys, *words):
    code = main(["--shop", bench.place, "--by", "Mira", "--json", "bolt", "TURN-BASE", *words])
    return code, json.loads(capsys.readouterr().out)


def test_the_command_says_what_the_stack_asks_for_and_records_what_is_ordered(bench, capsys):
    code, answer = told(bench, capsys)
    assert code == 0
    assert [f["code"] for f in answer["findings"]] == ["bolt_wanted"]
    assert answer["entry"] is None
    code, answer = told(bench, capsys, "--length", "35 mm")
    assert [f["code"] for f in answer["findings"]] == ["bolt_short"]
    code, answer = told(bench, capsys, "--length", "45 mm", "--washers", "2")
    assert (answer["length"]["written"], answer["washers"], answer["findings"]) == ("45 mm", 2, [])


@pytest.mark.parametrize(
    "words", [("--length", "0 mm"), ("--length", "40"), ("--washers", "-1"), ("--washers", "9")]
)
def test_what_is_no_bolt_is_refused(bench, capsys, words):
    code, answer = told(bench, capsys, *words)
    assert code == 2
    assert answer["error"]


def test_a_stated_bolt_outlives_a_new_declaration_and_goes_with_the_mate(bench):
    bench.do(StateBolt, mate="TURN-BASE", length="45 mm")
    bench.mate(fastener="M10")
    (mate,) = bench.shop.mates()
    assert mate.bolt_length.written == "45 mm"
    bench.do(DropMate, name="TURN-BASE", reason="another way")
    bench.mate()
    (mate,) = bench.shop.mates()
    assert mate.bolt_length is None


def test_a_mate_without_bolts_has_no_bolt_length(bench):
    bench.mate("BESIDE", mate_kind="beside", joint="", fastener="")
    with pytest.raises(BadInput, match="no bolts"):
        bench.do(StateBolt, mate="BESIDE", length="45 mm")


def test_bolts_are_stated_on_the_mate_screen(bench):
    async def play(app, pilot):
        app.push_screen(MateScreen("TURN-BASE"))
        await settle(pilot)
        choose(app, "bolts: M12")
        await press(pilot, "enter")
        await write(pilot, "35 mm, 2 washers")
        assert any("bolts: M12, 35 mm, 2 washers" in row for row in rows(app))
        assert any("bolt_short" in row for row in rows(app))
        await press(pilot, "b")
        assert app.screen.query_one(Input).value == "35 mm, 2 washers"
        app.screen.query_one(Input).value = "45 kg"
        await pilot.pause()
        assert "45 kg" in flat(app)

    on_screens(bench.place, play)
    (mate,) = bench.shop.mates()
    assert mate.washers == 2


@pytest.mark.parametrize("text", ["45", "two washers", "0 mm", "-1 washers"])
def test_a_line_that_says_no_bolt_is_refused(text):
    with pytest.raises(BadInput):
        bolt_line(text)
