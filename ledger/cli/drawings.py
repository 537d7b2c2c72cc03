"""The commands that take drawings: one of a part, or a folder of them."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ledger.cli.context import answer, as_json, as_kept, by, open_job, pairs, read_file
from ledger.cli.lines import UsageError, alone
from ledger.cli.part_words import OF_ALL
from ledger.cli.show import say, show_json, show_look
from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.fields import PART_FIELDS
from ledger.domain.plural import counted
from ledger.words.answers import answers_lines

if TYPE_CHECKING:
    from ledger.job import Numbered, TakenFolder, TakenPart

_LAYER = "--layer NAME=ROLE"
_MOST_LEFT = 8  # so many pairs that were not recorded are named
_ONE = (2, 3)  # words of the command that takes one part's drawing: part, file, and layers in one line


def take(args: argparse.Namespace) -> int:
    words = args.paths
    if len(words) in _ONE and not words[0].lower().endswith(".dxf") and not set(words[0]) & {"/", "\\"}:
        return _one(args, *words)
    return _several(args)


def _one(args: argparse.Namespace, number: str, file: str, line: str = "") -> int:
    """The drawing of one part."""
    given = [n for n in ("pattern", *OF_ALL) if getattr(args, n) is not None]
    if given or args.changed or args.strict:
        name = (
            (given or ["changed" if args.changed else "strict"])[0]
            .replace("pattern", "names")
            .replace("_", "-")
        )
        raise UsageError(
            f"--{name} is for a folder or several files; {visible(number)} and {visible(file)} read as a part and its "
            f"drawing: write a folder with a slash, {visible(number)}/"
        )
    roles, vendor = pairs(args.layer, _LAYER), args.vendor
    if line:
        from ledger.words.layers import layers_line

        alone("take", line, layer=args.layer, vendor=args.vendor)
        said = layers_line(line).fields
        roles, vendor = said["roles"], said["vendor"]
    named = argparse.Namespace(number=number)
    as_kept(named)
    with open_job(args) as job:
        try:
            seen = job.take_profile(
                named.number,
                file,
                read_file(file),
                unit=args.unit,
                roles=roles,
                vendor=vendor,
                by=by(args),
            )
        except UnknownName as fault:
            if not Path(number).is_dir():
                raise
            raise BadInput(
                f"{fault}; for the folder write a slash behind it: fitup take {visible(number)}/ …"
            ) from fault
        found = job.answers(part=named.number)
    if as_json(args):
        show_json({**seen.to_json(), **({"answers": [a.to_json() for a in found]} if found else {})})
    else:
        say(f"taken for {named.number}: these exact bytes, {seen.sha256[:12]}")
        show_look(seen)
        for text in answers_lines(found):
            say(text)
    return 0 if seen.profile.usable else 1


def _several(args: argparse.Namespace) -> int:
    """Every drawing of folders and files."""
    from ledger.domain.taking import Asked, Reading

    fields: dict[str, Any] = {n: v for n in OF_ALL if (v := getattr(args, n)) is not None}
    for name in (f.name for f in PART_FIELDS if f.number and f.name in fields):
        if not fields[name].isascii() or not fields[name].isdigit():
            raise BadInput(f"read {visible(fields[name])!r} as {name}; expected a whole number")
        fields[name] = int(fields[name])
    reading = Reading(args.unit, pairs(args.layer, _LAYER), args.vendor)
    asked = Asked(args.pattern, fields, reading, args.changed, args.strict)
    with open_job(args) as job:
        taken = job.take_drawings(args.paths, asked, by=by(args))
    if as_json(args):
        show_json(asdict(taken))
    else:
        _show(taken)
    return 0 if taken.whole else 1


def _show(taken: TakenFolder) -> None:
    wide = max((len(p.number) for p in taken.parts), default=0)
    for p in taken.parts:
        say(_line(p, wide))
        if p.undecided:
            say(f"    {p.undecided.replace('(--', f'(fitup mend --part {p.number} --', 1)}")
    for known in taken.skipped:
        say(f"skipped {known.file}: already the drawing of {known.number}")
    for one in taken.refused:
        say(f"refused {one.file}: {one.why}")
    if not (taken.parts or taken.skipped or taken.refused):
        say("no DXF file there: nothing was taken")
        return
    beside = [counted(taken.others, "other file")] * bool(taken.others)
    beside += [counted(taken.folders, "folder")] * bool(taken.folders)
    left = f"; not looked at: {', '.join(beside)}" if beside else ""
    new = sum(not p.known for p in taken.parts)
    say(
        f"{counted(len(taken.parts), 'drawing')} taken ({counted(new, 'new part')}), {len(taken.skipped)} skipped, "
        f"{len(taken.refused)} refused{left}"
    )


def _line(p: TakenPart, wide: int) -> str:
    of = " ".join(filter(None, (p.material, p.thickness, f"x{p.quantity}" if p.quantity else "")))
    how = {
        "taken": "taken",
        "mended": f"mended ({', '.join(p.fixed)})",
        "undecided": "taken as drawn, not usable yet",
    }
    new = "" if p.known else "new, "
    about = f"{new}{how[p.how]}; {of or 'nothing else known'}; {counted(p.holes, 'hole')}"
    return f"{p.number:<{wide}}  {p.revision}  {about}; {p.file}"


def suggest(args: argparse.Namespace) -> int:
    """Connections that the drawings speak of; with --record those that are marked are recorded."""
    with open_job(args) as job:
        if args.record:
            names = job.record_suggested(args.record, by=by(args))
            left = [n for n in job.suggest() if not (n.connection or n.proposal.versions)]
            more = [n.to_json() for n in left]
            return answer(
                args, "\n".join([_recorded(names), *_left(left)]), connections=list(names), not_recorded=more
            )
        found = job.suggest()
    if as_json(args):
        show_json({"proposals": [n.to_json() for n in found]})
        return 0
    for one in found:
        if args.all or one.proposal.proposed:
            _show_proposal(one)
    say(_counts(found, whole=args.all))
    return 0


def _counts(found: Sequence[Numbered], *, whole: bool) -> str:
    """How many there are, and how many are not shown."""
    if not found:
        return "no hole patterns of two parts agree beyond chance"
    proposed, versions = (sum(getattr(n.proposal, name) for n in found) for name in ("proposed", "versions"))
    possible = len(found) - proposed - versions
    looks = counted(versions, "pair that looks", "pairs that look")
    more = [f"{possible} possible"] * bool(possible)
    more += [f"{looks} like one part in two versions"] * bool(versions)
    left = f"; not shown: {', '.join(more)} (--all)" if more and not whole else ""
    return f"{counted(proposed, 'proposal')}{left}"


def _left(some: Sequence[Numbered]) -> Iterator[str]:
    """What is not recorded although holes meet: of a pattern with a hole that is off this is all there is to see."""
    if some:
        yield f"{counted(len(some), 'pair is', 'pairs are')} not recorded; if one is meant to be bolted, look at it:"
    for one in some[:_MOST_LEFT]:
        yield f"{one.number:>3}. {one.headline}"
    if some:
        yield "fitup suggest --all says which holes meet and which are left out"


def _recorded(names: Sequence[str]) -> str:
    if not names:
        return "nothing to record: every proposal is recorded, or leaves a choice (such as 2b)"
    return f"{counted(len(names), 'connection is', 'connections are')} recorded: {', '.join(names)}"


def _show_proposal(one: Numbered) -> None:
    known = f"  recorded as {one.connection}" if one.connection else ""
    say(f"{one.number:>3}. {one.headline}{known}")
    for line in one.reasons:
        say(f"     {line}")
    ways = len(one.proposal.choices) + one.proposal.more_choices
    if one.proposal.more_choices:
        say(f"     {ways} ways; name the holes with fitup group")
    elif ways > 1:
        say(f"     {ways} ways; which is meant? --record {one.number}a, {one.number}b …")
    for line in one.choices:
        say(f"     {line}")
