"""The console script: with a command, the command line; without one, the screens."""

from __future__ import annotations

import sys


def main() -> None:
    """Entry point of `fitup`."""
    from ledger.cli import main as command_line

    sys.exit(command_line(sys.argv[1:] or ["--help"]))
