"""The command about the keys that people sign with."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from ledger.cli.context import answer, as_json, ask_passphrase, open_job, signer
from ledger.cli.lines import UsageError, alone
from ledger.cli.show import say, show_json


def key(args: argparse.Namespace) -> int:
    if args.line:
        from ledger.words.people import key_line

        alone(
            "key",
            args.line,
            add=args.add,
            retire=args.retire,
            from_entry=args.from_entry or None,
            reason=args.reason,
        )
        with open_job(args) as job:
            fields = key_line(args.line, job.keys(args.name)).fields
        args.add, args.retire = fields["adds"], fields["retires"]
        args.from_entry, args.reason = fields["until"], fields["reason"]
    if not (args.add or args.retire):
        return _show(args)
    if not args.reason:
        raise UsageError("why? a change of keys needs --reason")
    with open_job(args) as job:
        made = job.change_key(
            args.name,
            retires=args.retire,
            new=ask_passphrase(args.name) if args.add else None,
            until=args.from_entry,
            reason=args.reason,
            by=signer(args),
        )
        lines, went = job.keys(args.name), job.keys_that_went()
    gone = sorted({entry for line in (*lines, *went) for entry in line.disowned})
    others = [f"{k.person} {k.key[:16]}" for k in went if k.person != args.name]
    words = f"{args.name} signs with {', '.join(k.key[:16] for k in lines if k.in_force) or 'no key'}"
    words += f"; void entries: {', '.join(map(str, gone))}" if gone else ""
    words += (
        f"; keys of others that were added with it are retired too: {', '.join(others)}" if others else ""
    )
    return answer(args, words, name=args.name, added=made, keys=[asdict(k) for k in lines], went=others)


def _show(args: argparse.Namespace) -> int:
    with open_job(args) as job:
        lines = job.keys(args.name)
    if as_json(args):
        show_json({"name": args.name, "keys": [asdict(k) for k in lines]})
        return 0
    for line in lines:
        state = "in force" if line.in_force else f"retired from entry {line.until} on: {line.reason}"
        say(f"{line.key[:16]}  known since entry {line.since}, {state}")
        if line.disowned:
            say(f"  void entries signed with it: {', '.join(map(str, line.disowned))}")
    return 0
