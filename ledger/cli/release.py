"""Commands about what goes out: verdict, signature, permit, lock, packet."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.cli.context import (
    TAMPERED,
    answer,
    as_json,
    keeper,
    open_job,
    signer,
    tells_altered,
)
from ledger.cli.lines import UsageError
from ledger.cli.show import say, show_finding, show_json, show_verdicts
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.required_odds import odds_words
from ledger.domain.verdict import revisions_text
from ledger.words.verdicts import short_lines, why_lines

if TYPE_CHECKING:
    from ledger.domain.finding import Finding
    from ledger.domain.verdict import Verdict


def verdict(args: argparse.Namespace) -> int:
    with open_job(args) as job:
        found = job.verdicts(args.parts)
        altered = tells_altered(job)
    show_verdicts(found, as_json=as_json(args), full=args.all)
    return TAMPERED if altered else 0 if all(v.go for v in found) else 1


def why(args: argparse.Namespace) -> int:
    """Everything known of one finding: the sum behind its number, every way to fix it, its source."""
    with open_job(args) as job:
        found = job.why(args.part, args.code)
    if as_json(args):
        show_json(found.to_json())
        return 0
    for line in why_lines(found):
        say(line)
    return 0


def first(args: argparse.Namespace) -> int:
    from ledger.domain.recall import MOST_AT_ONCE, NOT_LOOKED
    from ledger.words.orders import overdue_lines
    from ledger.words.schedule import soon_lines

    with open_job(args) as job:
        steps, late = job.first_steps(), tuple(overdue_lines(job.orders(), job.day))
        soon = tuple(soon_lines(job.schedule()))
        out = job.recalls(MOST_AT_ONCE)
    recalled = (NOT_LOOKED,) if out is None else tuple(r.words for r in out)
    shown = steps[: args.last] if args.last > 0 else steps
    if as_json(args):
        show_json(
            {
                "steps": [s.to_json() for s in shown],
                "overdue": list(late),
                "soon": list(soon),
                "recalled": list(recalled),
            }
        )
        return 0
    for line in (*recalled, *late, *soon):
        say(line)
    for step in shown:
        frees = f"unblocks {', '.join(step.frees)}" if len(step.frees) > 1 else f"for {step.part}"
        say(f"{frees}{'; nothing else stops ' + ', '.join(step.alone) if step.alone else ''}")
        for line in short_lines(step.finding):
            say(line)
        if step.depends_on:
            say(f"  after {', '.join(step.depends_on)}")
    if not steps:
        say("nothing to decide or measure; only signatures are missing")
    return 0


def sign(args: argparse.Namespace) -> int:
    person = signer(args)
    again = {}
    for word in args.again:
        name, equals, value = word.partition("=")
        if not equals:
            raise UsageError(f"--again {visible(word)!r}: expected PART/NAME=VALUE")
        again[name.strip()] = value.strip()
    with open_job(args) as job:
        if args.role == "checked" and not again and sys.stdin.isatty() and not as_json(args):
            for name in job.re_entry_required(args.parts)[:2]:
                again[name] = input(f"{visible(name)}, measured again or from notes: ")
        shown = (
            () if as_json(args) else _acknowledged(job.verdicts(args.parts))
        )  # before a passphrase is asked for
        signed = job.sign(args.parts, args.role, person, again)
    subjects = [{"part": v.part, "revision": v.revision, "fingerprint": v.subject} for v in signed]
    if not as_json(args):
        _acknowledged(signed, shown)
    names = ", ".join(f"{v.part} {v.revision} ({v.subject[:12]})" for v in signed)
    return answer(args, f"{person} signed as {args.role}: {names}", signed=subjects)


def _acknowledged(verdicts: Sequence[Verdict], shown: Sequence[Finding] = ()) -> tuple[Finding, ...]:
    """Show the warnings that a signature acknowledges, but for those that were shown; all of them."""
    found = tuple(finding for v in verdicts for finding in v.warnings)
    for finding in found:
        if finding not in shown:
            show_finding(finding, lead="  acknowledges ")
    return found


def permit(args: argparse.Namespace) -> int:
    person = signer(args)
    if args.line:
        from ledger.words.permits import permit_line

        fields = permit_line(args.line, datetime.now(UTC).date().isoformat()).fields
    else:
        fields = {"reason": args.reason, "until": args.until, "up_to": args.up_to}
    with open_job(args) as job:
        found = job.permit(args.part, person, code=args.code, place=args.where, **fields)
    parts = [{"part": number, "revision": revision} for number, revision in found.parts]
    text = f"{person} permits {args.code} on {found.text}"
    return answer(args, text, connections=[name for name, _ in found.tellings if name], parts=parts)


def withdraw(args: argparse.Namespace) -> int:
    """Withdraw every permit of a finding that stands at this part, for all the parts that each of them names."""
    person = signer(args)
    with open_job(args) as job:
        at = [p for p in job.permits(args.part) if (p.code, p.where) == (args.code, args.where)]
        meant = [p for p in at if not p.withdrawn]
        if not meant:
            named = f"{args.code} at {args.where}" if args.where else args.code
            raise UnknownName("permit", named, [f"{p.code} at {p.where}" for p in job.permits(args.part)])
        for made in meant:
            job.withdraw_permit(made.seq, person, args.reason)
    names = "; ".join(revisions_text(p.parts) for p in meant)
    return answer(
        args, f"{person} withdrew the permit of {args.code} on {names}", permits=[p.seq for p in meant]
    )


def policy(args: argparse.Namespace) -> int:
    """Set what is named of the policy; without options tell what it is."""
    roles = None if args.roles is None else tuple(r.strip() for r in args.roles.split(",") if r.strip())
    permits = None if args.permits is None else tuple(r.strip() for r in args.permits.split(",") if r.strip())
    raised = None if args.raised is None else tuple(code for code in args.raised if code)
    with open_job(args) as job:
        asked = {"roles": roles, "raised": raised, "odds": args.odds, "permits": permits}
        entry = None
        if any(value is not None for value in asked.values()):
            entry = job.set_policy(**asked, by=keeper(args))
        held = job.policy()
    if as_json(args):
        show_json(
            {
                "entry": entry,
                "roles": list(held.roles),
                "raised": list(held.raised),
                "odds": held.odds,
                "permits": list(held.permits),
            }
        )
        return 0
    if entry:
        say("the policy is set; signatures under another policy are void")
    say(f"must sign:          {', '.join(held.roles)}")
    say(f"may permit:         {', '.join(held.permits) or 'nobody'}")
    say(f"warnings that stop: {', '.join(held.raised) or 'none'}")
    say(f"odds of holes:      {odds_words(held.odds)}")
    return 0


def lock(args: argparse.Namespace) -> int:
    person = signer(args)
    with open_job(args) as job:
        made = job.lock(args.parts, person, Path(args.out))
    values = {
        "packet": str(made.packet),
        "folder": str(made.folder),
        "sha256": made.sha256,
        "seal": made.seal,
    }
    if as_json(args):
        show_json({"locked": [{"part": v.part, "revision": v.revision} for v in made.verdicts], **values})
        return 0
    show_verdicts(made.verdicts, as_json=False)
    say(f"locked: {', '.join(f'{v.part} {v.revision}' for v in made.verdicts)}")
    say(f"packet: {made.packet}")
    say(f"folder: {made.folder}")
    say(f"seal:   {made.seal}")
    return 0


def packet(args: argparse.Namespace) -> int:
    from ledger.files import stage_packet

    with open_job(args) as job:
        name, data, files = job.packet(args.part, args.revision)
    out = Path(args.out)
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise BadInput(f"cannot make {visible(args.out)}: {fault.strerror}") from fault
    for waiting in stage_packet(out, name, data, files):
        waiting.commit()
    return answer(
        args, f"packet: {out / name}", packet=str(out / name), folder=str(out / name.removesuffix(".zip"))
    )
