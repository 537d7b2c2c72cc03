"""The command about time: when parts must go out, the day of the job, what waits on what."""

from __future__ import annotations

import argparse

from ledger.cli.context import as_json, do_act, open_job
from ledger.cli.show import say, show_json


def schedule(args: argparse.Namespace) -> int:
    """The schedule; with a line the day of the job, or what a part waits on."""
    if args.line:
        from ledger.words.schedule import schedule_line

        line = schedule_line(args.line)
        fields = {name: value for name, value in line.fields.items() if name != "act"}
        return do_act(args, line.fields["act"], f"recorded: {line.reading}", **fields)
    with open_job(args) as job:
        found = job.schedule()
    if as_json(args):
        show_json(found.to_json())
        return 0
    from ledger.words.schedule import schedule_lines

    for text in schedule_lines(found):
        say(text)
    return 0
