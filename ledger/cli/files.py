"""Commands that need no job: the demo, one file, two files, the table of checks."""

from __future__ import annotations

import argparse
from pathlib import Path

from ledger.cli.context import (
    as_json,
    pairs,
    read_file,
)
from ledger.cli.show import say, show_comparison, show_json, show_look, waiting
from ledger.domain.errors import UnknownName
from ledger.domain.file_names import require_a_file_name
from ledger.domain.required_odds import WORST_CASE


def demo(args: argparse.Namespace) -> int:
    from ledger.demo.walk import run_demo

    outcome = run_demo(Path(args.folder), (lambda _line: None) if as_json(args) else say)
    if as_json(args):
        show_json(outcome.to_json())
    return 0 if outcome.as_intended else 1


def look(args: argparse.Namespace) -> int:
    from ledger.files import look as look_at

    roles = pairs(args.layer, "--layer NAME=ROLE")
    seen = look_at(args.file, read_file(args.file), unit=args.unit, roles=roles)
    if as_json(args):
        show_json(seen.to_json())
    else:
        show_look(seen)
    return 0 if seen.profile.usable else 1


def fit(args: argparse.Namespace) -> int:
    from ledger.files import compare, comparison_to_json
    from ledger.files import look as look_at

    a = look_at(args.a, read_file(args.a), unit=args.unit_a)
    b = look_at(args.b, read_file(args.b), unit=args.unit_b)
    with waiting(f"comparing {len(a.profile.holes)} and {len(b.profile.holes)} holes"):
        advice = compare(
            a, b, fastener=args.fastener, joint=args.joint, turned_over=args.turned_over, process=args.process,
            thickness=args.thickness, position=args.position, odds=WORST_CASE if args.worst_case else args.odds,
            also=tuple(args.also), holes=(args.holes_a, args.holes_b), leave_out=(args.leave_out_a, args.leave_out_b),
        )  # fmt: skip
    found = advice.of
    if args.picture:
        from ledger.files import picture, write_whole

        path = Path(args.picture)
        require_a_file_name(path)
        write_whole(path, picture(advice.drawing(), path.suffix.lower().removeprefix(".")))
    if as_json(args):
        show_json(comparison_to_json(advice))
    else:
        show_comparison(advice)
    return 0 if found.ruling.verdict == "GO" else 1


def checks(args: argparse.Namespace) -> int:
    from ledger.files import all_checks

    rows = [{"check": c.name, "why": c.why, "source": c.source, "codes": list(c.codes)} for c in all_checks()]
    if as_json(args):
        show_json({"checks": rows})
        return 0
    for row in rows:
        say(f"{row['check']}: {row['why']}")
        say(f"    source: {row['source']}")
        say(f"    codes:  {', '.join(row['codes'])}")
    return 0


def completion(args: argparse.Namespace) -> int:
    """The script of a shell that completes commands and options."""
    import sys

    import shtab

    from ledger.cli.parser import build_parser

    if args.shell not in shtab.SUPPORTED_SHELLS:
        raise UnknownName("shell", args.shell, shtab.SUPPORTED_SHELLS)
    sys.stdout.write(shtab.complete(build_parser(), args.shell) + "\n")
    return 0
