"""One function for each command: read the words, call one verb of the shop, show what it answers."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ledger.cli.parser import UsageError
from ledger.cli.show import say, show_comparison, show_finding, show_json, show_look, show_verdicts
from ledger.domain.errors import BadInput, Unreadable, visible

if TYPE_CHECKING:
    from ledger.acts.base import Act
    from ledger.shop import Shop

Command = Callable[[argparse.Namespace], int]
TAMPERED = 4


def run(args: argparse.Namespace) -> int:
    """Run the command that was named. Raises UsageError where none was."""
    if not args.command:
        raise UsageError("no command; fitup --help lists what there is")
    return COMMANDS[args.command](args)


def place_of(args: argparse.Namespace) -> str:
    """Where the shop is."""
    return args.shop or os.environ.get("FITUP_SHOP") or "fitup.db"


def ask_passphrase(name: str) -> str:
    """The passphrase of a person: from FITUP_PASSPHRASE_FILE, else typed. Raises BadInput without either."""
    stated = os.environ.get("FITUP_PASSPHRASE_FILE")
    if stated:
        try:
            return Path(stated).read_text(encoding="utf-8").split("\n", 1)[0].rstrip("\r")
        except (OSError, UnicodeDecodeError) as fault:
            raise BadInput(f"cannot read the passphrase file {visible(stated)}: {fault}") from fault
    if not sys.stdin.isatty():
        raise BadInput("a passphrase is needed: set FITUP_PASSPHRASE_FILE, or run this in a terminal")
    from getpass import getpass

    return getpass(f"passphrase of {visible(name)}: ")


def read_file(path: str) -> bytes:
    """A file's bytes. Raises Unreadable."""
    try:
        return Path(path).read_bytes()
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or str(fault)
        raise Unreadable(f"cannot read {visible(path)}: {reason}; check the name") from fault


def open_shop(args: argparse.Namespace) -> Shop:
    """The shop that the command speaks of."""
    from ledger.shop import Shop

    return Shop(place_of(args), ask_passphrase)


def by(args: argparse.Namespace) -> str:
    """Who does it: --by, FITUP_BY, the login."""
    import getpass

    try:
        return args.by or os.environ.get("FITUP_BY") or getpass.getuser()
    except (OSError, KeyError) as fault:
        raise BadInput("who does this? name yourself with --by or FITUP_BY") from fault


def signer(args: argparse.Namespace) -> str:
    """Who signs: never guessed from the login. Raises UsageError."""
    name = args.by or os.environ.get("FITUP_BY")
    if not name:
        raise UsageError("who signs? name an enrolled person with --by or FITUP_BY")
    return str(name)


def answer(args: argparse.Namespace, words: str, **values: Any) -> int:
    """What was done, in words or as one object."""
    if as_json(args):
        show_json({"done": words, **values})
    else:
        say(words)
    return 0


def as_json(args: argparse.Namespace) -> bool:
    """Whether one JSON object is wanted."""
    return bool(getattr(args, "json", False))


def demo(args: argparse.Namespace) -> int:
    from ledger.demo.walk import run_demo

    outcome = run_demo(Path(args.folder), (lambda _line: None) if as_json(args) else say)
    if as_json(args):
        show_json(outcome.to_json())
    return 0 if outcome.as_intended else 1


def look(args: argparse.Namespace) -> int:
    from ledger.compare import look as look_at

    seen = look_at(args.file, read_file(args.file), unit=args.unit)
    if as_json(args):
        show_json(seen.to_json())
    else:
        show_look(seen)
    return 0 if seen.profile.usable else 1


def fit(args: argparse.Namespace) -> int:
    from ledger.compare import compare
    from ledger.compare import look as look_at

    a = look_at(args.a, read_file(args.a), unit=args.unit_a)
    b = look_at(args.b, read_file(args.b), unit=args.unit_b)
    found = compare(a, b, fastener=args.fastener, joint=args.joint, flip=args.flip, process=args.process)
    if as_json(args):
        show_json(found.to_json())
    else:
        show_comparison(found)
    return 0 if found.fit.verdict == "GO" else 1


