"""
The one family of errors. The job's problems are findings; these are refusals to do what was asked.

    FitupError
    ├── BadInput            what was given cannot be read or is not allowed          exit 2
    │   ├── UnknownName     a part, connection, person, fastener … that is not there
    │   └── NoEntry         a row of the journal that is no entry of it
    ├── NotReleasable       the gate has stops (carries the verdict)                 exit 1
    ├── Unreadable          a file that cannot be read at all                        exit 3
    ├── Tampered            the record does not hold together                        exit 4
    ├── Uncertain           the connection was lost while the last word was spoken   exit 2
    ├── NewerProgram        an entry that only a newer program understands           exit 2
    └── JobBusy            another program holds the job, or changed it meanwhile  exit 5
        └── Collided        two workstations wrote at once and the database chose the other; tried again by itself

A message says what was read, what was expected and what to do.
"""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ledger.domain.verdict import Verdict

_FEW = 8  # so many known names are all shown


class FitupError(Exception):
    """Anything the program refuses, in words meant for the person at the bench."""

    exit_code = 2


class BadInput(FitupError):
    """What was given cannot be read or is not allowed; nothing was changed."""


class UnknownName(BadInput):
    """A name that is not there; the nearest known ones are named: by spelling, unless `near` says better."""

    def __init__(self, what: str, name: str, known: Iterable[str], near: Iterable[str] = ()) -> None:
        self.known = tuple(known)
        spelt = get_close_matches(name, self.known, n=3, cutoff=0.4)
        near = tuple(near) or (self.known if len(self.known) <= _FEW else spelt or sorted(self.known)[:5])
        hint = f"known ones nearest to it: {', '.join(near)}" if near else f"there is no {what} yet"
        super().__init__(f"no {what} {visible(name)!r}; {hint}")


class NoEntry(BadInput):
    """A row that is no entry of this journal: it is set aside, and stops nothing but itself."""


class NotReleasable(FitupError):
    """The gate has stops. `verdicts` are those of every part that was asked for."""

    exit_code = 1

    def __init__(self, verdicts: tuple[Verdict, ...]) -> None:
        self.verdicts = verdicts
        lines = [f"{v.part}: {f.message}" for v in verdicts for f in v.stops]
        super().__init__("not released, nothing was locked: " + "; ".join(lines))


class Unreadable(FitupError):
    """A file that cannot be read at all."""

    exit_code = 3


class Tampered(FitupError):
    """The record does not hold together: something was changed outside the program."""

    exit_code = 4


class JobBusy(FitupError):
    """Another program holds the job, or changed it meanwhile; trying again is safe."""

    exit_code = 5


class Collided(JobBusy):
    """Two workstations wrote at once and the database chose the other one."""


class Uncertain(FitupError):
    """The connection was lost while writing was confirmed: it may be written or not; only looking tells."""


class NewerProgram(FitupError):
    """An entry that only a newer program understands."""


def visible(text: str, *, most: int = 80) -> str:
    """
    Text from outside with every control, format and line-separator character shown as an escape.

    Nothing that a terminal could act on comes through (Unicode categories C, Zl, Zp); long text is cut.
    """
    out = escaped(text[: most + 1])
    return out if len(text) <= most else out[:most] + "…"


def escaped(text: str) -> str:
    """
    Text with every control, format and line-separator character (Unicode categories C, Zl, Zp) as JSON's escape.

    Marks that turn the direction of writing are among them: with one, a name reads other than it is.
    """
    if text.isprintable():  # none of those categories is among its characters
        return text
    from unicodedata import category

    return "".join(_escape(c) if category(c)[0] == "C" or category(c) in ("Zl", "Zp") else c for c in text)


def _escape(character: str) -> str:
    """Beyond the first 65,536 characters two escapes stand for one (RFC 8259, 7)."""
    code = ord(character)
    if code < 0x10000:  # noqa: PLR2004 - the same
        return f"\\u{code:04x}"
    high, low = divmod(code - 0x10000, 0x400)
    return f"\\u{0xD800 + high:04x}\\u{0xDC00 + low:04x}"
