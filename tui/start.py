"""The console script: with a command, the command line; without one, the screens, of the job that `--job` names."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence


def main() -> None:
    """Entry point of `fitup`."""
    from ledger.cli import main as command_line

    place = job_alone(sys.argv[1:])
    if place is None:
        sys.exit(command_line(sys.argv[1:]))
    served = "TEXTUAL_DRIVER" in os.environ  # by a server that shows the screens in a browser
    if not served and not (sys.stdin.isatty() and sys.stdout.isatty()):
        sys.exit(command_line(["--help"]))
    from tui.app import run

    sys.exit(run(place))


def job_alone(words: Sequence[str]) -> str | None:
    """The job that the screens are to open; None where the words are more than where it is."""
    match words:
        case []:
            return os.environ.get("FITUP_JOB") or "fitup.db"
        case ["--job", place] if not place.startswith("-"):
            return place
        case [only] if only.startswith("--job=") and only != "--job=":
            return only.removeprefix("--job=")
    return None
