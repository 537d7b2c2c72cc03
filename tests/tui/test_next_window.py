"""What to do first, on the first screen: the step that is taken opens the place where it is done."""

from __future__ import annotations

import json

from test_screens import flat, on_screens, press, shown

from ledger.acts.questions import AskQuestion
from ledger.cli import main
from tui.part_screen import PartScreen
from tui.start import job_alone


def test_the_step_that_frees_the_most_is_offered_first_and_opens_its_place(bench):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which side is up?")

    async def script(app, pilot):
        await press(pilot, "f")
        assert "BASE decide Q1: which side is up? unblocks BASE, TURN" in flat(app)
        await press(pilot, "enter")
        assert isinstance(app.screen_stack[2], PartScreen) or isinstance(app.screen, PartScreen)
        assert "which side is up?" in flat(app)

    on_screens(bench.place, script, size=(100, 30))


def test_with_signatures_alone_left_it_says_so(bench):
    async def script(app, pilot):
        await press(pilot, "f")
        assert "only signatures are missing" in shown(app)

    on_screens(bench.place, script)


def test_next_on_the_command_line_says_the_same(bench, capsys):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which side is up?")
    assert main(["--job", str(bench.place), "next", "--json"]) == 0
    (step, *_) = json.loads(capsys.readouterr().out)["steps"]
    assert (step["finding"]["code"], step["frees"]) == ("question_open", ["BASE", "TURN"])
    assert main(["--job", str(bench.place), "next", "--most", "1"]) == 0
    assert "unblocks BASE, TURN" in capsys.readouterr().out


def test_the_screens_open_the_job_that_is_named_and_a_command_goes_to_the_command_line(monkeypatch):
    monkeypatch.delenv("FITUP_JOB", raising=False)
    assert job_alone([]) == "fitup.db"
    assert job_alone(["--job", "there/fitup.db"]) == job_alone(["--job=there/fitup.db"]) == "there/fitup.db"
    monkeypatch.setenv("FITUP_JOB", "pier.db")
    assert job_alone([]) == "pier.db"
    for words in (
        ["parts"],
        ["--job", "a.db", "parts"],
        ["--job"],
        ["--job="],
        ["--help"],
        ["--job", "--json"],
    ):
        assert job_alone(words) is None
