"""The command about hardware: the list of what is to be bought, and what is on hand."""

from __future__ import annotations

import argparse
from pathlib import Path

from ledger.cli.context import as_json, do_act, open_job, write_paper
from ledger.cli.lines import alone
from ledger.cli.show import say, show_json


def hardware(args: argparse.Namespace) -> int:
    """The list, shown or written; with a line how many of one item are on hand."""
    if args.line:
        from ledger.words.hardware import hardware_line

        alone("hardware", args.line, spares=args.spares or None, out=args.out)
        told = hardware_line(args.line)
        return do_act(args, "RecordOnHand", f"recorded: {told.reading}", **told.fields)
    if args.out:
        kind = Path(args.out).suffix.lower().removeprefix(".")
        return write_paper(
            args, lambda job: job.hardware_paper(kind, args.spares, args.paper), "hardware list"
        )
    with open_job(args) as job:
        found = job.hardware(args.spares)
    if as_json(args):
        show_json(found.to_json())
        return 0
    from ledger.words.hardware import hardware_lines

    for line in hardware_lines(found):
        say(line)
    return 0
