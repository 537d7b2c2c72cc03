"""The help of the whole command line: every command once, in one line, where it is looked for; examples that read."""

from __future__ import annotations

import shlex
import shutil
import subprocess

import pytest

from ledger.cli import main
from ledger.cli.commands import COMMANDS
from ledger.cli.overview import SECTIONS, short
from ledger.cli.parser import build_parser


def test_every_command_stands_in_one_section():
    listed = [name for section in SECTIONS for name in section.commands]
    assert sorted(listed) == sorted(COMMANDS)
    assert len({*listed}) == len(listed)


@pytest.mark.parametrize("section", SECTIONS, ids=lambda s: s.title)
def test_an_example_reads_and_is_of_its_section(section):
    _, *words = shlex.split(section.example)
    found = build_parser().parse_args(words)
    assert found.command in section.commands


def test_the_help_has_one_line_for_each_command_and_no_line_is_too_long(capsys):
    with pytest.raises(SystemExit):
        main(["--help"])
    text = capsys.readouterr().out
    for section in SECTIONS:
        assert section.title in text
        for name in section.commands:
            assert len([x for x in text.splitlines() if x.startswith(f"    {name} ")]) == 1
    assert max(map(len, text.splitlines())) <= 80
    assert len(text.splitlines()) < 130


def test_what_is_cut_short_ends_where_the_text_breaks():
    assert short("record a part") == "record a part"
    assert short("a" * 30 + "; " + "b" * 60) == "a" * 30
    assert short("word " * 30).endswith(" …")


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish", "powershell"])
def test_what_a_shell_gets_names_every_command_and_options(shell, capsys):
    assert main(["completion", shell]) == 0
    text = capsys.readouterr().out
    assert "turned-over" in text
    assert all(name in text for name in COMMANDS)


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash here")
def test_bash_completes_commands_and_options(capsys, tmp_path):
    main(["completion", "bash"])
    script = capsys.readouterr().out + (
        "COMP_WORDS=(fitup ver); COMP_CWORD=1; _shtab_fitup; echo ${COMPREPLY[@]}\n"
        "COMP_WORDS=(fitup connect --tur); COMP_CWORD=2; _shtab_fitup; echo ${COMPREPLY[@]}\n"
    )
    (tmp_path / "script").write_text(script, encoding="utf-8")
    ran = subprocess.run(["bash", str(tmp_path / "script")], capture_output=True, text=True, check=False)
    assert ran.stdout.splitlines()[-2:] == ["verdict verify", "--turned-over"]


def test_a_shell_that_is_not_known_is_named(capsys):
    assert main(["completion", "ksh"]) == 2
    assert "no shell 'ksh'" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("word", "said"),
    [
        (
            "vedict",
            "fitup: no command 'vedict'; nearest: verdict, verify, vendor; fitup --help lists what there is",
        ),
        ("zzz", "fitup: no command 'zzz'; fitup --help lists what there is"),
        (
            "\x1b[2Jverdict",
            "fitup: no command '\\x1b[2Jverdict'; nearest: verdict; fitup --help lists what there is",
        ),
    ],
)
def test_a_command_that_there_is_not_names_the_nearest(word, said, capsys):
    from ledger.cli import main

    assert main([word]) == 2
    assert capsys.readouterr().err == f"{said}\n"
