"""Commands about tables in and out, and about what changed of a part."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.cli.context import answer, as_json, by, open_job, read_file
from ledger.cli.lines import UsageError
from ledger.cli.show import say, show_json
from ledger.domain.plural import counted

if TYPE_CHECKING:
    from ledger.job import Between, Since


def enter(args: argparse.Namespace) -> int:
    """Preview a table, or record it. 0 when every row is good (or only the good ones were expected), else 1."""
    from ledger.files import read_piped_table

    data = read_piped_table(sys.stdin.buffer) if args.file == "-" else read_file(args.file)
    if args.only_good and not args.record:
        raise UsageError("--only-good says what to record: write --record too")
    with open_job(args) as job:
        found = job.preview_table(data)
        wrong = found.count("wrong")
        record = args.record and (args.only_good or not wrong)
        if record:
            job.enter_table(data, by=by(args), only_good=args.only_good, seen=found)
    written = sum(len(row.acts) for row in found.rows) if record else 0
    done = f"{counted(written, 'entry', 'entries')} recorded" if record else "nothing was recorded"
    if as_json(args):
        counts = {s: found.count(s) for s in ("new", "changed", "unchanged", "wrong")}
        rows = [row.to_json() for row in found.rows]
        show_json({"done": done, "recorded": written, **counts, "rows": rows, "notes": list(found.notes)})
    else:
        for note in found.notes:
            say(f"note: {note}")
        for row in found.rows:
            say(f"line {row.line:>5}  {row.state:<10}{row.about}: {row.words}")
            for change in row.changes:
                say(f"{'':<22}{change.words}")
        say(f"{found.words}; {done}{'' if args.record or wrong else ': --record records it'}")
    return 0 if record or not wrong else 1


def dimensions(args: argparse.Namespace) -> int:
    """Write the key dimensions as a table."""
    from ledger.files import write_whole

    with open_job(args) as job:
        data = job.dimension_table(args.number)
    write_whole(Path(args.out), data)
    return answer(args, f"table of key dimensions: {args.out}", file=args.out, size=len(data))


def changes(args: argparse.Namespace) -> int:
    """What changed since a person signed, or from one revision to another."""
    if args.person and (args.earlier or args.later):
        raise UsageError("ask either since a person signed or from one revision to another")
    with open_job(args) as job:
        told: Since | Between = (
            job.changes_since(args.number, args.person)
            if args.person
            else job.changes_between(args.number, args.earlier, args.later)
        )
    if as_json(args):
        show_json(told.to_json())
        return 0
    say(told.words)
    for change in told.changes:
        say(f"  {change.words}")
    return 0
