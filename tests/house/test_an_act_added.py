"""
An act that is entered as one line, said in its own places, comes up in every other by itself.

The act is added while the program runs: its class, its table's row of LINE_ACTS; what it records is a list of a part.
"""

from __future__ import annotations

import json
from typing import Literal

import pytest

from ledger.acts import ACTS
from ledger.acts.base import Name, Text, open_part, put
from ledger.acts.trials import RecordTrial
from ledger.acts.undo import undoable
from ledger.cli import main
from ledger.cli.commands import COMMANDS, plain_act
from ledger.cli.lines import LINES, OneLine
from ledger.domain import fields
from ledger.store.tables import TrialFact
from ledger.words import forms, trials
from ledger.words.line import Line, reads

FORM = forms.Form("NOTE", "fits the old plate")


class RecordOffered(RecordTrial):
    """Held against what is there, without paper; kept where trials are."""

    kind: Literal["record_offered"] = "record_offered"
    number: Name
    result: Text = "fits"
    note: Text = ""

    def rules(self, facts):
        open_part(facts, self.number)

    def apply(self, facts, entry):
        part = open_part(facts, self.number)
        key = {"number": part.number, "revision": part.revision}
        said = {"result": self.result, "note": self.note, "by": entry.by, "day": entry.at[:10]}
        put(facts, TrialFact(**key, place=1, geometry="", **said))


@reads(FORM)
def offered_line(text):
    return Line({"note": text.strip()}, text.strip())


@pytest.fixture
def added(monkeypatch, bench):
    """What its files say: the act, its form, its reader; the command line then makes its list of commands again."""
    one = forms.LineAct(
        FORM,
        "RecordOffered",
        "trials.offered_line",
        "held against what is there",
        "it is recorded",
        "{} held?",
    )
    monkeypatch.setitem(ACTS, ("record_offered", 1), RecordOffered)
    monkeypatch.setattr(trials, "offered_line", offered_line, raising=False)
    monkeypatch.setitem(forms.LINE_ACTS, "offered", one)
    monkeypatch.setitem(LINES, "offered", OneLine(one.form, (one.before,)))
    command = plain_act(one.act, one.done, (), one.reader, before=one.before[0])
    monkeypatch.setitem(COMMANDS, "offered", command)
    monkeypatch.setenv("FITUP_BY", "Mira")
    undoable.cache_clear()
    yield bench
    undoable.cache_clear()


def test_without_it_the_command_is_not_known(bench, capsys):
    assert main(["offered", "BASE", "fits the old plate", "--job", bench.place]) != 0


def test_it_is_a_command_with_its_form_in_the_help(added, capsys):
    assert main(["offered", "BASE", "fits the old plate", "--job", added.place]) == 0
    assert "it is recorded" in capsys.readouterr().out
    with pytest.raises(SystemExit):
        main(["offered", "--help"])
    assert "fits the old plate" in capsys.readouterr().out


def test_what_it_recorded_is_shown_told_and_counted(added, capsys):
    bench = added
    bench.sign_all("BASE", "TURN")
    assert "role_missing" not in bench.codes("BASE")
    assert main(["offered", "BASE", "close", "--job", bench.place]) == 0
    assert "role_missing" in bench.codes("BASE")
    told = [change.words for change in bench.job.changes_since("BASE", "Mira").changes]
    assert len(told) == 1
    assert told[0].startswith("template tried 1: new, fits: close (Mira, ")
    capsys.readouterr()
    assert main(["show", "BASE", "--json", "--job", bench.place]) == 0
    assert [t["note"] for t in json.loads(capsys.readouterr().out)["trials"]] == ["close"]


def test_it_is_undone(added):
    bench = added
    before = bench.job.part("BASE")
    assert main(["offered", "BASE", "close", "--job", bench.place]) == 0
    bench.job.undo(bench.job.last_of("Mira").seq, by="Mira")
    assert bench.job.part("BASE") == before


def test_the_screen_asks_for_it(added):
    from types import SimpleNamespace

    from tui.part_edit import PartEditor

    asked = []
    screen = SimpleNamespace(
        enter=lambda title, read, _take, **more: asked.append((title, read("  x "), more))
    )
    PartEditor(screen, "BASE", None).ask("", str, print)  # a part that is not read yet refuses nothing
    PartEditor(screen, "BASE", None).line_act("offered")
    assert asked[1] == ("BASE held?", "x", {"value": "", "hint": FORM.hint})


def test_what_is_no_list_of_a_part_comes_up_nowhere(added, capsys, monkeypatch):
    assert main(["offered", "BASE", "close", "--job", added.place]) == 0
    monkeypatch.setattr(fields, "PART_LISTS", ())
    capsys.readouterr()
    assert main(["show", "BASE", "--json", "--job", added.place]) == 0
    assert "trials" not in json.loads(capsys.readouterr().out)
