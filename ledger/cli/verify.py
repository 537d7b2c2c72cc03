"""The command that verifies: the whole job, a packet, or a bare drawing."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from ledger.cli.context import (
    as_json,
    open_job,
    place_of,
    read_file,
)
from ledger.cli.lines import UsageError
from ledger.cli.show import say, show_finding, show_json
from ledger.domain.moment import local
from ledger.domain.plural import counted

TAMPERED = 4


def verify(args: argparse.Namespace) -> int:
    if args.file and args.since:
        raise UsageError("--since is about the job: leave FILE out")
    if not args.file:
        return _verify_job(args)
    data = read_file(args.file)
    return _verify_packet(args, data) if data[:2] == b"PK" else _verify_drawing(args, data)


def _verify_job(args: argparse.Namespace) -> int:
    from ledger.files import examine

    seen = examine(place_of(args), since=args.since)
    back = [{"entry": seq, "at": at, "before": before} for seq, at, before in seen.clock_set_back]
    if as_json(args):
        body = {"ok": seen.whole, "entries": seen.entries, "seal": seen.seal, "since": args.since or None}
        show_json({**body, "clock_set_back": back, "problems": [f.to_json() for f in seen.problems]})
        return 0 if seen.whole else TAMPERED
    extends = f", and it extends {args.since}" if args.since and seen.whole else ""
    say(
        f"{counted(seen.entries, 'entry', 'entries')}, {seen.seal}: {'intact' if seen.whole else 'TAMPERED'}{extends}"
    )
    for finding in seen.problems:
        show_finding(finding)
    for step in back:
        say(
            f"  the clock was set back before entry {step['entry']}: "
            f"from {local(str(step['before']))} to {local(str(step['at']))}; the order of entries is their number"
        )
    return 0 if seen.whole else TAMPERED


def _verify_packet(args: argparse.Namespace, data: bytes) -> int:
    from ledger.files import inspect

    against = "by itself; no job given"
    if args.job or os.environ.get("FITUP_JOB") or Path("fitup.db").is_file():
        with open_job(args) as job:
            report = job.look_into(data)
            same = job.ident == report.job
        against = "by itself and against the job" if same else "by itself; it is from another job"
    else:
        report = inspect(data)
    found = report.problems
    parts = [{"part": p.number, "revision": p.revision} for p in report.parts]
    if as_json(args):
        body = {
            "ok": not found,
            "seal": report.seal,
            "parts": parts,
            "person": report.person,
            "key": report.signer_key,
        }
        show_json({**body, "against": against, "problems": [f.to_json() for f in found]})
        return TAMPERED if found else 0
    names = ", ".join(f"{p['part']} {p['revision']}" for p in parts)
    say(f"packet of {names}, seal {report.seal}: {'intact' if not found else 'TAMPERED'}, checked {against}")
    say(f"  locked by {report.person} with key {report.signer_key[:16]}: compare it with the key you know")
    for finding in found:
        show_finding(finding)
    return TAMPERED if found else 0


def _verify_drawing(args: argparse.Namespace, data: bytes) -> int:
    with open_job(args) as job:
        standing = job.stands(data)
    if not standing.number:
        from ledger.files import scan

        scan(data)
    state = "not locked" if not standing.number else "locked" if standing.current else "superseded"
    if as_json(args):
        show_json(
            {
                "state": state,
                "sha256": standing.sha256,
                "part": standing.number or None,
                "revision": standing.revision or None,
            }
        )
    elif standing.number:
        say(f"{args.file}: byte for byte {standing.number} revision {standing.revision}, {state}")
    else:
        say(f"{args.file}: not byte for byte a locked revision; do not send it")
    return 0 if standing.current else 1
