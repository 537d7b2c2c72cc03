"""The command about pieces that came back: what was measured, what they fit, a sheet to measure by."""

from __future__ import annotations

import argparse

from ledger.cli.context import answer, as_json, by, open_job, write_paper
from ledger.cli.lines import alone
from ledger.cli.show import say, show_json
from ledger.domain.errors import BadInput, visible


def inspect(args: argparse.Namespace) -> int:
    """A line records what was measured of a piece; a part shows its pieces, or writes their sheet."""
    if ":" in args.line:
        return _measured(args)
    if args.out:
        return _sheet(args)
    with open_job(args) as job:
        found = job.inspected(args.line)
    if as_json(args):
        show_json(found.to_json())
        return 0
    from ledger.words.as_built import inspected_lines

    for line in inspected_lines(found):
        say(line)
    return 0


def _measured(args: argparse.Namespace) -> int:
    from ledger.words.as_built import piece_lines
    from ledger.words.pieces import piece_line

    alone("inspect", args.line, out=args.out, aql=args.aql)
    line = piece_line(args.line)
    with open_job(args) as job:
        entry = job.enter("MeasurePiece", by=by(args), **line.fields)
        found = job.inspected(line.fields["part"])
    (piece,) = (p for p in found.pieces if p.piece.number == line.fields["piece"])
    if as_json(args):
        return answer(args, f"recorded: {line.reading}", entry=entry, piece=piece.to_json())
    say(f"recorded: {line.reading}")
    for told in piece_lines(piece):
        say(told)
    return 0


def _sheet(args: argparse.Namespace) -> int:
    if not args.out.lower().endswith(".pdf"):
        raise BadInput(f"read {visible(args.out)!r} as the file to write; expected a name that ends .pdf")
    return write_paper(
        args, lambda job: job.inspection_sheet(args.line, args.aql, args.paper), "inspection sheet"
    )
