"""What a command prints as JSON holds no character that a terminal, or an eye, could be led astray by."""

from __future__ import annotations

import io
import json
import sys

import pytest
from test_mend_command import untidy

from ledger.cli import main
from ledger.cli.show import json_line, say

MARKS = [
    *map(chr, range(0x20)),
    *map(chr, range(0x7F, 0xA0)),
    *"\u00ad\u061c\u200b\u200e\u200f\u2028\u2029\u202a\u202b\u202c\u202d\u202e\u2060\u2066\u2067\u2068\u2069\ufeff",
    "\U000e0001",
    "\U000e007f",
]


@pytest.mark.parametrize("mark", MARKS, ids=lambda c: f"{ord(c):04x}")
def test_a_control_or_direction_mark_is_spelled_as_an_escape(mark, monkeypatch):
    value = {f"a{mark}b": ["200", {"c": f"GO{mark}ON"}]}
    line = json_line(value)
    assert mark not in line
    assert json.loads(line) == value
    out = io.StringIO()
    monkeypatch.setattr(sys, "stdout", out)
    say(f"GO{mark}ON")
    assert mark not in out.getvalue().removesuffix("\n")


def test_what_people_write_is_left_as_it_is():
    assert json_line({"a": "±0.2 ⌀6 µm Ünï 板 🔩"}) == '{"a": "±0.2 ⌀6 µm Ünï 板 🔩"}'


@pytest.mark.parametrize("words", [("look", "no\u202ene.dxf"), ("verify", "no\u009bne.dxf"), ("\u2066x",)])
def test_an_error_is_printed_without_them_too(words, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(["--json", *words]) != 0
    out = capsys.readouterr()
    assert not set(MARKS) & set(out.out.removesuffix("\n"))


def test_a_clean_copy_on_a_full_disk_leaves_nothing(tmp_path, monkeypatch, capsys):
    drawing = tmp_path / "arm.dxf"
    drawing.write_bytes(untidy(thread=False))

    def full(*_args):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("ledger.packet.build.os.fsync", full)
    assert main(["mend", str(drawing), "-o", str(tmp_path / "clean.dxf")]) == 2
    assert "No space left" in capsys.readouterr().err
    assert [p.name for p in tmp_path.iterdir() if "cache" not in p.name] == ["arm.dxf"]
