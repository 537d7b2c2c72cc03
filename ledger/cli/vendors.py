"""Commands about vendors."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from ledger.cli.context import as_json, do_act, open_job
from ledger.cli.lines import alone
from ledger.cli.show import say, show_json
from ledger.domain.fields import VENDOR_FIELDS

if TYPE_CHECKING:
    from ledger.domain.vendor import Vendor


def vendor(args: argparse.Namespace) -> int:
    """A vendor recorded in one line or by options, or what is recorded."""
    told = {f.option: text for f in VENDOR_FIELDS if (text := getattr(args, f.option))}
    if ":" in args.name:
        from ledger.words.vendors import vendor_line

        alone("vendor", args.name, **told)
        fields = vendor_line(args.name).fields
    elif told:
        from ledger.words.vendors import READERS

        given = {f.name: told[f.option] for f in VENDOR_FIELDS if f.option in told}
        fields = {"name": args.name} | {name: READERS[name](text) for name, text in given.items()}
    else:
        return _show(args)
    from ledger.domain.vendor import Vendor
    from ledger.words.vendors import vendor_words

    return do_act(args, "RecordVendor", f"recorded: {vendor_words(Vendor(**fields))}", **fields)


def _show(args: argparse.Namespace) -> int:
    """Every vendor, or one, with the day by which they have cut what goes out today."""
    with open_job(args) as job:
        rows, today = [v for v in job.vendors() if args.name in ("", v.name)], job.day
        if args.name and not rows:
            from ledger.domain.errors import UnknownName

            raise UnknownName("vendor", args.name, [v.name for v in job.vendors()])
    from ledger.words.vendors import cut_by, vendor_words

    if as_json(args):
        show_json({"vendors": [_row(v, cut_by(v, today)) for v in rows]})
        return 0
    for one in rows:
        due = cut_by(one, today)
        say(vendor_words(one))
        say(f"  sent today, due {due}" if due else "  lead time not entered")
    if not rows:
        say('no vendor recorded; fitup vendor "Kerf & Son: laser; lead 10 days" records one')
    return 0


def _row(vendor: Vendor, due: str) -> dict[str, Any]:
    return {**vendor.to_json(), "due_if_sent_today": due or None}
