"""The command that verifies: the whole job, a packet, or a bare drawing."""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ledger.cli.context import (
    TAMPERED,
    as_json,
    open_job,
    place_of,
    read_file,
    tells_altered,
)
from ledger.cli.lines import UsageError
from ledger.cli.show import say, show_finding, show_json
from ledger.domain.moment import local
from ledger.domain.plural import counted
from ledger.domain.short_key import short_key

if TYPE_CHECKING:
    from ledger.job import PacketStanding


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
        body: dict[str, Any] = {
            "ok": seen.whole,
            "entries": seen.entries,
            "seal": seen.seal,
            "since": args.since or None,
        }
        body |= {"signed_up_to": seen.signed_up_to, "note": seen.to_note, "unsigned": seen.unsigned or None}
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
    if seen.unsigned:
        say(f"  {seen.unsigned}")
    return 0 if seen.whole else TAMPERED


def _verify_packet(args: argparse.Namespace, data: bytes) -> int:
    from ledger.files import by_itself

    if args.job or os.environ.get("FITUP_JOB") or Path("fitup.db").is_file():
        with open_job(args) as job:
            seen = job.look_into(data)
            altered = tells_altered(job)
    else:
        seen, altered = by_itself(data), False
    if as_json(args):
        show_json(seen.to_json())
    else:
        _show_packet(seen)
    return TAMPERED if seen.tampered or altered else 0 if seen.ok else 1


def _show_packet(seen: PacketStanding) -> None:
    report = seen.report
    names = ", ".join(f"{p.number} {p.revision}" for p in report.parts)
    state = {"altered": "TAMPERED", "by itself": "intact", "current": "intact, current"}.get(
        seen.state, seen.state.upper()
    )
    say(f"packet of {names}, seal {report.seal}: {state}, checked {seen.against}")
    say(
        f"  locked by {report.person} with key {report.signer_key[:16]}; root of the job {short_key(seen.root)}"
    )
    for finding in report.problems:
        show_finding(finding)
    for words in seen.says:
        say(f"  {words}")
    for words in seen.not_checked:
        say(f"  not checked: {words}")


def _verify_drawing(args: argparse.Namespace, data: bytes) -> int:
    with open_job(args) as job:
        standing = job.stands(data)
        altered = tells_altered(job)
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
    return TAMPERED if altered else 0 if standing.current else 1
