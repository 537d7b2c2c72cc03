"""Bolts of a connection on the command line and on its screen: entered, judged, kept when it is recorded again."""

from __future__ import annotations

import json

import pytest
from bench_job import Bench
from test_screens import choose, flat, on_screens, press, rows, settle, write
from textual.widgets import Input

from ledger.acts.connections import RecordBolt, RemoveConnection
from ledger.cli import main
from ledger.domain.errors import BadInput
from ledger.words.bolts import bolt_line
from tui.connection_screen import ConnectionScreen


@pytest.fixture(autouse=True)
def _seat(monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")


def told(bench: Bench, capsys, *words):
    code = main(["--job", bench.place, "--by", "Mira", "--json", "bolt", "TURN-BASE", *words])
    return code, json.loads(capsys.readouterr().out)


def test_the_command_says_what_the_stack_asks_for_and_records_what_is_ordered(bench, capsys):
    code, answer = told(bench, capsys)
    assert code == 0
    assert [f["code"] for f in answer["findings"]] == ["bolt_required"]
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


def test_a_stated_bolt_outlives_a_new_declaration_and_goes_with_the_connection(bench):
    bench.do(RecordBolt, connection="TURN-BASE", length="45 mm")
    bench.connection(fastener="M10")
    (connection,) = bench.job.connections()
    assert connection.bolt_length.written == "45 mm"
    bench.do(RemoveConnection, name="TURN-BASE", reason="another way")
    bench.connection()
    (connection,) = bench.job.connections()
    assert connection.bolt_length is None


def test_a_connection_without_bolts_has_no_bolt_length(bench):
    bench.connection("BESIDE", connection_kind="beside", joint="", fastener="")
    with pytest.raises(BadInput, match="no bolts"):
        bench.do(RecordBolt, connection="BESIDE", length="45 mm")


def test_bolts_are_stated_on_the_connection_screen(bench):
    async def play(app, pilot):
        app.push_screen(ConnectionScreen("TURN-BASE"))
        await settle(pilot)
        choose(app, "bolts: M12")
        await press(pilot, "enter")
        await write(pilot, "35 mm, 2 washers")
        assert any("bolts: M12, 35 mm, 2 washers" in row for row in rows(app))
        assert any("bolt_short" in row for row in rows(app))
        await press(pilot, "B")
        assert app.screen.query_one(Input).value == "35 mm, 2 washers"
        app.screen.query_one(Input).value = "45 kg"
        await pilot.pause()
        assert "45 kg" in flat(app)

    on_screens(bench.place, play)
    (connection,) = bench.job.connections()
    assert connection.washers == 2


@pytest.mark.parametrize("text", ["45", "two washers", "0 mm", "-1 washers"])
def test_a_line_that_says_no_bolt_is_refused(text):
    with pytest.raises(BadInput):
        bolt_line(text)