def checks(args: argparse.Namespace) -> int:
    from ledger.checks import all_checks

    rows = [{"check": c.name, "why": c.why, "source": c.source, "codes": list(c.codes)} for c in all_checks()]
    if as_json(args):
        show_json({"checks": rows})
        return 0
    for row in rows:
        say(f"{row['check']}: {row['why']}")
        say(f"    source: {row['source']}")
        say(f"    codes:  {', '.join(row['codes'])}")
    return 0


def start(args: argparse.Namespace) -> int:
    from ledger.shop import Shop

    shop = Shop.start(place_of(args), args.title, ask_passphrase)
    shop.close()
    return answer(
        args,
        f"shop {args.title!r} started in {place_of(args)}; enrol yourself next: fitup enrol NAME",
        shop=shop.ident,
    )


def enrol(args: argparse.Namespace) -> int:
    shop = open_shop(args)
    key = shop.enrol(
        args.name,
        [r.strip() for r in args.roles.split(",") if r.strip()],
        ask_passphrase(args.name),
        by=args.by or "",
    )
    shop.close()
    return answer(args, f"{args.name} is enrolled; key {key[:16]}", name=args.name, key=key)


def people(args: argparse.Namespace) -> int:
    shop = open_shop(args)
    rows = [{"name": n, "roles": list(r), "key": k} for n, r, k in shop.people()]
    shop.close()
    if as_json(args):
        show_json({"people": rows})
    for row in rows if not as_json(args) else ():
        say(f"{row['name']}: {', '.join(row['roles'])}; key {row['key'][:16]}")
    return 0


def part(args: argparse.Namespace) -> int:
    names = (
        "title",
        "form",
        "hand",
        "opposite_of",
        "material",
        "thickness",
        "finish",
        "finish_thickness",
        "process",
        "note",
    )
    fields = {n: getattr(args, n) for n in names if getattr(args, n) is not None}
    if args.quantity is not None:
        if not args.quantity.isascii() or not args.quantity.isdigit():
            raise BadInput(f"read {visible(args.quantity)!r} as a quantity; wanted a whole number above zero")
        fields["quantity"] = int(args.quantity)
    if args.stands_alone:
        fields["stands_alone"] = args.stands_alone == "yes"
    shop = open_shop(args)
    try:
        shop.write_part(args.number, fields, by=by(args))
    finally:
        shop.close()
    return answer(args, f"part {args.number} is recorded", part=args.number)


def parts(args: argparse.Namespace) -> int:
    shop = open_shop(args)
    try:
        rows = []
        for p in shop.parts():
            (verdict,) = shop.verdicts([p.number])
            state = "locked" if p.locked else "open"
            rows.append(
                {
                    "part": p.number,
                    "revision": p.revision,
                    "title": p.title,
                    "state": state,
                    "verdict": "GO" if verdict.go else "NO-GO",
                    "stops": len(verdict.stops),
                    "warnings": len(verdict.warnings),
                }
            )
    finally:
        shop.close()
    if as_json(args):
        show_json({"parts": rows})
        return 0
    for r in rows:
        counts = f"{r['stops']} stops, {r['warnings']} warnings"
        say(f"{r['part']:<14}{r['revision']:<4}{r['state']:<8}{r['verdict']:<7}{counts}  {r['title']}")
    return 0


def show(args: argparse.Namespace) -> int:
    from ledger.domain.digest import own

    shop = open_shop(args)
    try:
        p = shop.part(args.number)
        mates = [m.name for m in shop.mates() if any(ply.part == p.number for ply in m.plies)]
    finally:
        shop.close()
    value = {
        "part": p.number,
        "revision": p.revision,
        "state": "locked" if p.locked else "open",
        "own": own(p),
        **{
            n: getattr(p, n)
            for n in (
                "title",
                "form",
                "hand",
                "opposite_of",
                "material",
                "finish",
                "process",
                "quantity",
                "note",
            )
        },
        "thickness": p.thickness.to_json() if p.thickness else None,
        "profile": {"file": p.taken.file_name, "sha256": p.taken.dxf_sha256, "unit": p.taken.unit}
        if p.taken
        else None,
        "holes": [
            {"label": h.label, "x_mm": h.centre[0], "y_mm": h.centre[1], "diameter_mm": h.diameter_mm}
            for h in p.holes
        ],
        "hole_finishes": [f.to_json() for f in p.hole_finishes],
        "groups": {g.name: list(g.labels) for g in p.groups},
        "dimensions": [
            {
                **d.to_json(),
                "lower_mm": str(d.to_json()["lower_mm"]),
                "upper_mm": str(d.to_json()["upper_mm"]),
            }
            for d in p.dimensions
        ],
        "questions": [asdict(q) for q in p.questions],
        "mates": mates,
    }
    if as_json(args):
        show_json(value)
        return 0
    for name, content in value.items():
        for row in content if isinstance(content, list) and content else [content]:
            if row not in (None, "", [], {}):
                say(
                    f"{name:<15}{row if not isinstance(row, dict) else ', '.join(f'{k} {v}' for k, v in row.items())}"
                )
    return 0


