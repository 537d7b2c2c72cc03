"""
Verdicts in words: short first, everything on request.

Short is one line a part, each stop once with its first fix, warnings counted, and what is not checked in two lines. A
stop of a connection is one stop, whichever of its parts it was found at.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from typing import Final

from ledger.domain.cause import Following, grouped
from ledger.domain.finding import Finding, Why
from ledger.domain.plural import counted
from ledger.domain.todo import TODOS, todo_of, todos
from ledger.domain.verdict import Verdict

_LONGEST_NAME: Final = 20
_HEADINGS: Final = {"fix": "to fix", "wait": "to wait for", "sign": "to sign"}
_NEVER: Final = (
    "not checked: strength and safety (a licensed engineer and local codes decide),",
    "  tilt of bolts, flatness, springback, weld distortion, what the vendor's import makes of the file",
)


def shown(name: str) -> str:
    """A name in a column: cut where it is longer than that."""
    return name if len(name) <= _LONGEST_NAME else f"{name[: _LONGEST_NAME - 1]}…"


def in_short(verdicts: Sequence[Verdict]) -> Iterator[str]:
    """Lines of text: one a part, then each stop once, then what else there is, counted."""
    yield from _table(verdicts)
    for todo in ("fix", "wait"):
        yield from _stops(verdicts, todo)
    yield from _signatures(verdicts)
    warned = Counter(w.code for w in _once(verdicts, "warnings"))
    notes = len(_once(verdicts, "notes"))
    if warned or notes:
        each = ", ".join(f"{code} {count}" if count > 1 else code for code, count in sorted(warned.items()))
        parts = [f"{counted(sum(warned.values()), 'warning')} ({each})"] if warned else []
        yield "; ".join([*parts, counted(notes, "note")] if notes else parts)
    allowed = len(_once(verdicts, "permitted"))
    if allowed:
        yield f"permitted: {counted(allowed, 'finding')}"
    yield from _NEVER
    more = {m for v in verdicts for m in v.not_checked}
    yield f"  and {counted(len(more), 'matter')} of these parts"
    yield "everything: fitup verdict PART --all; one finding: fitup why PART CODE"


def in_full(verdicts: Sequence[Verdict]) -> Iterator[str]:
    """Lines of text: everything that was found, part by part, with every fix and all that was not checked."""
    for v in verdicts:
        yield f"{v.part} revision {v.revision}: {'GO' if v.go else 'NO-GO'}   fingerprint {v.subject[:12]}"
        for finding in grouped((*v.stops, *v.warnings, *v.notes)):
            if isinstance(finding, Following):
                yield f"          {finding.text}"
            else:
                yield from finding_lines(finding)
        for finding in v.permitted:
            yield f"  permitted {finding.code} [{finding.where}]: {finding.message}"
        for s in v.signed:
            yield f"  signed  {s.role} by {s.person}{' (self-check)' if s.self_check else ''}"
        yield "  not checked:"
        for matter in v.not_checked:
            yield f"    - {matter}"


def finding_lines(finding: Finding, lead: str = "  ") -> Iterator[str]:
    """A finding in two lines: what is wrong, and how to fix it."""
    word = {"stop": "STOP", "warning": "warning", "note": "note"}[finding.severity]
    where = f" [{finding.where}]" if finding.where else ""
    yield f"{lead}{word:<8}{finding.code}{where}: {finding.message}"
    if finding.fix:
        yield f"{lead}{'':<8}fix: {finding.fix}"


def short_lines(finding: Finding, lead: str = "  ") -> Iterator[str]:
    """A finding in two lines: its headline with the code and where it is, and its first fix."""
    where = f" at {finding.where}" if finding.where else ""
    yield f"{lead}{finding.headline}  [{finding.code}{where}]"
    if finding.fix:
        yield f"{lead}  {finding.first_fix}"


def why_lines(why: Why) -> Iterator[str]:
    """Everything known of the findings of one code at a part."""
    for finding in why.findings:
        yield f"{why.part}: {finding.headline}"
        yield f"  {finding.severity} {finding.code}{f' at {finding.where}' if finding.where else ''}"
        if finding.message != finding.headline:
            yield f"  {finding.message}"
        yield from (f"  {line}" for line in finding.sum)
        if finding.fix:
            yield f"  fix: {finding.first_fix}"
        yield from (f"   or: {other}" for other in finding.other_fixes)
        if finding.follows:
            yield f"  follows from {finding.follows}"
    if why.source:
        yield f"  source: {why.source}"


def _table(verdicts: Sequence[Verdict]) -> Iterator[str]:
    widest = max([4, *(len(shown(v.part)) for v in verdicts)])
    yield f"{'part':<{widest}}  rev  verdict  fix wait sign  why"
    for v in verdicts:
        count = todos(v.stops)
        numbers = " ".join(f"{count[t] or '-':>{len(t)}}" for t in TODOS)
        worst = next(iter(v.stops or v.warnings), None)
        why = worst.headline if worst else ""
        yield f"{shown(v.part):<{widest}}  {v.revision:<4} {'GO' if v.go else 'NO-GO':<8} {numbers}  {why}".rstrip()


def _once(verdicts: Sequence[Verdict], what: str) -> list[Finding]:
    """The findings of these verdicts, one of a connection once."""
    known = {
        (f.code, f.where if "/" in f.where else f"{v.part}:{f.where}"): f
        for v in verdicts
        for f in getattr(v, what)
        if not f.follows
    }
    return list(known.values())


def _stops(verdicts: Sequence[Verdict], todo: str) -> Iterator[str]:
    at: defaultdict[tuple[str, str], list[str]] = defaultdict(list)
    of: dict[tuple[str, str], Finding] = {}
    for v in verdicts:
        for stop in v.stops:
            if todo_of(stop) == todo and not stop.follows and stop.code != "partner_open":
                key = (stop.code, stop.where if "/" in stop.where else f"{v.part}:{stop.where}")
                at[key].append(v.part)
                of.setdefault(key, stop)
    partners = list(_partners(verdicts)) if todo == "wait" else []
    if of or partners:
        yield ""
        yield _HEADINGS[todo]
    for key, stop in of.items():
        yield f"  {', '.join(shown(p) for p in at[key])}: {stop.headline}  [{stop.code}]"
        if stop.fix and todo == "fix":
            yield f"    {stop.first_fix}"
    if partners:
        yield f"  parts that are still open: {'; '.join(partners)}  [partner_open]"
    follow = sum(1 for v in verdicts for s in v.stops if s.follows)
    if follow and todo == "fix":
        yield f"  {counted(follow, 'stop that only follows', 'stops that only follow')} from these"


def _partners(verdicts: Sequence[Verdict]) -> Iterator[str]:
    """Which part waits for which open ones, a part each."""
    for v in verdicts:
        behind = dict.fromkeys(
            shown(s.where.rpartition("/")[2]) for s in v.stops if s.code == "partner_open" and not s.follows
        )
        if behind:
            yield f"{shown(v.part)} waits for {', '.join(behind)}"


def _signatures(verdicts: Sequence[Verdict]) -> Iterator[str]:
    missing: defaultdict[str, list[str]] = defaultdict(list)
    for v in verdicts:
        for stop in v.stops:
            if todo_of(stop) == "sign":
                missing[stop.where if stop.code == "role_missing" else "again"].append(v.part)
    yield ""
    again = missing.pop("again", [])
    alike: defaultdict[tuple[str, ...], list[str]] = defaultdict(list)
    for role, parts in missing.items():
        alike[tuple(dict.fromkeys(parts))].append(role)
    for numbers, roles in alike.items():
        yield f"{_HEADINGS['sign']} as {' and '.join(roles)}: {', '.join(numbers)}"
    if again:
        yield f"to sign again, with the warnings: {', '.join(dict.fromkeys(again))}"
