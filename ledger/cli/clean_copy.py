"""The command that writes a clean copy of a drawing, of a file or of a part in the job."""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.files import choices, mended

if TYPE_CHECKING:
    from ledger.files import Mended
from ledger.cli.context import as_json, by, open_job, pairs, read_file
from ledger.cli.show import say, show_json
from ledger.domain.errors import BadInput, visible
from ledger.domain.file_names import require_a_file_name


def mend(args: argparse.Namespace) -> int:
    said = choices(
        unit=args.unit,
        roles=pairs(args.layer, "--layer NAME=ROLE"),
        outline=args.outline,
        circles=pairs(args.hole, "--hole LABEL=SIZE"),
        as_drawn=args.as_drawn,
    )
    if bool(args.part) == bool(args.file):
        raise BadInput("name one thing to mend: a FILE with -o OUT, or --part NUMBER")
    if args.part:
        with open_job(args) as job:
            made = job.mend(args.part, said, by=by(args))
        return _told(args, made, f"{args.part} now has a clean copy of its drawing", part=args.part)
    if not args.out:
        raise BadInput("the clean copy needs a file name: -o OUT.dxf")
    made = mended(read_file(args.file), said)
    _write(Path(args.out), made.data)
    return _told(
        args, made, f"{args.out} is a clean copy of {args.file}: check it before you take it", file=args.out
    )


def _told(args: argparse.Namespace, made: Mended, words: str, **named: str) -> int:
    if as_json(args):
        show_json({**named, **made.to_json()})
        return 0
    say(words)
    for finding in made.fixed:  # said of the old file: in the copy nothing of it is left
        say(f"  fixed   {finding.code}: {finding.message}")
    return 0


def _write(out: Path, data: bytes) -> None:
    """A new file, whole or not at all; one that is there is left alone."""
    from ledger.files import write_whole

    require_a_file_name(out)
    if os.path.lexists(out):
        raise BadInput(f"{visible(str(out))} is there already: name a new file")
    write_whole(out, data)