def take(args: argparse.Namespace) -> int:
    shop = open_shop(args)
    try:
        seen = shop.take_profile(args.number, args.file, read_file(args.file), unit=args.unit, by=by(args))
    finally:
        shop.close()
    if as_json(args):
        show_json(seen.to_json())
    else:
        say(f"taken for {args.number}: these exact bytes, {seen.sha256[:12]}")
        show_look(seen)
    return 0 if seen.profile.usable else 1


def journal(args: argparse.Namespace) -> int:
    shop = open_shop(args)
    try:
        rows = list(shop.journal())
    finally:
        shop.close()
    rows = rows[-args.last :] if args.last > 0 else rows
    if as_json(args):
        show_json({"entries": [asdict(r) for r in rows]})
        return 0
    for r in rows:
        about = r.act.get("number") or r.act.get("name") or r.act.get("mate") or ""
        say(f"{r.seq:>5}  {r.at}  {r.by:<14}{r.kind:<18}{about}{'  signed' if r.signed else ''}")
    return 0


def mate(args: argparse.Namespace) -> int:
    from ledger.acts.mates import DeclareMate

    plies = []
    for word in args.plies:
        number, _, rest = word.partition(":")
        group, _, face = rest.partition(":")
        plies.append({"part": number, "group": group, "face_up": face or "top"})
    fields = {n: getattr(args, n) for n in ("name", "joint", "fastener", "flip", "located", "gap")}
    return _do(
        args, DeclareMate, f"mate {args.name} is declared", mate_kind=args.kind, plies=tuple(plies), **fields
    )


