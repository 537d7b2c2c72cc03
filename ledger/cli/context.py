"""What every command needs: where the job is, who acts, the passphrase, how an answer is given."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any
from unicodedata import normalize

from ledger.cli.lines import UsageError
from ledger.cli.show import say, show_json
from ledger.domain.errors import BadInput, visible

if TYPE_CHECKING:
    from ledger.job import Answer, Job

Command = Callable[[argparse.Namespace], int]


TAMPERED = 4
_MOST_ALTERED = 8  # so many rows are named one by one

_PATHS = ("job", "file", "paths", "folder", "out", "picture", "a", "b")
_NAMES = ("number", "name", "names", "connection", "of", "part", "parts", "label", "labels", "by")


def as_kept(args: argparse.Namespace) -> None:
    """
    Put the names that were given into the form in which they are kept, before any command looks one up.

    Raises BadInput for text that is not UTF-8; a file's name may be anything.
    """
    from ledger.domain.names import same_name

    for key, value in vars(args).items():
        several = isinstance(value, list)
        texts = value if several else [value]
        if key in _PATHS or not all(isinstance(t, str) for t in texts):
            continue
        if any("\ud800" <= c <= "\udfff" for t in texts for c in t):
            raise BadInput(f"{key}: read {visible(' '.join(texts))!r}, expected text in UTF-8: type it again")
        if key == "line":
            args.line = normalize("NFC", value)
        if key in _NAMES:
            cleaned = [same_name(t) for t in texts]
            setattr(args, key, cleaned if several else cleaned[0])


def place_of(args: argparse.Namespace) -> str:
    """Where the job is."""
    return args.job or os.environ.get("FITUP_JOB") or "fitup.db"


def ask_passphrase(name: str) -> str:
    """The passphrase of a person: from FITUP_PASSPHRASE_FILE, else typed. Raises BadInput without either."""
    stated = os.environ.get("FITUP_PASSPHRASE_FILE")
    if stated:
        try:
            return Path(stated).read_text(encoding="utf-8-sig").split("\n", 1)[0].rstrip("\r")
        except (OSError, UnicodeDecodeError) as fault:
            raise BadInput(f"cannot read the passphrase file {visible(stated)}: {fault}") from fault
    if not sys.stdin.isatty():
        raise BadInput("a passphrase is needed: set FITUP_PASSPHRASE_FILE, or run this in a terminal")
    from getpass import getpass

    return getpass(f"passphrase of {visible(name)}: ")


def read_file(path: str) -> bytes:
    """A file's bytes. Raises Unreadable."""
    from ledger.files import read_regular

    return read_regular(path)


def pairs(written: list[str], form: str) -> dict[str, str]:
    """Options of the form NAME=VALUE, by name. Raises BadInput."""
    found: dict[str, str] = {}
    for text in written:
        name, sign, value = text.rpartition("=")
        if not sign or not name.strip() or not value.strip():
            raise BadInput(f"read {visible(text)!r}; expected {form}")
        found[name.strip()] = value.strip()
    return found


def tells_altered(job: Job) -> bool:
    """Whether the fact tables of a job are not as its journal says; the rows are named on stderr."""
    found = job.altered()
    for finding in found[:_MOST_ALTERED]:
        sys.stderr.write(visible(f"fitup: {finding.message}", most=4000) + "\n")
    if found:
        sys.stderr.write("fitup: nothing of such a job is signed, locked or handed out; see fitup verify\n")
    return bool(found)


def open_job(args: argparse.Namespace) -> Job:
    """The job that the command speaks of."""
    from ledger.job import Job

    return Job(place_of(args), ask_passphrase)


def by(args: argparse.Namespace) -> str:
    """Who does it: --by, FITUP_BY, the login."""
    import getpass

    try:
        return args.by or os.environ.get("FITUP_BY") or getpass.getuser()
    except (
        OSError,
        KeyError,
        ImportError,
    ) as fault:  # Windows without USERNAME has no list of users to look in
        raise BadInput("your name is missing; enter it with --by or FITUP_BY") from fault


def signer(args: argparse.Namespace) -> str:
    """Who signs: never guessed from the login. Raises UsageError."""
    name = args.by or os.environ.get("FITUP_BY")
    if not name:
        raise UsageError("the signer is missing; name an enrolled person with --by or FITUP_BY")
    return str(name)


def keeper(args: argparse.Namespace) -> str:
    """Who signs as a keeper of the job: named, or empty for the only one there is."""
    return str(args.by or os.environ.get("FITUP_BY") or "")


def answer(args: argparse.Namespace, words: str, answers: Sequence[Answer] = (), **values: Any) -> int:
    """What was done, in words or as one object, and what became of it."""
    if as_json(args):
        show_json(
            {"done": words, **values, **({"answers": [a.to_json() for a in answers]} if answers else {})}
        )
        return 0
    from ledger.words.answers import answers_lines

    say(words)
    for line in answers_lines(answers):
        say(line)
    return 0


def as_json(args: argparse.Namespace) -> bool:
    """Whether one JSON object is required."""
    return bool(getattr(args, "json", False))


def write_paper(args: argparse.Namespace, make: Callable[[Job], bytes], what: str) -> int:
    """Write what the job makes to the file that is named, whole or not at all, and say so."""
    from ledger.files import write_whole

    with open_job(args) as job:
        data = make(job)
    write_whole(Path(args.out), data)
    return answer(args, f"{what}: {args.out}", file=args.out, size=len(data))


def do_act(
    args: argparse.Namespace, kind: str, words: str, about: Mapping[str, str] | None = None, **fields: Any
) -> int:
    """
    Record one unsigned act, by the name of its class, and say what became of it.

    `about` is what to answer of: what `Job.answers` asks for, and the field that has it.
    """
    with open_job(args) as job:
        seq = job.enter(kind, by=by(args), **fields)
        found = job.answers(**{asked: fields[of] for asked, of in about.items()}) if about else ()
    return answer(args, words, found, entry=seq)


def plain_act(
    kind: str,
    words: str,
    fields: tuple[str, ...],
    reader: str = "",
    *,
    before: str = "number",
    about: Mapping[str, str] | None = None,
    **renamed: str,
) -> Command:
    """
    A command that is one unsigned act: its fields by their names on the command line, or in one line.

    `reader` reads the line ("holes.hole_line" of `ledger.words`); `before` is the field that stands before it.
    `about` is what is answered of, as `do_act` has it.
    """

    def command(args: argparse.Namespace) -> int:
        if reader and args.line:
            from ledger.words.line import reader_named

            said = reader_named(reader)(args.line).fields
            return do_act(args, kind, words, about, **{before: getattr(args, before)}, **said)
        values = {f: getattr(args, renamed.get(f, f)) for f in fields}
        values = {f: tuple(v) if isinstance(v, list) else v for f, v in values.items()}
        return do_act(args, kind, words, about, **values)

    return command
