"""Commands about bends of a bent part, and about groups of its holes."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from ledger.cli.context import answer, as_json, by, do_act, open_job
from ledger.cli.lines import alone
from ledger.cli.show import say, show_json
from ledger.domain.errors import BadInput

if TYPE_CHECKING:
    from ledger.domain.record import Part


def group(args: argparse.Namespace) -> int:
    """A group by its holes, what it is placed from, or both."""
    if not args.labels and "=" in args.name:
        from ledger.words.groups import group_line

        alone("group", args.name, **{"from": args.reference})
        with open_job(args) as job:
            part = job.part(args.number)
            line = group_line(args.name, [g.name for g in part.groups], [h.label for h in part.holes])
        args.name, args.labels, args.reference = (line.fields[n] for n in ("name", "labels", "reference"))
    with open_job(args) as job:
        entry = job.name_group(args.number, args.name, args.labels, args.reference, by=by(args))
        found = job.answers(part=args.number)
    words = "the group is named" if args.labels else f"the group is placed from {args.reference}"
    words += f" and placed from {args.reference}" if args.labels and args.reference else ""
    return answer(args, words, found, entry=entry)


def bend_data(args: argparse.Namespace) -> int:
    """Bend data of vendors: recorded, or shown."""
    names = ("material", "thickness", "radius", "k_factor")
    if ":" in args.vendor and " of " in args.vendor.partition(":")[2]:
        from ledger.words.bends import bend_data_line

        alone("bend-data", args.vendor, **{n.removesuffix("_factor"): getattr(args, n) for n in names})
        vars(args).update(bend_data_line(args.vendor).fields)
    if args.vendor and (args.material or args.thickness or args.radius or args.k_factor):
        fields = {n: getattr(args, n) for n in ("vendor", *names)}
        words = f"bend data of {args.vendor} for {args.thickness} {args.material} is recorded"
        return do_act(args, "RecordBendData", words, **fields)
    with open_job(args) as job:
        rows = [r for r in job.bend_data() if args.vendor in ("", r["vendor"])]
    if as_json(args):
        show_json({"bend_data": rows})
        return 0
    for row in rows:
        k = f", K {row['k_factor']}" if row["k_factor"] else ""
        radius = f" R {row['radius']}" if row["radius"] else ""
        say(f"{row['vendor']}: {row['thickness']} {row['material']}:{radius}{k}")
    if not rows:
        say("no vendor bend data recorded")
    return 0


def bend(args: argparse.Namespace) -> int:
    if args.remove:
        if len(args.labels) != 1:
            raise BadInput("name the one bend to remove, such as B1")
        (label,) = args.labels
        return do_act(
            args,
            "RemoveBend",
            f"the data of bend {label} is removed",
            number=args.number,
            label=label,
            reason=args.remove,
        )
    if len(args.labels) == 1 and ":" in args.labels[0]:
        from ledger.words.bends import bend_line

        alone("bend", args.labels[0], **{"as": args.words})
        fields = bend_line(args.labels[0]).fields
        args.labels = list(fields.pop("labels"))
        return _recorded(args, fields)
    if not args.words:
        return _show(args)
    if not args.labels:
        raise BadInput(f"name the bend lines: fitup bend {args.number} shows them with their labels")
    from ledger.domain.bend_words import read_bend

    return _recorded(args, read_bend(args.words))


def _recorded(args: argparse.Namespace, fields: dict[str, str]) -> int:
    with open_job(args) as job:
        entry = job.bend(args.number, args.labels, by=by(args), **fields)
        bends = _bends(job.part(args.number))
        found = job.answers(part=args.number)
    told = [b for b in bends if b["label"] in args.labels]
    words = "; ".join(f"{b['label']} {b['words']}" for b in told)
    return answer(args, f"recorded on {args.number}: {words}", found, entry=entry, bends=told)


def _show(args: argparse.Namespace) -> int:
    """Every bend line: what is entered, what is assumed, what it takes of the flat plate."""
    with open_job(args) as job:
        part = job.part(args.number)
    rows = _bends(part)
    if args.labels:
        raise BadInput("bend data missing; expected --as '90 deg up, R 3 mm, K 0.44'")
    if as_json(args):
        show_json({"part": part.number, "revision": part.revision, "bends": rows})
        return 0
    for row in rows:
        (ax, ay), (bx, by_) = row["line"]
        say(f"{row['label']:<5}({ax:.2f}, {ay:.2f}) to ({bx:.2f}, {by_:.2f})  {row['words']}")
        if row["allowance_mm"] is not None:
            say(f"     {row['numbers']}")
    if not rows:
        say(f"{part.number} has no bend lines")
    return 0


def _bends(part: Part) -> list[dict[str, Any]]:
    from ledger.domain.bend import ends_of, lost_bends
    from ledger.words.bends import bent

    drawn = part.bend_lines
    lost = {b.label: b for b in lost_bends(part.profile.bends if part.profile else (), part.bends)}
    rows: list[dict[str, Any]] = []
    for label, stroke in drawn.items():
        stated = None if label in lost else part.bend(label)
        found = bent(part, stated) if stated else None
        ends = ends_of(stroke) or tuple((v[0], v[1]) for v in (stroke.vertices[0], stroke.vertices[-1]))
        numbers = found.words if found else ""
        rows.append(
            {
                "label": label,
                "line": [list(e) for e in ends],
                "entered": stated.to_json() if stated else None,
                "words": stated.words if stated else "not entered",
                "allowance_mm": found.allowance_mm if found else None,
                "deduction_mm": found.deduction_mm if found else None,
                "radius_mm": found.radius_mm if found else None,
                "k": found.k if found else None,
                "assumed": list(found.assumed) if found else [],
                "vendors": list(found.vendors) if found else [],
                "source": found.source if found else "",
                "numbers": numbers,
                "lost": False,
            }
        )
    for label, bend in lost.items():
        rows.append({"label": label, "line": [list(e) for e in bend.line], "entered": bend.to_json()} | {
            "words": f"{bend.words}; its line is no longer on the drawing", "allowance_mm": None,
            "deduction_mm": None, "radius_mm": None, "k": None, "assumed": [], "vendors": [], "source": "",
            "numbers": "", "lost": True,
        })  # fmt: skip
    return rows
