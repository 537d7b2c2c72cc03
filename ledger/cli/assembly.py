"""The command about everything that is bolted together."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ledger.cli.context import as_json, open_job, write_paper
from ledger.cli.show import say, show_finding, show_json
from ledger.domain.plural import counted
from ledger.domain.quantity import show_mm

if TYPE_CHECKING:
    from ledger.job import BuildView, RingView


def assembly(args: argparse.Namespace) -> int:
    """Every ring of bolted parts: whether it closes, and what of it is how tight."""
    if args.out:
        kind = Path(args.out).suffix.lower().removeprefix(".")
        return write_paper(args, lambda job: job.assembly_picture(kind, exploded=args.exploded), "picture")
    with open_job(args) as job:
        rings, builds = job.assembly(), job.builds()
    good = all(r.closes for r in rings) and not any(b.collisions or b.stuck for b in builds)
    if as_json(args):
        show_json(
            {
                "closes": all(r.closes for r in rings),
                "rings": [_to_json(r) for r in rings],
                "builds": [_build_json(b) for b in builds],
            }
        )
    else:
        for ring in rings:
            _show(ring)
        if not rings:
            say("no ring of bolted parts: nothing to close")
        for build in builds:
            _show_build(build)
    return 0 if good else 1


def _show_build(build: BuildView) -> None:
    """What hangs together, and the order in which it is tightened."""
    say(f"{', '.join(build.pieces)}: {counted(len(build.pieces), 'piece')} in space")
    for one, other, deep in build.collisions:
        say(f"  {one} and {other} are {show_mm(deep, 2)} deep in each other")
    if build.stuck:
        say(f"  no order of assembly: no socket gets to {' and '.join(build.stuck)}")
    elif build.order:
        say(f"  order of assembly: {', then '.join(build.order)}")
    for why in build.left:
        say(f"  not run: {why}")


def _build_json(build: BuildView) -> dict[str, Any]:
    return {
        "pieces": list(build.pieces),
        "order": list(build.order),
        "out_of_order": list(build.stuck),
        "collisions": [{"parts": [one, other], "deep_mm": deep} for one, other, deep in build.collisions],
        "not_run": list(build.left),
    }


def _show(ring: RingView) -> None:
    say(f"{', '.join(number for number, _ in ring.parts)}: {_word(ring)}")
    if ring.not_run:
        say(f"  not run: {ring.not_run}")
    for finding in ring.findings:
        show_finding(finding)
    width = max(map(len, ring.connections)) + 2
    tightest = ring.closure.tightest if ring.closure else ""
    for share in ring.shares:
        more = "  tightest" if share.name == tightest else ""
        say(
            f"    {share.name:<{width}}margin {show_mm(share.alone_mm)} by itself, {show_mm(share.whole_mm)} in the "
            f"whole{more}"
        )


def _word(ring: RingView) -> str:
    if ring.not_run:
        return "not run"
    return "closes" if ring.closes else "DOES NOT CLOSE"


def _to_json(ring: RingView) -> dict[str, Any]:
    found = ring.closure
    value: dict[str, Any] = {
        "parts": [{"part": number, "revision": revision} for number, revision in ring.parts],
        "connections": list(ring.connections),
        "closes": ring.closes,
        "findings": [f.to_json() for f in ring.findings],
        "not_run": ring.not_run,
    }
    if found is None:
        return value
    return {
        **value,
        "margin_mm": found.margin_mm,
        "worst_case_margin_mm": found.worst_case_margin_mm,
        "short_mm": found.closing.short_mm,
        "tightest": found.tightest,
        "margins": [
            {"connection": s.name, "by_itself_mm": s.alone_mm, "in_the_whole_mm": s.whole_mm} for s in ring.shares
        ],
        "moves": [
            {"connection": m.member, "part": m.part, "holes": list(m.labels), "move_mm": list(m.move_mm)}
            for m in found.closing.moves
        ],
        "moves_hold_in_the_worst_case": found.closing.worst_case,
        "positions": [
            {
                "part": part, "angle_deg": pose.angle_deg, "x_mm": pose.x_mm, "y_mm": pose.y_mm,
                "turned_over": pose.turned_over,
            }
            for part, pose in found.poses
        ],
    }  # fmt: skip


def across(args: argparse.Namespace) -> int:
    """A dimension from a place of one part to a place of another; nothing is recorded."""
    with open_job(args) as job:
        found = job.dimension_across(args.start, args.end, args.along)
    if as_json(args):
        show_json(
            {
                "name": args.number, "from": args.start, "to": args.end, "along": args.along, "value_mm": found.value,
                "low_mm": found.low, "high_mm": found.high, "root_sum_square_mm": found.root_sum_square,
                "note": found.note,
                "contributions": [{"of": c.name, "down_mm": c.down, "up_mm": c.up} for c in found.contributions],
            }
        )  # fmt: skip
        return 0
    way = f" along {args.along}" if args.along else ""
    say(f"{args.number}: {show_mm(found.value)} from {args.start} to {args.end}{way}")
    say(
        f"  worst case {show_mm(found.low)} to {show_mm(found.high)}; ±{show_mm(found.root_sum_square)} root sum square"
    )
    width = max((len(c.name) for c in found.contributions), default=0) + 2
    for c in found.contributions:
        say(f"    {c.name:<{width}}{c.down:+.3f}/{c.up:+.3f} mm")
    if found.note:
        say(f"  {found.note}")
    return 0
