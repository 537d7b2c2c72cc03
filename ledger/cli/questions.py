"""Commands about questions: asking one, and what hangs on it."""

from __future__ import annotations

import argparse
from typing import Any

from ledger.cli.context import answer, by, do_act, open_job
from ledger.cli.evidence import read_beside
from ledger.cli.lines import alone


def ask(args: argparse.Namespace) -> int:
    """A question under its own name; of one line the name is the next that is free, Q1, Q2 …"""
    if not args.line:
        fields = {"ident": args.ident, "text": args.text, **_links(args)}
        return do_act(args, "AskQuestion", "the question is open", number=args.number, **fields)
    from ledger.words.questions import next_ident, question_line

    fields = question_line(args.line).fields
    with open_job(args) as job:
        ident = next_ident(q.ident for q in job.part(args.number).questions)
        entry = job.enter("AskQuestion", by=by(args), number=args.number, ident=ident, **fields)
    return answer(args, f"the question {ident} is open", entry=entry, ident=ident)


def reply(args: argparse.Namespace) -> int:
    """The answer to a question, and what shows it."""
    files = read_beside(args)
    with open_job(args) as job:
        fields = {"number": args.number, "ident": args.ident, "answer": args.text}
        entry = job.enter("AnswerQuestion", by=by(args), **fields)
        if files:
            job.keep_evidence(f"{args.number}/{args.ident}", files, by=by(args))
    kept = f"; kept with it: {', '.join(files)}" if files else ""
    return answer(args, f"the question is answered{kept}", entry=entry)


def link(args: argparse.Namespace) -> int:
    """What a question holds up, what it depends on and its day, replaced."""
    fields = _links(args)
    if args.line:
        from ledger.words.questions import link_line

        alone("link", args.line, **fields)
        fields = link_line(args.line).fields
    named = {"number": args.number, "ident": args.ident}
    return do_act(args, "LinkQuestion", "the question is linked", **named, **fields)


def _links(args: argparse.Namespace) -> dict[str, Any]:
    return {
        "holds_up": tuple(args.holds_up),
        "depends_on": tuple(args.depends_on),
        "needed_by": args.needed_by,
    }
