"""The console script: with a command, the command line; without one, the screens."""

from __future__ import annotations

import os
import sys


def main() -> None:
    """Entry point of `fitup`."""
    from ledger.cli import main as command_line

    if sys.argv[1:]:
        sys.exit(command_line(sys.argv[1:]))
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        sys.exit(command_line(["--help"]))
    from tui.app import run

    sys.exit(run(os.environ.get("FITUP_SHOP") or "fitup.db"))
