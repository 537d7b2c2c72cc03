"""
Which commands take one line, the same that the screens take, in place of names, values and options.

A line says all: with an option beside it the command is refused. Most such commands need more words
than a line has (`apart`): what does not read as those is read as a line. The others tell a line by what is in it.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from ledger.words import forms
from ledger.words.forms import Form


class UsageError(Exception):
    """The command line does not read as a command."""


@dataclass(frozen=True, slots=True)
class OneLine:
    """The form of a command's line, what stands before the line (name and a sample), and options it may have."""

    form: Form
    before: tuple[tuple[str, str], ...] = ()
    apart: bool = False
    options: tuple[str, ...] = ()

    def example(self, command: str) -> str:
        """The command with a line that reads."""
        words = ["fitup", command, *(f'"{w}"' if " " in w else w for _, w in self.before)]
        return " ".join([*words, f'"{self.form.example}"'])


_OF_PART: Final = (("number", "BASE"),)
_OF_CONNECTION: Final = (("connection", "TURN-BASE"),)
LINES: Final[Mapping[str, OneLine]] = {
    "part": OneLine(forms.PART),
    "take": OneLine(forms.LAYERS, (*_OF_PART, ("file", "base.dxf"))),
    "dimension": OneLine(forms.DIMENSION, _OF_PART, apart=True),
    "group": OneLine(forms.GROUP, _OF_PART),
    "operation": OneLine(forms.OPERATION, _OF_PART, apart=True),
    "bend": OneLine(forms.BEND, _OF_PART),
    "bend-data": OneLine(forms.BEND_DATA),
    "vendor": OneLine(forms.VENDOR),
    "hardware": OneLine(forms.HARDWARE),
    "order": OneLine(forms.ORDER, options=("--out", "--paper")),
    "receive": OneLine(forms.RECEIPT),
    "schedule": OneLine(forms.SCHEDULE),
    "inspect": OneLine(forms.PIECE),
    "hole": OneLine(forms.HOLE, (("number", "PIER"),), apart=True),
    "point": OneLine(forms.POINT, (("number", "PIER"),)),
    "distance": OneLine(forms.DISTANCE, (("number", "PIER"),), apart=True),
    "instrument": OneLine(forms.INSTRUMENT),
    "ask": OneLine(forms.QUESTION, _OF_PART, apart=True),
    "link": OneLine(forms.LINKS, (*_OF_PART, ("ident", "Q1"))),
    "connect": OneLine(forms.CONNECTION, apart=True),
    "bolt": OneLine(forms.BOLT, _OF_CONNECTION),
    "clearance": OneLine(forms.CLEARANCE, _OF_CONNECTION, apart=True),
    "measure": OneLine(forms.READING, (*_OF_CONNECTION, ("name", "arm to cover"))),
    "permit": OneLine(
        forms.PERMIT, (("part", "BASE"), ("code", "overlap")), apart=True, options=("--where",)
    ),
    "enroll": OneLine(forms.PERSON),
    "key": OneLine(forms.KEY, (("name", "Mira"),)),
    **{name: OneLine(one.form, (one.before,)) for name, one in forms.LINE_ACTS.items()},
}


def take_lines(
    commands: Mapping[str, argparse.ArgumentParser], make: Callable[[str], argparse.ArgumentParser]
) -> dict[str, argparse.ArgumentParser]:
    """
    Say in the help of each of these commands what its line is.

    Of those whose line stands apart the parser of it comes back, by command; `make` makes an empty one.
    """
    found = {}
    for name, line in LINES.items():
        command = commands[name]
        more = f"\n  ({line.form.more})" if line.form.more else ""
        words = f"in one line, without other options:\n  {line.example(name)}\n  {line.form.shape}{more}"
        command.epilog = "\n\n".join(filter(None, (words, command.epilog)))
        command.formatter_class = argparse.RawDescriptionHelpFormatter
        if line.apart:
            command.set_defaults(line="")
            found[name] = make(command.prog)
            for dest, _ in (*line.before, ("line", "")):
                found[name].add_argument(dest)
            for option in line.options:
                found[name].add_argument(option, default="")
    return found


def alone(command: str, line: str, **options: object) -> None:
    """Raises UsageError where a line came with options that it would say itself."""
    given = [
        f"--{name.replace('_', '-')}"
        for name, value in options.items()
        if value is not False and value not in (None, "", [], ())
    ]
    if given:
        raise UsageError(
            f"read the line {line!r} and {', '.join(given)}; a line takes no options: say it in the line, such as "
            f"{LINES[command].example(command)}"
        )