def mates(args: argparse.Namespace) -> int:
    shop = open_shop(args)
    try:
        found = shop.mates()
    finally:
        shop.close()
    rows = [
        {
            "mate": m.name,
            "kind": m.kind,
            "plies": [asdict(p) for p in m.plies],
            "fastener": m.fastener,
            "joint": m.joint,
            "clearances": [
                {
                    "name": c.name,
                    "required": c.required.written,
                    "measured": str(c.reading.value.written) if c.reading else None,
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
        say(f"{m.name}: {m.kind} {m.joint} {m.fastener}  {plies}")
        for c in m.clearances:
            measured = (
                f"{c.reading.value.written} ±{c.reading.uncertainty.written} {c.reading.instrument}"
                if c.reading
                else "not measured"
            )
            say(f"    {c.name}: wanted {c.required.written}; {measured}")
    return 0


def measure(args: argparse.Namespace) -> int:
    shop = open_shop(args)
    try:
        shop.measure(args.mate, args.name, args.reading, by=by(args))
    finally:
        shop.close()
    return answer(args, f"{args.name} of {args.mate} is recorded: {args.reading}")


def freeze(args: argparse.Namespace) -> int:
    shop = open_shop(args)
    try:
        shop.freeze(args.mate, args.number, by=by(args))
    finally:
        shop.close()
    return answer(args, f"the face that {args.number} shows to {args.mate} is frozen")


def verdict(args: argparse.Namespace) -> int:
    shop = open_shop(args)
    try:
        found = shop.verdicts(args.parts)
    finally:
        shop.close()
    show_verdicts(found, as_json=as_json(args))
    return 0 if all(v.go for v in found) else 1


def sign(args: argparse.Namespace) -> int:
    person = signer(args)
    again = {}
    for word in args.again:
        name, equals, value = word.partition("=")
        if not equals:
            raise UsageError(f"--again {visible(word)!r}: wanted PART/NAME=VALUE")
        again[name.strip()] = value.strip()
    shop = open_shop(args)
    try:
        if args.role == "checked" and not again and sys.stdin.isatty() and not as_json(args):
            for name in shop.re_entry_wanted(args.parts)[:2]:
                again[name] = input(f"{visible(name)}, measured or noted anew: ")
        signed = shop.sign(args.parts, args.role, person, again)
    finally:
        shop.close()
    subjects = [{"part": v.part, "revision": v.revision, "subject": v.subject} for v in signed]
    if not as_json(args):
        for v in signed:
            for finding in v.warnings:
                show_finding(finding, lead="  acknowledged ")
    names = ", ".join(f"{v.part} {v.revision} ({v.subject[:12]})" for v in signed)
    return answer(args, f"{person} signed as {args.role}: {names}", signed=subjects)


def permit(args: argparse.Namespace) -> int:
    person = signer(args)
    shop = open_shop(args)
    try:
        shop.permit(args.part, person, code=args.code, place=args.where, reason=args.reason, until=args.until)
    finally:
        shop.close()
    return answer(args, f"{person} permits {args.code} on {args.part}")


def lock(args: argparse.Namespace) -> int:
    person = signer(args)
    shop = open_shop(args)
    try:
        made = shop.lock(args.parts, person, Path(args.out))
    finally:
        shop.close()
    values = {
        "packet": str(made.packet),
        "folder": str(made.folder),
        "sha256": made.sha256,
        "head": made.head,
    }
    if as_json(args):
        show_json({"locked": [{"part": v.part, "revision": v.revision} for v in made.verdicts], **values})
        return 0
    show_verdicts(made.verdicts, as_json=False)
    say(f"locked: {', '.join(f'{v.part} {v.revision}' for v in made.verdicts)}")
    say(f"packet: {made.packet}")
    say(f"folder: {made.folder}")
    say(f"head:   {made.head}")
    return 0


def packet(args: argparse.Namespace) -> int:
    from ledger.packet.build import stage, stage_folder

    shop = open_shop(args)
    try:
        name, data, files = shop.packet(args.part, args.revision)
    finally:
        shop.close()
    out = Path(args.out)
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise BadInput(f"cannot make {visible(args.out)}: {fault.strerror}") from fault
    staged = [stage(out / name, data), stage_folder(out / name.removesuffix(".zip"), files)]
    for waiting in staged:
        waiting.commit()
    return answer(
        args, f"packet: {out / name}", packet=str(out / name), folder=str(out / name.removesuffix(".zip"))
    )


def verify(args: argparse.Namespace) -> int:
    if not args.file:
        return _verify_shop(args)
    data = read_file(args.file)
    return _verify_packet(args, data) if data[:2] == b"PK" else _verify_drawing(args, data)


def _verify_shop(args: argparse.Namespace) -> int:
    shop = open_shop(args)
    try:
        found = shop.verify()
        entries = list(shop.journal())
    finally:
        shop.close()
    head = f"{entries[-1].seq}:{entries[-1].hash}"
    if as_json(args):
        show_json(
            {"ok": not found, "entries": len(entries), "head": head, "problems": [f.to_json() for f in found]}
        )
    else:
        say(f"{len(entries)} entries, head {head}: {'whole' if not found else 'TAMPERED'}")
        for finding in found:
            show_finding(finding)
    return TAMPERED if found else 0


def _verify_packet(args: argparse.Namespace, data: bytes) -> int:
    from ledger.domain.finding import Finding
    from ledger.packet.inspect import inspect

    report = inspect(data)
    found = list(report.problems)
    against = "by itself; no shop was at hand"
    if args.shop or os.environ.get("FITUP_SHOP") or Path("fitup.db").is_file():
        shop = open_shop(args)
        try:
            same = shop.ident == report.shop
            against = (
                "by itself and against the shop" if same else "by itself; the shop at hand is another one"
            )
            if same and report.head and not shop.holds(report.head):
                found.append(
                    Finding(
                        "not_in_the_shop",
                        "the shop's journal does not hold this packet's entry",
                        where=report.head,
                    )
                )
        finally:
            shop.close()
    parts = [{"part": p.number, "revision": p.revision} for p in report.parts]
    if as_json(args):
        body = {
            "ok": not found,
            "head": report.head,
            "parts": parts,
            "person": report.person,
            "key": report.signer_key,
        }
        show_json({**body, "against": against, "problems": [f.to_json() for f in found]})
        return TAMPERED if found else 0
    names = ", ".join(f"{p['part']} {p['revision']}" for p in parts)
    say(f"packet of {names}, head {report.head}: {'whole' if not found else 'TAMPERED'}, checked {against}")
    say(f"  locked by {report.person} with key {report.signer_key[:16]}: compare it with the key you know")
    for finding in found:
        show_finding(finding)
    return TAMPERED if found else 0


def _verify_drawing(args: argparse.Namespace, data: bytes) -> int:
    shop = open_shop(args)
    try:
        standing = shop.stands(data)
    finally:
        shop.close()
    if not standing.number:
        from ledger.profile.scan import scan

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


def _do(args: argparse.Namespace, kind: type[Act], words: str, **fields: Any) -> int:
    from ledger.acts.base import make

    act = make(kind, **fields)
    shop = open_shop(args)
    try:
        seq = shop.do(act, by=by(args))
    finally:
        shop.close()
    return answer(args, words, entry=seq)


def _plain(module: str, name: str, words: str, fields: tuple[str, ...], **renamed: str) -> Command:
    """A command that is one unsigned act: its fields by their names on the command line."""

    def command(args: argparse.Namespace) -> int:
        from importlib import import_module

        kind = getattr(import_module(f"ledger.acts.{module}"), name)
        values = {f: getattr(args, renamed.get(f, f)) for f in fields}
        values = {f: tuple(v) if isinstance(v, list) else v for f, v in values.items()}
        return _do(args, kind, words, **values)

    return command


def policy(args: argparse.Namespace) -> int:
    from ledger.acts.release import SetPolicy

    roles = tuple(r.strip() for r in args.roles.split(",") if r.strip())
    return _do(
        args,
        SetPolicy,
        "the policy is set; sign-offs made under another one no longer count",
        roles=roles,
        raised=tuple(args.raised),
    )


def _paper(name: str) -> Command:
    """A command that writes a paper; they stand in a module of their own."""

    def command(args: argparse.Namespace) -> int:
        from ledger.cli import papers

        made: Command = getattr(papers, name)
        return made(args)

    return command


_DIMENSION = (
    "number",
    "name",
    "nominal",
    "limits",
    "source",
    "instrument",
    "uncertainty",
    "bound",
    "held",
    "critical",
)
_HOLE = ("number", "label", "x", "y", "diameter", "uncertainty", "source")
COMMANDS: dict[str, Command] = {
    "demo": demo,
    "look": look,
    "fit": fit,
    "checks": checks,
    "start": start,
    "enrol": enrol,
    "people": people,
    "part": part,
    "parts": parts,
    "show": show,
    "take": take,
    "hole": _plain("parts", "RecordHole", "the hole is recorded", _HOLE),
    "finish": _plain(
        "parts", "FinishHole", "the hole finish is recorded", ("number", "labels", "finish", "thread")
    ),
    "group": _plain("parts", "NameGroup", "the group is named", ("number", "name", "labels")),
    "dimension": _plain("parts", "RecordDimension", "the key dimension is recorded", _DIMENSION),
    "ask": _plain("parts", "AskQuestion", "the question is open", ("number", "ident", "text")),
    "answer": _plain(
        "parts", "AnswerQuestion", "the question is answered", ("number", "ident", "answer"), answer="text"
    ),
    "revise": _plain("parts", "NewRevision", "a new revision is open", ("number", "reason")),
    "mate": mate,
    "mates": mates,
    "unmate": _plain("mates", "DropMate", "the mate is dropped", ("name", "reason")),
    "clearance": _plain(
        "mates", "RequireClearance", "the clearance is required", ("mate", "name", "required", "critical")
    ),
    "measure": measure,
    "freeze": freeze,
    "verdict": verdict,
    "sign": sign,
    "permit": permit,
    "policy": policy,
    "lock": lock,
    "packet": packet,
    "picture": _paper("picture"),
    "sheet": _paper("sheet"),
    "record": _paper("record"),
    "verify": verify,
    "journal": journal,
}
