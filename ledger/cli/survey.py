"""Commands about points and the distances between them."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from ledger.cli.context import answer, as_json, by, do_act, open_job
from ledger.cli.lines import alone
from ledger.cli.show import say, show_json
from ledger.domain.errors import BadInput


def point(args: argparse.Namespace) -> int:
    if len(args.labels) == 1 and any(sign in args.labels[0] for sign in (",", " at ", " with ", "±")):
        return _point_line(args)
    at = tuple(piece.strip() for piece in args.at.split(",") if piece.strip())
    if len(args.labels) > 1 and (at or args.side):
        raise BadInput("--at and --side are for one point; name one")
    names = ("number", "diameter", "uncertainty", "side", "instrument")
    fields = {"at": at, **{name: getattr(args, name) for name in names}}
    fields = {name: value for name, value in fields.items() if value}
    with open_job(args) as job:
        entries = [job.record_point(by=by(args), label=label, **fields) for label in args.labels]
    return answer(args, f"recorded on {args.number}: {', '.join(args.labels)}", entries=entries)


def _point_line(args: argparse.Namespace) -> int:
    from ledger.words.points import point_line

    (line,) = args.labels
    alone(
        "point",
        line,
        **{n: getattr(args, n) for n in ("diameter", "at", "uncertainty", "side", "instrument")},
    )
    fields = {name: value for name, value in point_line(line).fields.items() if value}
    with open_job(args) as job:
        entry = job.record_point(by=by(args), number=args.number, **fields)
    return answer(args, f"recorded on {args.number}: {fields['label']}", entries=[entry])


def distance(args: argparse.Namespace) -> int:
    if args.line:
        from ledger.words.points import distance_line

        fields = distance_line(args.line).fields
        args.remove = fields.pop("reason", "")
        vars(args).update(fields)
    named = {"number": args.number, "a": args.a, "b": args.b}
    if args.remove:
        return do_act(
            args,
            "RemoveDistance",
            f"the distance {args.a} to {args.b} is removed",
            reason=args.remove,
            **named,
        )
    with open_job(args) as job:
        seq = job.record_distance(by=by(args), reading=args.reading, at=args.at, **named)
        ends = sorted((args.a, args.b))
        (found,) = [d for d in job.part(args.number).distances if [d.a, d.b] == ends]
    said = f" ({found.how})" if found.how else ""
    words = f"{found.value} ±{found.uncertainty} with {found.instrument}{said}"
    return answer(args, f"{args.a} to {args.b} is recorded: {words}", entry=seq)


def instrument(args: argparse.Namespace) -> int:
    """An instrument of the job's own, or without a name the list of them."""
    if not args.name:
        return _instruments(args)
    names = ("tool", "resolution", "standard", "limit", "grade", "calibrated")
    if "=" in args.name:
        from ledger.words.instruments import instrument_line

        alone("instrument", args.name, **{n: getattr(args, n) for n in names})
        with open_job(args) as job:
            vars(args).update(instrument_line(args.name, job.day).fields)
    if not (args.tool and args.calibrated):
        raise BadInput(
            "an instrument needs its kind and its calibration: --kind caliper --calibrated 2026-01-31"
        )
    fields = {name: getattr(args, name) for name in ("name", *names, "months")}
    with open_job(args) as job:
        seq = job.record_instrument(by=by(args), **fields)
    return answer(args, f"{args.name} is recorded, calibrated {args.calibrated}", entry=seq)


def _instruments(args: argparse.Namespace) -> int:
    with open_job(args) as job:
        rows = [{**asdict(row), "overdue": row.due < job.day} for row in job.instruments()]
    if as_json(args):
        show_json({"instruments": rows})
        return 0
    for r in rows:
        good = next((f"{k} {r[k]}" for k in ("standard", "limit", "grade") if r[k]), "as its kind")
        state = f"OVERDUE since {r['due']}" if r["overdue"] else f"due {r['due']}"
        say(f"{r['name']:<16}{r['tool']:<14}{good:<18}calibrated {r['calibrated']}, {state}")
    if not rows:
        say("no instruments recorded; readings use the default uncertainty of their kind")
    return 0


def survey(args: argparse.Namespace) -> int:
    with open_job(args) as job:
        found = job.survey(args.number)
    solution, off, unseen = found.solution, found.off, found.unseen
    if as_json(args):
        show_json(found.to_json())
        return 0 if found.sound else 1
    if not solution.points:
        say(f"{args.number}: the distances do not fix {', '.join(solution.free)}")
    for p in solution.points:
        at = ", ".join(f"{v:.2f}" for v in p.at_mm)
        say(f"  {p.name:<6}({at}) mm  ±{p.u_shape_mm:.2f} within the shape, ±{p.u_datum_mm:.2f} on its axes")
    for x in solution.left:
        checked = f"{x.share:.0%} checked" if x.share else "not checked"
        say(f"  {x.reading.words:<16}left {x.left_mm:+.2f} mm, {x.times_sigma:.1f} sigma, {checked}")
    if solution.points:
        words = "they agree" if solution.agrees else "they DO NOT AGREE"
        chance = (
            f"{words} (chi-square {solution.chi_square:.1f})"
            if solution.redundancy
            else "no reading checks them"
        )
        say(f"  readings beyond those needed: {solution.redundancy}; {chance}")
    if unseen:
        say(f"  {unseen.words}")
    if solution.images or solution.mirror:
        say("  it could also be mirrored; enter a side with fitup point --side")
    if off:
        say(f"  {off.words}")
    return 0 if found.sound else 1
