"""The command that looks at what is out once more."""

from __future__ import annotations

import argparse

from ledger.cli.context import as_json, open_job
from ledger.cli.show import say, show_json
from ledger.words.verdicts import short_lines


def recall(args: argparse.Namespace) -> int:
    """Locked parts that were GO and would not be now; exit 1 where there are any."""
    with open_job(args) as job:
        found = job.recalls() or ()
    if as_json(args):
        show_json({"recalled": [r.to_json() for r in found]})
        return int(bool(found))
    for one in found:
        say(one.words)
        for stop in one.stops:
            for line in short_lines(stop):
                say(line)
    if not found:
        say("every locked part would be GO again")
    return int(bool(found))
