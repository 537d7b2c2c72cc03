"""Commands about the job, its people and its parts."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from typing import Any

from ledger.cli.assembly import across
from ledger.cli.context import (
    answer,
    as_json,
    ask_passphrase,
    by,
    keeper,
    open_job,
    place_of,
)
from ledger.cli.lines import alone
from ledger.cli.show import say, show_json
from ledger.domain import fields
from ledger.domain.address import shown
from ledger.domain.errors import BadInput, visible
from ledger.domain.moment import local
from ledger.domain.number_text import plain_or_none
from ledger.domain.plural import counted
from ledger.domain.record import FORMS, ROLES
from ledger.domain.short_key import short_key


def start(args: argparse.Namespace) -> int:
    from ledger.job import Job

    job = Job.start(place_of(args), args.firm, ask_passphrase)
    job.close()
    return answer(
        args,
        f"job of {args.firm!r} started in {shown(place_of(args))}; enroll yourself next: fitup enroll NAME",
        job=job.ident,
    )


def enroll(args: argparse.Namespace) -> int:
    roles = [r.strip() for r in args.roles.split(",") if r.strip()] or list(ROLES)
    if ":" in args.name:
        from ledger.words.people import person_line

        alone("enroll", args.name, roles=args.roles)
        fields = person_line(args.name).fields
        args.name, roles = fields["name"], list(fields["roles"])
    with open_job(args) as job:
        key = job.enroll(
            args.name,
            roles,
            ask_passphrase(args.name),
            by=keeper(args),
        )
        founded = job.root() == key
    words = f"{args.name} is enrolled; key {key[:16]}"
    words += f"; keeper of the job, whose root is {short_key(key)}" if founded else ""
    return answer(args, words, name=args.name, key=key)


def part(args: argparse.Namespace) -> int:
    said = {f.name: v for f in fields.PART_FIELDS if f.asks and (v := getattr(args, f.name)) is not None}
    known: dict[str, Any] = dict(said)
    if said.get("opposite_of"):
        known.setdefault("hand", "opposite")
    for name in (f.name for f in fields.PART_FIELDS if f.number and f.name in said):
        if not said[name].isascii() or not said[name].isdigit():
            what = name.replace("_", " ")
            raise BadInput(f"read {visible(said[name])!r} as {what}; expected a whole number")
        known[name] = int(said[name])
    if args.unconnected:
        known["unconnected"] = args.unconnected == "yes"
    if not known and args.number.split()[1:2] and args.number.split()[1] in FORMS:
        from ledger.words.parts import part_line

        known = part_line(args.number).fields
        args.number = known.pop("number")
    with open_job(args) as job:
        job.write_part(args.number, known, by=by(args))
        found = job.answers(part=args.number)
    return answer(args, f"part {args.number} is recorded", found, part=args.number)


def parts(args: argparse.Namespace) -> int:
    with open_job(args) as job:
        rows, told = [], []
        known = job.parts()
        for p, found in zip(known, job.each_verdict([p.number for p in known]), strict=True):
            verdict = found.verdict
            state = "locked" if p.locked else "open"
            counts = f"{counted(len(verdict.stops), 'stop')}, {counted(len(verdict.warnings), 'warning')}"
            them = [n for n in found.together if n != p.number]
            told.append(counts + (f", with {', '.join(them)}" if them else ""))
            rows.append(
                {
                    "part": p.number,
                    "revision": p.revision,
                    "title": p.title,
                    "state": state,
                    "verdict": "GO" if verdict.go else "NO-GO",
                    "stops": len(verdict.stops),
                    "warnings": len(verdict.warnings),
                    "together": list(found.together),
                }
            )
    if as_json(args):
        show_json({"parts": rows})
        return 0
    for r, counts in zip(rows, told, strict=True):
        say(f"{r['part']:<14}{r['revision']:<4}{r['state']:<8}{r['verdict']:<7}{counts}  {r['title']}")
    return 0


def show(args: argparse.Namespace) -> int:
    from ledger.domain.digest import own
    from ledger.words.counts import count_text

    with open_job(args) as job:
        p = job.part(args.number)
        connections = [m.name for m in job.connections() if any(ply.part == p.number for ply in m.plies)]
        permits, revisions = job.permits(p.number), job.revisions(p.number)
        figures = job.figures(p)
        evidence = [one for one in job.evidence() if one.owner == p.number]
    value = {
        "part": p.number,
        "revision": p.revision,
        "state": "locked" if p.locked else "open",
        "own": own(p),
        **{f.name: fields.value_of(p, f.name) for f in fields.PART_FIELDS},
        "coating_thickness": p.coating_thickness.to_json() if p.coating_thickness else None,
        "figures": figures.to_json(),
        "thickness": p.thickness.to_json() if p.thickness else None,
        "profile": {"file": p.taken.file_name, "sha256": p.taken.dxf_sha256, "unit": p.taken.unit}
        if p.taken
        else None,
        "holes": [
            {"label": h.label, "x_mm": h.centre[0], "y_mm": h.centre[1], "diameter_mm": h.diameter_mm}
            for h in p.holes
        ],
        "points": [
            {
                "label": q.label,
                "diameter": str(q.diameter or ""),
                "at": [str(c) for c in q.at],
                "uncertainty": str(q.uncertainty or ""),
                "side": str(q.side or ""),
                "instrument": q.instrument,
            }
            for q in p.points
        ],
        "distances": [
            {
                **{name: getattr(d, name) for name in ("a", "b", "instrument")},
                "value": str(d.value),
                "uncertainty": str(d.uncertainty),
                "readings": list(d.readings),
            }
            for d in p.distances
        ],
        "operations": [f.to_json() for f in p.operations],
        "bends": [b.to_json() for b in p.bends],
        "groups": {g.name: list(g.labels) for g in p.groups},
        "dimensions": [
            {
                **d.to_json(),
                **{n: plain_or_none(getattr(d.limits, n, None)) for n in _IN_LIMITS},
                "frozen_before": dict(d.frozen_before),
            }
            for d in p.dimensions
        ],
        "questions": [{**asdict(q), "waiting": list(q.waiting)} for q in p.questions],
        **{some.name: [one.to_json() for one in some.of(p)] for some in fields.PART_LISTS},
        "evidence": [one.to_json() for one in evidence],
        "connections": connections,
        "permits": [made.to_json() for made in permits],
        "revisions": [asdict(made) for made in revisions],
    }
    if as_json(args):
        show_json(value)
        return 0
    counted = {"quantity": count_text(p), **dict.fromkeys(("per_assembly", "assemblies", "spares"))}
    value |= {some.name: [one.words for one in some.of(p)] for some in fields.PART_LISTS}
    value["evidence"] = [one.words for one in evidence]
    value |= {**counted, "figures": [f"{caption}: {words}" for caption, words in figures.rows]}
    for name, content in value.items():
        for row in content if isinstance(content, list) and content else [content]:
            if row not in (None, "", [], {}):
                say(f"{name.replace('_', ' '):<19}{_in_words(row)}")
    return 0


def _in_words(row: Any) -> str:
    """A row of what is recorded; of one with names what is known, of a quantity how it was written."""
    if isinstance(row, (list, tuple)):
        return "; ".join(map(_in_words, row))
    if isinstance(row, bool):
        return "yes" if row else "no"
    if not isinstance(row, dict):
        return str(row)
    if "written" in row:
        return str(row["written"])
    told = {k: v for k, v in row.items() if v not in (None, "", [], {}) and k not in _IN_LIMITS}
    return ", ".join(k if v is True else f"{k} {_in_words(v)}" for k, v in told.items() if v is not False)


_IN_LIMITS = ("lower_mm", "upper_mm")
_DIMENSION = (
    *("number", "name", "nominal", "limits", "source"),
    *("instrument", "uncertainty", "measured_on", "frozen", "critical"),
)


def dimension(args: argparse.Namespace) -> int:
    """A key dimension: plain, or calculated from others where its source says so."""
    if hasattr(args, "start"):
        return across(args)
    fields = {name: getattr(args, name, None) for name in (*_DIMENSION, "at")}
    with open_job(args) as job:
        if args.line:
            from ledger.words.dimensions import dimension_line

            old = {d.name: d for d in job.part(args.number).dimensions}
            line = dimension_line(args.line, old.get(args.line.partition("=")[0].strip()))
            args.name, fields = line.fields["name"], {"number": args.number, **line.fields}
        seq = job.record_dimension(by=by(args), edited=not args.line, **fields)
        (made,) = [d for d in job.part(args.number).dimensions if d.name == args.name]
        found = job.answers(part=args.number, name=args.name)
    value = str(made.nominal) if made.formula else made.nominal.written
    sure = made.uncertainty.written if made.uncertainty else ""
    words = "the key dimension is recorded"
    words += f": {args.name} = {made.formula} = {value}" if made.formula else ""
    words += f": {value} ±{sure} ({made.how})" if made.how else ""
    return answer(args, words, found, entry=seq, value=value, uncertainty=sure, how=made.how)


def remove(args: argparse.Namespace) -> int:
    """Remove entries of a part, or required clearances of a connection."""
    with open_job(args) as job:
        entries = [
            job.enter("RemoveClearance", connection=args.of, name=name, reason=args.reason, by=by(args))
            if args.what == "clearance"
            else job.enter(
                "RemoveOfPart", number=args.of, what=args.what, name=name, reason=args.reason, by=by(args)
            )
            for name in args.names
        ]
    return answer(args, f"removed from {args.of}: {args.what} {', '.join(args.names)}", entries=entries)


def journal(args: argparse.Namespace) -> int:
    with open_job(args) as job:
        rows = list(job.journal())
    rows = rows[-args.last :] if args.last > 0 else rows
    if as_json(args):
        show_json({"entries": [asdict(r) for r in rows]})
        return 0
    for r in rows:
        about = r.act.get("number") or r.act.get("name") or r.act.get("connection") or ""
        say(f"{r.seq:>5}  {local(r.at)}  {r.by:<14}{r.kind:<18}{about}{'  signed' if r.signed else ''}")
        if r.set_back_from:
            say(
                f"       the clock was set back before this entry; the entry before is of {local(r.set_back_from)}"
            )
    return 0


def undo(args: argparse.Namespace) -> int:
    with open_job(args) as job:
        last = job.last_of(by(args))
        job.undo(last.seq, by=by(args))
    kind = last.kind.replace("_", " ")
    return answer(args, f"entry {last.seq} ({kind}) is undone", undoes=last.seq, kind=last.kind)
