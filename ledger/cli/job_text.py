"""Commands about the job as text: written, looked at, recorded; and what such a text may hold."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from ledger.cli.context import answer, as_json, by, open_job, read_file
from ledger.cli.show import say, show_json
from ledger.domain.plural import counted


def write(args: argparse.Namespace) -> int:
    """The job as text, to a file or as it is; over a file that is there its comments stay."""
    from ledger.files import write_whole

    out = Path(args.out)
    old = read_file(args.out) if args.out and out.is_file() else b""
    with open_job(args) as job:
        text = job.text(old, out.parent, by=by(args))
    if args.out:
        write_whole(out, text.encode())
        return answer(args, f"the job as text: {args.out}", file=args.out, size=len(text.encode()))
    if as_json(args):
        show_json({"text": text})
    else:
        sys.stdout.write(text)
    return 0


def read(args: argparse.Namespace) -> int:
    """What a text would change, line by line; with --record it is recorded, all of it or nothing."""
    data, beside = read_file(args.file), Path(args.file).parent
    with open_job(args) as job:
        enter = job.record_text if args.record else job.look_at_text
        found = enter(data, beside, whole=args.whole, by=by(args))
    many = counted(len(found.changes), "change")
    if not found.changes:
        done = "the job is as the file says; nothing to record"
    else:
        done = f"{many} recorded" if args.record else f"{many}; nothing was recorded: --record records it"
    recorded = bool(args.record and found.changes)
    if as_json(args):
        show_json({"done": done, "recorded": recorded, "changes": [c.to_json() for c in found.changes]})
        return 0
    for change in found.changes:
        say(change.words)
    say(done)
    return 0


def schema(args: argparse.Namespace) -> int:
    """What a text of the job may hold, as a JSON schema."""
    from ledger.files import write_whole
    from ledger.job import Job

    found = Job.text_schema()
    data = json.dumps(found, ensure_ascii=False, indent=1) + "\n"
    if args.out:
        write_whole(Path(args.out), data.encode())
        return answer(args, f"schema of the text: {args.out}", file=args.out, size=len(data.encode()))
    if as_json(args):
        show_json(found)
    else:
        sys.stdout.write(data)
    return 0
