"""Every command that the README and the help name is one that the command line reads."""

import re
import shlex
from pathlib import Path

import pytest

from ledger.cli.lines import UsageError
from ledger.cli.parser import build_parser, with_values

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")


def readme_commands():
    """The commands of the README, from its blocks of shell lines and from its sentences, with what follows `fitup`."""
    blocks = re.findall(r"```sh\n(.*?)```", README, flags=re.DOTALL)
    lines = [line for block in blocks for line in block.splitlines()]
    prose = re.sub(r"```.*?```", "", README, flags=re.DOTALL)
    spans = [" ".join(span.split()) for span in re.findall(r"`(fitup [^`]+)`", prose)]
    for text in (*lines, *spans):
        if text.startswith("fitup "):
            yield shlex.split(text, comments=True)[1:]


def names_of(parser):
    """The commands of a parser, by name."""
    (commands,) = [a for a in parser._actions if hasattr(a, "choices") and a.dest == "command"]
    return commands.choices


def test_every_command_of_the_readme_is_read():
    parser = build_parser()
    known = names_of(parser)
    whole = 0
    for words in readme_commands():
        if "--help" in words:
            continue
        assert words[0] in known or words[0].startswith("-"), f"fitup {words[0]}: not a command"
        options = {word for word in words if word.startswith("--")}
        ways = (known[words[0]], known[words[0]].otherwise) if words[0] in known else ()
        assert words[0].startswith("-") or any(way and options <= way.options for way in ways), words
        said = ""
        try:
            parser.parse_args(with_values(words))
        except UsageError as fault:
            said = str(fault)
        # a sentence may name a command without what it works on; nothing else may be wrong with it
        assert not said or "arguments are required" in said, f"fitup {' '.join(words)}: {said}"
        whole += not said
    assert whole > 50


@pytest.mark.parametrize("name", sorted(names_of(build_parser())))
def test_options_have_hyphens_and_the_help_has_no_names_of_the_code(name):
    command = names_of(build_parser())[name]
    options = [o for action in command._actions for o in action.option_strings]
    assert [o for o in options if "_" in o] == []
    assert re.findall(r"\b[a-z]+_[a-z_]+\b", command.format_help()) == []
