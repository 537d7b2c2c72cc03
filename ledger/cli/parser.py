"""
What the command line reads. Nothing heavy is imported here, so that --help answers at once.

Choices are checked by the acts, which name the nearest known word; here are only names and help.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Sequence
from difflib import get_close_matches
from typing import Any, Final, NoReturn

from ledger.cli.connection_words import of_connections
from ledger.cli.file_words import of_files
from ledger.cli.lines import LINES, UsageError, take_lines
from ledger.cli.overview import overview
from ledger.cli.paper_words import of_papers, of_tables
from ledger.cli.part_words import across_parts, of_parts
from ledger.cli.release_words import of_release
from ledger.domain.errors import visible
from ledger.domain.program import PROGRAM

_CHOICE: Final = re.compile(
    r"argument (?P<what>.+?): invalid choice: ['\"](?P<word>.*)['\"] \(choose from (?P<known>.*)\)", re.DOTALL
)
_MINUS: Final = re.compile(r"-[0-9.]\S*$")


class _Parser(argparse.ArgumentParser):
    one_line: argparse.ArgumentParser | None = None  # how the same command reads with one line
    otherwise: _Parser | None = None  # how it reads with options that it has not otherwise

    @property
    def options(self) -> set[str]:
        """Every option as it is written."""
        return {word for action in self._actions for word in action.option_strings}

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> tuple[Any, list[str]]:
        """The words as they are named here, else as one line."""
        if self.otherwise is not None and (self.otherwise.options - self.options) & {*(args or ())}:
            return self.otherwise.parse_known_args(args, namespace)
        try:
            return super().parse_known_args(args, namespace)
        except UsageError as fault:
            if self.one_line is None:
                raise
            try:
                found, more = self.one_line.parse_known_args(args)
            except UsageError:
                raise fault from None
            if more:
                example = LINES[self.prog.split()[-1]].example(self.prog.split()[-1])
                raise UsageError(f"{fault}; or one line without options: {example}") from None
            return found, []

    def format_help(self) -> str:
        """Of the whole command line the commands by what somebody wants to do; of one, all that it takes."""
        commands = next((a for a in self._actions if isinstance(a, argparse._SubParsersAction)), None)  # noqa: SLF001 - argparse has no other way
        if commands is None:
            return super().format_help()
        told = {str(choice.dest): str(choice.help) for choice in commands._choices_actions}  # noqa: SLF001 - likewise
        options = self._get_formatter()
        options.start_section("options")
        options.add_arguments(a for a in self._actions if a is not commands)
        options.end_section()
        return overview(self.format_usage(), str(self.description), options.format_help(), told)

    def error(self, message: str) -> NoReturn:
        raise UsageError(f"{_nearest(message)}; {self.prog} --help lists what there is")


def _nearest(message: str) -> str:
    """A message about a word that is no choice, with the nearest that are, in place of all of them."""
    found = _CHOICE.fullmatch(message)
    if found is None:
        return message
    word, known = found["word"], re.findall(r"'([^']+)'", found["known"]) or found["known"].split(", ")
    near = get_close_matches(word, known, 3, 0.5) or [name for name in known if name[:2] == word[:2]]
    what = "command" if found["what"] == "COMMAND" else found["what"]
    return f"no {what} '{visible(word)}'" + (f"; nearest: {', '.join(near)}" if near else "")


def with_values(argv: Sequence[str]) -> list[str]:
    """The words with values that begin with a minus, such as -0.2/+0.1 or -10,5, bound to the option before them."""
    words: list[str] = []
    for word in argv:
        if words and _MINUS.match(word) and words[-1].startswith("--") and "=" not in words[-1]:
            words[-1] += f"={word}"
        else:
            words.append(word)
    return words


def build_parser() -> argparse.ArgumentParser:
    """The whole command line. Options of every command stand before or behind its name."""
    common = _common(argparse.SUPPRESS)
    parser = _Parser(
        prog="fitup",
        description="A design-intent ledger and release gate for parts that outside vendors cut.",
        parents=[_common(None)],
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"fitup {PROGRAM}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", parser_class=_Parser)

    def add(name: str, text: str) -> argparse.ArgumentParser:
        made: argparse.ArgumentParser = commands.add_parser(
            name, help=text, description=text, parents=[common], allow_abbrev=False
        )
        return made

    of_files(add)
    of_parts(add)
    of_connections(add)
    of_release(add)
    of_papers(add)
    of_tables(add)

    def bare(prog: str) -> _Parser:
        return _Parser(prog=prog, parents=[common], add_help=False, allow_abbrev=False)

    for name, line in take_lines(commands.choices, bare).items():
        commands.choices[name].one_line = line
    across = bare(commands.choices["dimension"].prog)
    across_parts(across)
    commands.choices["dimension"].otherwise = across
    return parser


def _common(default: Any) -> _Parser:
    common = _Parser(add_help=False)
    common.add_argument(
        "--job", default=default, help="the job's file (default: FITUP_JOB, else fitup.db here)"
    )
    common.add_argument(
        "--by", default=default, help="your name, for the journal (default: FITUP_BY, else the user's login)"
    )
    common.add_argument(
        "--json", action="store_true", default=default or argparse.SUPPRESS, help="one JSON object on stdout"
    )
    return common
