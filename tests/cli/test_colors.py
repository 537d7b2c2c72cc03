"""Colors of printed states: on a terminal, nowhere else, and never alone."""

from __future__ import annotations

import re
import sys

import pytest

from ledger.cli.show import say, show_json

LINES = (
    "BASE  A  NO-GO  3",
    "LID  A  GO  -",
    "  STOP    offset: 3 mm",
    "  warning thin_web: 2 mm",
    "GO-KART and STOPPED",
)


@pytest.fixture
def terminal(capsys, monkeypatch):
    monkeypatch.setattr(type(sys.stdout), "isatty", lambda _out: True)
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("NO_COLOR", raising=False)


def printed(capsys):
    for line in LINES:
        say(line)
    return capsys.readouterr().out


def test_states_are_in_color_on_a_terminal_and_the_words_are_the_same(terminal, capsys):
    out = printed(capsys)
    assert re.findall("\x1b\\[([0-9;]+)m([^\x1b]+)\x1b\\[0m", out) == [
        ("1;31", "NO-GO"),
        ("1;32", "GO"),
        ("1;31", "STOP"),
        ("33", "warning"),
    ]
    assert re.sub("\x1b\\[[0-9;]+m", "", out) == "\n".join(LINES) + "\n"


def test_data_that_holds_an_escape_stays_one_that_is_shown(terminal, capsys):
    say("GO \x1b[31mred")
    assert capsys.readouterr().out == "\x1b[1;32mGO\x1b[0m \\u001b[31mred\n"


@pytest.mark.parametrize(("name", "value"), [("NO_COLOR", "1"), ("TERM", "dumb")])
def test_no_color_where_none_is_asked_for(terminal, capsys, monkeypatch, name, value):
    monkeypatch.setenv(name, value)
    assert printed(capsys) == "\n".join(LINES) + "\n"


def test_no_color_in_a_pipe(capsys):
    assert printed(capsys) == "\n".join(LINES) + "\n"


def test_json_has_no_color(terminal, capsys):
    show_json({"verdict": "GO"})
    assert capsys.readouterr().out == '{"verdict": "GO"}\n'
