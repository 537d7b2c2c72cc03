"""Which function answers which command. Commands that are one unsigned act are made here."""

from __future__ import annotations

import argparse

from ledger.cli import bare, bends, going_out, keeping, keys, mates, mending, parts, survey, tables, verify
from ledger.cli.asked import Command, as_kept, plain_act
from ledger.cli.parser import UsageError


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


_LINKS = ("blocks", "waits", "due")
_HOLE = ("number", "label", "x", "y", "diameter", "uncertainty", "source")
COMMANDS: dict[str, Command] = {
    "demo": bare.demo,
    "look": bare.look,
    "fit": bare.fit,
    "checks": bare.checks,
    "start": parts.start,
    "enrol": parts.enrol,
    "people": parts.people,
    "key": keys.key,
    "part": parts.part,
    "parts": parts.parts,
    "show": parts.show,
    "take": parts.take,
    "mend": mending.mend,
    "hole": plain_act("parts", "RecordHole", "the hole is recorded", _HOLE),
    "point": survey.point,
    "distance": survey.distance,
    "survey": survey.survey,
    "bend": bends.bend,
    "folding": bends.folding,
    "instrument": survey.instrument,
    "finish": plain_act(
        "parts", "FinishHole", "the hole finish is recorded", ("number", "labels", "finish", "thread")
    ),
    "group": bends.group,
    "dimension": parts.dimension,
    "ask": plain_act(
        "questions", "AskQuestion", "the question is open", ("number", "ident", "text", *_LINKS)
    ),
    "link": plain_act("questions", "LinkQuestion", "the question is linked", ("number", "ident", *_LINKS)),
    "answer": plain_act(
        "questions",
        "AnswerQuestion",
        "the question is answered",
        ("number", "ident", "answer"),
        answer="text",
    ),
    "revise": plain_act("parts", "NewRevision", "a new revision is open", ("number", "reason")),
    "mate": mates.mate,
    "mates": mates.mates,
    "bolt": mates.bolt,
    "drop": parts.drop,
    "unmate": plain_act("mates", "DropMate", "the mate is dropped", ("name", "reason")),
    "clearance": plain_act(
        "mates", "RequireClearance", "the clearance is required", ("mate", "name", "required", "critical")
    ),
    "measure": mates.measure,
    "freeze": mates.freeze,
    "verdict": going_out.verdict,
    "next": going_out.first,
    "sign": going_out.sign,
    "permit": going_out.permit,
    "policy": going_out.policy,
    "lock": going_out.lock,
    "packet": going_out.packet,
    "picture": _paper("picture"),
    "sheet": _paper("sheet"),
    "record": _paper("record"),
    "report": _paper("report"),
    "enter": tables.enter,
    "dimensions": tables.dimensions,
    "changes": tables.changes,
    "verify": verify.verify,
    "guard": keeping.guard,
    "grants": keeping.grants_of,
    "export": keeping.export,
    "import": keeping.bring_in,
    "backup": keeping.backup,
    "journal": parts.journal,
    "undo": parts.undo,
}
