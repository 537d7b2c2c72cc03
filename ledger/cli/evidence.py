"""The command about evidence: files kept with a part, a question, a reading or an order; listed, and written out."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from pathlib import Path

from ledger.cli.context import answer, as_json, by, open_job
from ledger.cli.show import say, show_json
from ledger.domain.plural import counted


def evidence(args: argparse.Namespace) -> int:
    """Keep files; without any, list what is kept, or write it to a new folder."""
    if args.files:
        return _keep(args)
    with open_job(args) as job:
        found = [one for one in job.evidence() if not args.address or one.address == args.address]
        names = job.write_evidence(Path(args.out), args.address) if args.out else ()
    if args.out:
        return answer(args, f"{counted(len(names), 'file')} in {args.out}", files=list(names))
    if as_json(args):
        show_json([one.to_json() for one in found])
        return 0
    for one in found:
        say(one.words)
    if not found:
        say("no evidence is kept" + (f" with {args.address}" if args.address else ""))
    return 0


def _keep(args: argparse.Namespace) -> int:
    from ledger.files import evidence_files

    files = evidence_files(args.files)
    with open_job(args) as job:
        job.keep_evidence(args.address, files, by=by(args))
    words = f"kept with {args.address}: {', '.join(files)}"
    return answer(args, words, address=args.address, files=list(files))


def read_beside(args: argparse.Namespace) -> Mapping[str, bytes]:
    """The files of --evidence, read before anything is recorded. Raises Unreadable, BadInput."""
    from ledger.files import evidence_files

    return evidence_files(args.evidence) if args.evidence else {}
