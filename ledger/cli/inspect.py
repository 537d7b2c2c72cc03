"""The command about pieces that came back: what was measured, what they fit, a sheet to measure by."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.cli.context import answer, as_json, by, open_job
from ledger.cli.lines import alone
from ledger.cli.show import say, show_json
from ledger.domain.errors import BadInput, visible

if TYPE_CHECKING:
    from ledger.job import Inspected, PieceFound


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
    for line in _lines(found):
        say(line)
    return 0


def _measured(args: argparse.Namespace) -> int:
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
    for told in _piece(piece):
        say(told)
    return 0


def _sheet(args: argparse.Namespace) -> int:
    from ledger.files import write_whole

    if not args.out.lower().endswith(".pdf"):
        raise BadInput(f"read {visible(args.out)!r} as the file to write; expected a name that ends .pdf")
    with open_job(args) as job:
        data = job.inspection_sheet(args.line, args.aql, args.paper)
    write_whole(Path(args.out), data)
    return answer(args, f"inspection sheet: {args.out}", file=args.out, size=len(data))


def _lines(found: Inspected) -> Iterator[str]:
    if not found.pieces:
        yield f"no piece of {found.part} came back yet; fitup receive records some"
    for piece in found.pieces:
        yield from _piece(piece)
    for place in found.places:
        yield f"{place.piece} goes into {place.connection}, margin {place.margin_mm:.3f} mm"
    if found.no_place:
        yield found.no_place


def _piece(found: PieceFound) -> Iterator[str]:
    piece = found.piece
    state = f", {piece.state}" if piece.state else ""
    yield f"{piece.name}  {found.verdict}  (revision {piece.revision}, order {piece.order}{state})"
    for fit in found.fits:
        yield f"  {fit.words}"
    for held in found.dimensions:
        yield f"  {held.words}"
    if found.unread:
        critical = f"; {', '.join(found.critical)} critical" if found.critical else ""
        yield f"  not measured: {', '.join(found.unread)}{critical}"
