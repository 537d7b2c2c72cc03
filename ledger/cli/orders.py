"""Commands about orders: sent, shown, canceled, received."""

from __future__ import annotations

import argparse
from pathlib import Path

from ledger.cli.context import answer, as_json, by, do_act, open_job
from ledger.cli.lines import alone
from ledger.cli.show import say, show_json
from ledger.domain.errors import UnknownName, visible
from ledger.domain.plural import counted


def order(args: argparse.Namespace) -> int:
    """An order in one line is recorded; by its name it is shown, written or canceled; without, all are listed."""
    if ":" in args.line:
        from ledger.words.orders import order_line

        alone("order", args.line, cancel=args.cancel)
        line = order_line(args.line)
        with open_job(args) as job:
            entry = job.record_order(by=by(args), **line.fields)
        wrote = _write(args, str(line.fields["ident"])) if args.out else ""
        return answer(args, f"recorded: {line.reading}{wrote}", entry=entry, order=line.fields["ident"])
    if args.cancel:
        words = f"order {visible(args.line)} is canceled"
        return do_act(args, "CancelOrder", words, ident=args.line, reason=args.cancel)
    if args.out:
        _known(args)
        return answer(args, f"order {visible(args.line)}{_write(args, args.line)}", folder=args.out)
    return _show(args)


def receive(args: argparse.Namespace) -> int:
    """Pieces that came back."""
    from ledger.words.orders import receipt_line

    line = receipt_line(args.line)
    with open_job(args) as job:
        entry = job.record_receipt(by=by(args), **line.fields)
        (found,) = (o for o in job.orders() if o.ident == line.fields["ident"])
        today = job.day
    pieces = [piece for receipt in found.receipts[-len(line.fields["parts"]) :] for piece in receipt.pieces]
    if not as_json(args):
        return answer(args, f"recorded: {line.reading}; pieces {_span(pieces)}; {found.state(today)}")
    return answer(args, f"recorded: {line.reading}", entry=entry, pieces=pieces, order=found.to_json(today))


def _span(pieces: list[str]) -> str:
    return ", ".join(pieces) if len(pieces) <= 6 else f"{pieces[0]} … {pieces[-1]}"  # noqa: PLR2004 - a line


def _known(args: argparse.Namespace) -> None:
    with open_job(args) as job:
        idents = [o.ident for o in job.orders()]
    if args.line not in idents:
        raise UnknownName("order", args.line, idents)


def _write(args: argparse.Namespace, ident: str) -> str:
    """The folder of an order, written whole or not at all; what is said of it."""
    with open_job(args) as job:
        names = job.write_order(ident, Path(args.out), args.paper)
    return f"; {counted(len(names), 'file')} in {visible(args.out)}"


def _show(args: argparse.Namespace) -> int:
    from ledger.words.orders import by_urgency, order_in_full, order_lines

    if args.line:
        _known(args)
    with open_job(args) as job:
        found, today = [o for o in job.orders() if args.line in ("", o.ident)], job.day
    if as_json(args):
        show_json({"orders": [o.to_json(today) for o in by_urgency(found)]})
        return 0
    for line in order_in_full(found[0], today) if args.line else order_lines(found, today):
        say(line)
    return 0
