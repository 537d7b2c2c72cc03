"""Commands about connections and what was measured on them."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from ledger.cli.context import (
    answer,
    as_json,
    by,
    do_act,
    open_job,
)
from ledger.cli.evidence import read_beside
from ledger.cli.lines import alone
from ledger.cli.show import say, show_json
from ledger.words.answers import BOLT_CODES, answer_lines


def connect(args: argparse.Namespace) -> int:
    from ledger.domain.position import read_also

    if args.line:
        return _connect_line(args)
    plies = []
    for word in args.plies:
        number, _, rest = word.partition(":")
        group, _, face = rest.partition(":")
        plies.append({"part": number, "group": group, "face_up": face or "top"})
    fields = {n: getattr(args, n) for n in ("name", "joint", "fastener", "turned_over", "position", "gap")}
    if args.kind == "bolted" and not args.joint:
        fields["joint"] = "through"
    also = tuple(asdict(read_also(text)) for text in args.also)
    fields |= {"weld_side": args.side, "weld_class": args.weld_class, "holes_made": args.holes}
    return do_act(
        args,
        "RecordConnection",
        f"connection {args.name} is recorded",
        {"connection": "name"},
        connection_kind=args.kind,
        plies=tuple(plies),
        also=also,
        **fields,
    )


def _connect_line(args: argparse.Namespace) -> int:
    from ledger.words.connections import connection_line

    with open_job(args) as job:
        fields = connection_line(args.line, tuple(p.number for p in job.parts())).fields
        entry = job.enter("RecordConnection", by=by(args), **fields)
        found = job.answers(connection=fields["name"])
    return answer(args, f"connection {fields['name']} is recorded", found, entry=entry)


def bolt(args: argparse.Namespace) -> int:
    """Record bolts, and tell either way what the stack needs."""
    if args.line:
        from ledger.words.bolts import bolt_line

        alone("bolt", args.line, length=args.length, washers=args.washers)
        fields = bolt_line(args.line).fields
        args.length, args.washers = fields["length"], fields["washers"]
    with open_job(args) as job:
        entry = None
        if args.length or args.washers is not None:
            known = job.connection_view(args.connection).connection
            length = args.length or (known.bolt_length.written if known.bolt_length else "")
            washers = known.washers if args.washers is None else args.washers
            said = {"length": length, "washers": washers}
            entry = job.enter("RecordBolt", by=by(args), connection=args.connection, **said)
        view = job.connection_view(args.connection)
        (found,) = job.answers(connection=args.connection, bolts=True)
    if as_json(args):
        length, washers = view.connection.bolt_length, view.connection.washers
        stated = {"length": length.to_json() if length else None, "washers": washers}
        about = [f.to_json() for f in view.findings if f.code in BOLT_CODES]
        show_json(
            {
                "connection": args.connection,
                "entry": entry,
                **stated,
                "findings": about,
                "answers": [found.to_json()],
            }
        )
        return 0
    if entry:
        say(f"the bolts of {args.connection} are recorded")
    for line in answer_lines(found):
        say(line)
    return 0


def connections(args: argparse.Namespace) -> int:
    with open_job(args) as job:
        found = job.connections()
    rows = [
        {
            "connection": m.name,
            "kind": m.kind,
            "plies": [asdict(p) for p in m.plies],
            "fastener": m.fastener,
            "joint": m.joint,
            "also": [asdict(a) for a in m.also],
            "position": m.position_written,
            "gap": m.gap.written if m.gap else "",
            "weld_side": m.weld_side,
            "weld_class": m.weld_class,
            "holes_made": m.holes_made,
            "bolt_length": m.bolt_length.to_json() if m.bolt_length else None,
            "washers": m.washers,
            "clearances": [
                {
                    "name": c.name,
                    "required": c.required.written,
                    "measured": str(c.reading.value.written) if c.reading else None,
                    "how": c.reading.how if c.reading else "",
                }
                for c in m.clearances
            ],
        }
        for m in found
    ]
    if as_json(args):
        show_json({"connections": rows})
        return 0
    for m in found:
        plies = " on ".join(p.part + (f":{p.group}" if p.group else "") for p in m.plies)
        weld = "".join(f", {said}" for said in m.weld_words)
        say(f"{m.name}: {m.kind} {m.joint} {m.fastener}  {plies}{weld}")
        for a in m.also:
            say(f"    also {a.fastener} {a.joint}, {' on '.join(a.groups)}")
        if m.position_written:
            say(f"    position: {m.position_written}")
        for c in m.clearances:
            measured = c.reading.words if c.reading else "not measured"
            say(f"    {c.name}: required {c.required.written}; {measured}")
    return 0


def measure(args: argparse.Namespace) -> int:
    files = read_beside(args)
    with open_job(args) as job:
        made = job.measure(args.connection, args.name, args.reading, warm=args.at, by=by(args))
        if files:
            job.keep_evidence(f"{args.connection}/{args.name}", files, by=by(args))
        found = job.answers(connection=args.connection, name=args.name)
    value, sure = made.value.written, made.uncertainty.written
    words = f"{args.name} of {args.connection} is recorded: {value} ±{sure} with {made.instrument}"
    words += f" ({made.how})" if made.how else ""
    fields = {"value": value, "uncertainty": sure, "instrument": made.instrument, "how": made.how}
    return answer(args, words, found, **fields)


def freeze(args: argparse.Namespace) -> int:
    with open_job(args) as job:
        job.freeze(args.connection, args.number, by=by(args))
    return answer(args, f"the interface that {args.number} shows to {args.connection} is frozen")
