"""Commands about mates and what was measured on them."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from ledger.cli.asked import (
    answer,
    as_json,
    by,
    do_act,
    open_shop,
)
from ledger.cli.show import say, show_finding, show_json

_BOLT_CODES = (
    "bolt_short", "bolt_long", "bolt_hits", "bolt_stands_out", "bolt_odd_length", "bolt_wanted", "thread_short",
    "falls_through", "hole_left_open",
)  # fmt: skip


def mate(args: argparse.Namespace) -> int:
    from ledger.acts.mates import DeclareMate
    from ledger.domain.located import read_also

    plies = []
    for word in args.plies:
        number, _, rest = word.partition(":")
        group, _, face = rest.partition(":")
        plies.append({"part": number, "group": group, "face_up": face or "top"})
    fields = {n: getattr(args, n) for n in ("name", "joint", "fastener", "flip", "located", "gap")}
    if args.kind == "bolted" and not args.joint:
        fields["joint"] = "through"
    also = tuple(asdict(read_also(text)) for text in args.also)
    fields |= {"weld_side": args.side, "weldment": args.weldment, "holes_made": args.holes}
    return do_act(
        args,
        DeclareMate,
        f"mate {args.name} is declared",
        mate_kind=args.kind,
        plies=tuple(plies),
        also=also,
        **fields,
    )


def bolt(args: argparse.Namespace) -> int:
    """State bolts, and say either way what the stack asks for."""
    from ledger.acts.base import make
    from ledger.acts.mates import StateBolt

    with open_shop(args) as shop:
        entry = None
        if args.length or args.washers is not None:
            known = shop.mate_view(args.mate).mate
            length = args.length or (known.bolt_length.written if known.bolt_length else "")
            washers = known.washers if args.washers is None else args.washers
            act = make(StateBolt, mate=args.mate, length=length, washers=washers)
            entry = shop.do(act, by=by(args))
        view = shop.mate_view(args.mate)
    about = [f for f in view.findings if f.code in _BOLT_CODES]
    if as_json(args):
        length, washers = view.mate.bolt_length, view.mate.washers
        stated = {"length": length.to_json() if length else None, "washers": washers}
        show_json({"mate": args.mate, "entry": entry, **stated, "findings": [f.to_json() for f in about]})
        return 0
    if entry:
        say(f"the bolts of {args.mate} are recorded")
    for finding in about:
        show_finding(finding)
    if not about:
        length = (
            f" x {view.mate.bolt_length}" if view.mate.bolt_length else ", of which no length is entered,"
        )
        say(f"nothing stands against {view.mate.fastener}{length} in {args.mate}")
    return 0


def mates(args: argparse.Namespace) -> int:
    with open_shop(args) as shop:
        found = shop.mates()
    rows = [
        {
            "mate": m.name,
            "kind": m.kind,
            "plies": [asdict(p) for p in m.plies],
            "fastener": m.fastener,
            "joint": m.joint,
            "also": [asdict(a) for a in m.also],
            "located": m.located_written,
            "gap": m.gap.written if m.gap else "",
            "weld_side": m.weld_side,
            "weldment": m.weldment,
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
        show_json({"mates": rows})
        return 0
    for m in found:
        plies = " on ".join(p.part + (f":{p.group}" if p.group else "") for p in m.plies)
        weld = "".join(f", {said}" for said in m.weld_words)
        say(f"{m.name}: {m.kind} {m.joint} {m.fastener}  {plies}{weld}")
        for a in m.also:
            say(f"    also {a.fastener} {a.joint}, {' on '.join(a.groups)}")
        if m.located_written:
            say(f"    held: {m.located_written}")
        for c in m.clearances:
            measured = c.reading.words if c.reading else "not measured"
            say(f"    {c.name}: wanted {c.required.written}; {measured}")
    return 0


def measure(args: argparse.Namespace) -> int:
    with open_shop(args) as shop:
        made = shop.measure(args.mate, args.name, args.reading, warm=args.at, by=by(args))
    value, sure = made.value.written, made.uncertainty.written
    words = f"{args.name} of {args.mate} is recorded: {value} ±{sure} with {made.instrument}"
    words += f" ({made.how})" if made.how else ""
    fields = {"value": value, "uncertainty": sure, "instrument": made.instrument, "how": made.how}
    return answer(args, words, **fields)


def freeze(args: argparse.Namespace) -> int:
    with open_shop(args) as shop:
        shop.freeze(args.mate, args.number, by=by(args))
    return answer(args, f"the face that {args.number} shows to {args.mate} is frozen")
