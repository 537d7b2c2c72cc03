"""Which function answers which command. Commands that are one unsigned act are made here."""

from __future__ import annotations

import argparse

from ledger.cli import (
    assembly,
    bends,
    clean_copy,
    connections,
    custody,
    drawings,
    evidence,
    files,
    hardware,
    inspect,
    job_text,
    keys,
    orders,
    parts,
    people,
    questions,
    recall,
    release,
    schedule,
    survey,
    tables,
    vendors,
    verify,
    watch,
)
from ledger.cli.context import Command, as_kept, plain_act
from ledger.cli.lines import UsageError
from ledger.words.forms import LINE_ACTS


def run(args: argparse.Namespace) -> int:
    """Run the command that was named. Raises UsageError where none was."""
    if not args.command:
        raise UsageError("no command; fitup --help lists what there is")
    as_kept(args)
    return COMMANDS[args.command](args)


def _paper(name: str) -> Command:
    """A command that writes a paper; they stand in a module of their own."""

    def command(args: argparse.Namespace) -> int:
        from ledger.cli import papers

        made: Command = getattr(papers, name)
        return made(args)

    return command


_PART = {"part": "number"}
_HOLE = ("number", "label", "x", "y", "diameter", "uncertainty", "source")
COMMANDS: dict[str, Command] = {
    "demo": files.demo,
    "look": files.look,
    "fit": files.fit,
    "checks": files.checks,
    "completion": files.completion,
    "start": parts.start,
    "enroll": parts.enroll,
    "people": people.people,
    "roles": people.roles,
    "retire": people.retire,
    "root": people.root,
    "key": keys.key,
    "part": parts.part,
    "parts": parts.parts,
    "show": parts.show,
    "take": drawings.take,
    "watch": watch.watch,
    "mend": clean_copy.mend,
    "hole": plain_act("RecordHole", "the hole is recorded", _HOLE, "holes.hole_line", about=_PART),
    "point": survey.point,
    "distance": survey.distance,
    "survey": survey.survey,
    "bend": bends.bend,
    "bend-data": bends.bend_data,
    "vendor": vendors.vendor,
    "hardware": hardware.hardware,
    "order": orders.order,
    "receive": orders.receive,
    "schedule": schedule.schedule,
    "recall": recall.recall,
    "inspect": inspect.inspect,
    "evidence": evidence.evidence,
    "instrument": survey.instrument,
    "operation": plain_act(
        "RecordOperation",
        "the hole operation is recorded",
        ("number", "labels", "operation", "thread"),
        "operations.operation_line",
        about=_PART,
    ),
    "group": bends.group,
    "dimension": parts.dimension,
    "ask": questions.ask,
    "link": questions.link,
    "answer": questions.reply,
    "revise": plain_act("NewRevision", "a new revision is open", ("number", "reason")),
    "connect": connections.connect,
    "connections": connections.connections,
    "suggest": drawings.suggest,
    "assembly": assembly.assembly,
    "bolt": connections.bolt,
    "remove": parts.remove,
    "disconnect": plain_act("RemoveConnection", "the connection is removed", ("name", "reason")),
    "clearance": plain_act(
        "RequireClearance",
        "the clearance is required",
        ("connection", "name", "required", "critical"),
        "clearances.clearance_line",
        before="connection",
        about={"connection": "connection", "name": "name"},
    ),
    "measure": connections.measure,
    "freeze": connections.freeze,
    "verdict": release.verdict,
    "why": release.why,
    "next": release.first,
    "sign": release.sign,
    "permit": release.permit,
    "withdraw": release.withdraw,
    "policy": release.policy,
    "lock": release.lock,
    "packet": release.packet,
    "picture": _paper("picture"),
    "points": _paper("points"),
    "template": _paper("template"),
    "sheet": _paper("sheet"),
    "record": _paper("record"),
    "report": _paper("report"),
    "enter": tables.enter,
    "dimensions": tables.dimensions,
    "write": job_text.write,
    "read": job_text.read,
    "schema": job_text.schema,
    "changes": tables.changes,
    "verify": verify.verify,
    "seal": custody.seal,
    "guard": custody.guard,
    "grants": custody.grants_of,
    "export": custody.export,
    "import": custody.bring_in,
    "backup": custody.backup,
    "journal": parts.journal,
    "undo": parts.undo,
}
COMMANDS |= {
    name: plain_act(one.act, one.done, (), one.reader, before=one.before[0])
    for name, one in LINE_ACTS.items()
}
