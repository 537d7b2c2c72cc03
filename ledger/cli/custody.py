"""Commands that check outgoing files, export a job and import it."""

from __future__ import annotations

import argparse
from pathlib import Path

from ledger.cli.context import TAMPERED, answer, as_json, ask_passphrase, open_job, place_of, tells_altered
from ledger.cli.show import say, show_json
from ledger.domain.address import shown
from ledger.domain.errors import visible
from ledger.domain.plural import counted


def export(args: argparse.Namespace) -> int:
    from ledger.files import take_out

    seal = take_out(place_of(args), Path(args.out))
    return answer(args, f"exported to {visible(args.out)}, seal {seal}", out=args.out, seal=seal)


def seal(args: argparse.Namespace) -> int:
    from ledger.domain.seal import short_seal
    from ledger.files import seal as seal_of

    seq, mark = seal_of(place_of(args))
    return answer(args, short_seal(seq, mark), note=short_seal(seq, mark), seal=f"{seq}:{mark}")


# What is lost with the entries of a lock, a withdrawn permit or a retired key.
_AFTER = (
    "what those entries superseded, withdrew or retired counts again: before anything is sent, compare with packets, "
    "vendor sheets and seals from before (fitup verify --since SEAL), or go on from an older copy"
)


def bring_in(args: argparse.Namespace) -> int:
    from ledger.job import Job

    rest = Path(args.rest) if args.rest else None
    with Job.bring_in(place_of(args), Path(args.source), ask_passphrase, rest=rest) as job:
        seq, seal = job.seal()
        left_out = job.left_out
    entries = counted(seq, "entry", "entries")
    words = f"the job of {job.firm!r} is rebuilt in {shown(place_of(args))}: {entries}, seal {seq}:{seal}"
    if rest and left_out:
        left_out = (*left_out, _AFTER)
    code = answer(args, words, job=job.ident, seal=f"{seq}:{seal}", left_out=list(left_out))
    for line in () if as_json(args) else left_out:
        say(line)
    return code


def backup(args: argparse.Namespace) -> int:
    with open_job(args) as job:
        seal = job.backup(Path(args.out))
    return answer(args, f"copied to {visible(args.out)}, seal {seal}", out=args.out, seal=seal)


def guard(args: argparse.Namespace) -> int:
    with open_job(args) as job:
        seen = job.guard(Path(args.folder))
        altered = tells_altered(job)
    code = TAMPERED if altered else 0 if seen.may_go else 1
    if as_json(args):
        files = [f.to_json() for f in seen.files]
        show_json(
            {
                "may_go": seen.may_go,
                "files": files,
                "other_files": seen.others,
                "not_looked_into": list(seen.unseen),
            }
        )
        return code
    for f in seen.files:
        say(f"{'ok  ' if f.may_go else 'STOP'}  {f.words}")
        for line in f.says:
            say(f"        {line}")
    for line in seen.unseen:
        say(f"STOP  not looked into: {line}")
    say(seen.words)
    return code


def grants_of(args: argparse.Namespace) -> int:
    from ledger.files import grants

    script = grants(args.role)
    if as_json(args):
        show_json({"role": args.role, "sql": script})
        return 0
    for line in script.splitlines():
        say(line)
    return 0
