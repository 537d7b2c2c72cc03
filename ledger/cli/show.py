"""Words for what the job answers. Every line goes through `say`, so that data never acts on the terminal."""

from __future__ import annotations

import json
import os
import re
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final

from ledger.domain.errors import escaped, visible
from ledger.domain.plural import counted
from ledger.domain.required_odds import percent
from ledger.words.verdicts import finding_lines, in_full, in_short

if TYPE_CHECKING:
    from ledger.domain.finding import Finding
    from ledger.domain.verdict import Verdict
    from ledger.files import Advice, Comparison, Wrong
    from ledger.job import Look

_LONGEST = 100_000
_MOST_OPENINGS = 40


def say(line: str = "") -> None:
    """One line on stdout, every control character shown as an escape; states in color where there are colors."""
    text = visible(line, most=_LONGEST)
    sys.stdout.write((_STATE.sub(_in_color, text) if _has_colors() else text) + "\n")


# Standard: ECMA-48, 8.3.117 (select graphic rendition). A state is a word first; its color is an extra.
_COLORS: Final = {"GO": "1;32", "NO-GO": "1;31", "STOP": "1;31", "warning": "33"}
_STATE: Final = re.compile(r"(?<![\w-])(?:NO-GO|GO|STOP)(?![\w-])|(?<=^  )warning(?= )")


def _in_color(found: re.Match[str]) -> str:
    return f"\x1b[{_COLORS[found[0]]}m{found[0]}\x1b[0m"


def _has_colors() -> bool:
    """Whether stdout is a terminal that shows colors, and NO_COLOR (https://no-color.org) does not ask for none."""
    if os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb" or not sys.stdout.isatty():
        return False
    return os.name != "nt" or bool(os.environ.get("WT_SESSION") or os.environ.get("TERM"))


@contextmanager
def waiting(what: str) -> Iterator[None]:
    """What is being worked on, as a line on stderr that goes away again; only on a terminal."""
    shown = sys.stderr.isatty()
    if shown:
        sys.stdout.flush()
        sys.stderr.write(visible(what, most=_LONGEST))
        sys.stderr.flush()
    try:
        yield
    finally:
        if shown:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()


def show_json(value: Any) -> None:
    """One object on stdout."""
    sys.stdout.write(json_line(value) + "\n")


def json_line(value: Any) -> str:
    """A value as one line of JSON, every character that a terminal could act on spelled as an escape."""
    return escaped(json.dumps(value, ensure_ascii=False, allow_nan=False))


def show_finding(finding: Finding, lead: str = "  ") -> None:
    """A finding in two lines: what is wrong, and what to do."""
    for line in finding_lines(finding, lead):
        say(line)


def show_verdicts(
    verdicts: Iterable[Verdict], *, as_json: bool, full: bool = False, error: dict[str, Any] | None = None
) -> None:
    """Verdicts in words, or as one object of one shape, for one part as for many: that of all, and a list of them."""
    verdicts = tuple(verdicts)
    if as_json:
        go = bool(verdicts) and all(v.go for v in verdicts)
        each = [v.to_json() for v in verdicts]
        show_json({"verdict": "GO" if go else "NO-GO", "verdicts": each, **(error or {})})
        return
    for line in in_full(verdicts) if full else in_short(verdicts):
        say(line)
    if error:
        say("nothing was signed or locked")


def show_look(look: Look) -> None:
    """One file in words."""
    from ledger.files import opening_to_json

    p = look.profile
    size = f"{p.size_mm[0]:.3f} x {p.size_mm[1]:.3f} mm" if p.size_mm else "no size"
    unit = p.unit_used + ("" if p.unit_sure else " (not sure)")
    say(f"{look.file}: {'usable' if p.usable else 'NOT USABLE'}, {size}, unit {unit}")
    things = ((p.outlines, "outline"), (p.openings, "opening"), (p.holes, "hole"))
    counts = ", ".join(counted(len(rings), noun) for rings, noun in things)
    say(f"  {counts}, cut length {p.cut_length_mm:.1f} mm")
    if any(role != "cut" for _, role in look.roles) or len(look.roles) > 1:
        say(f"  layers: {', '.join(f'{layer} {role}' for layer, role in look.roles)}")
    for h in p.holes:
        kind = "slot" if h.is_slot else "hole"
        say(
            f"  {h.label:<5}{kind} {h.diameter_mm:.4g} mm at ({h.centre[0]:.3f}, {h.centre[1]:.3f}), from {h.made_of}"
        )
    for k, ring in enumerate(p.openings[:_MOST_OPENINGS], 1):
        x, y, width, height = opening_to_json(ring).values()
        say(f"  opening {k}, {width:.4g} x {height:.4g} mm at ({x:.3f}, {y:.3f})")
    if len(p.openings) > _MOST_OPENINGS:
        say(f"  and {counted(len(p.openings) - _MOST_OPENINGS, 'more opening')}; --json lists all")
    for finding in p.findings:
        show_finding(finding)


def show_comparison(advice: Advice) -> None:
    """A fit in words."""
    c = advice.of
    f = c.fit
    say(f"{c.a.file} on {c.b.file} with {c.fastener}, {c.joint}: {c.headline}")
    _show_better(advice)
    if f.pose and f.margin_mm is not None:
        turned = f"turned {f.pose.angle_deg:.4f} deg, moved ({f.pose.x_mm:.3f}, {f.pose.y_mm:.3f}) mm"
        say(f"  position of A on B: {'turned over, ' if f.pose.turned_over else ''}{turned}")
        worst = (
            f"{f.worst_case_margin_mm:.3f} mm worst case for {c.process}, {c.thickness_mm:g} mm thick"
            f"{'' if c.thickness_stated else ' (assumed; see --thickness)'}"
            if f.worst_case_margin_mm is not None
            else "no worst case"
        )
        ways = f"{counted(f.ways, 'way')} to assemble; {'proven' if f.proven else 'not proven'}"
        say(f"  margin {f.margin_mm:.3f} mm nominal, {worst}; {ways}")
    _show_ruling(advice)
    _show_holes(advice)
    _show_left(c)
    for note in (*f.notes, *advice.remarks):
        say(f"  note    {note}")
    from ledger.files import not_checked

    say("  not checked:")
    for matter in not_checked():
        say(f"    - {matter}")


def _show_better(advice: Advice) -> None:
    """What the two drawings look like, and where their holes agree better: what is to be read first."""
    c = advice.of
    if c.fault:
        say(f"  fix     {c.fault.fix}")
    with waiting("looking for what would help; Ctrl+C skips this"):
        slips = advice.slips() if c.fault is None else ()
    for text in slips:
        say(f"  hint    {text}")
    if c.fit.rival:
        say(f"  BETTER  {c.fit.rival.told()}")
        say("          enter the position of A (--position), or correct the wrong drawing")


def _show_left(c: Comparison) -> None:
    """Holes left over on both plates with how to say that they are for something else, and those of which it was."""
    for side, labels in (("A", c.fit.left_over[0]), ("B", c.fit.left_over[1])):
        if labels:
            say(f"  LEFT OVER on {side}: {', '.join(labels)}")
    if c.say_so():
        say(f"          {c.say_so()}")
    for side, labels in (("A", c.left_out[0]), ("B", c.left_out[1])):
        if labels:
            say(f"  left out of {side}, as entered: {', '.join(labels)}")


def _show_ruling(advice: Advice) -> None:
    """What the verdict rests on, where the holes go together as drawn but not with every limit at once."""
    r = advice.of.ruling
    if r.odds is not None:
        say(f"  odds    {r.odds.together} of {r.odds.lots} lots, at least {percent(r.odds.low)}")
    elif r.basis == "worst case" and r.verdict != "GO":
        say(f"  decided by the worst case: {r.no_odds or 'every limit at once is required'}")
    if r.loss is not None:
        say(f"  takes   {r.loss.a} on {r.loss.b} takes {r.loss.gain_mm:.3f} mm of the margin")
    larger = advice.larger_holes()
    if larger:
        say(f"  fix     {larger}")


def _show_holes(advice: Advice) -> None:
    """Hole by hole: what passes, what is wrong and how to move it, and what else there is to say."""
    c = advice.of
    f = c.fit
    for p in f.pairs:
        say(
            f"  ok      {p.a} on {p.b}: off by {p.offset_mm:.3f}, allowed {p.allowed_mm:.3f}, "
            f"margin {p.margin_mm:.3f} mm"
        )
    for w in f.wrong:
        if w.kind == "too small":
            say(f"  WRONG   {w.a} on {w.b} (too small): {_too_small(c, w)}")
            continue
        say(f"  WRONG   {w.a} on {w.b} ({w.kind}): off by {w.offset_mm:.3f}, allowed {w.allowed_mm:.3f} mm")
        if w.move_a_mm and w.move_b_mm:
            say(f"          move {w.a} of A by ({w.move_a_mm[0]:+.3f}, {w.move_a_mm[1]:+.3f}) mm")
            say(
                f"          or {w.b} of B by ({w.move_b_mm[0]:+.3f}, {w.move_b_mm[1]:+.3f}) mm, each in its own drawing"
            )
    for text in c.falls_through:
        say(f"  WRONG   {text}")
    for them in f.also_wrong:
        say(f"  or else {' and '.join(f'{w.a} on {w.b}' for w in them)}")
    if f.tightest:
        say(f"  tightest {f.tightest[0]} on {f.tightest[1]}")
    for text in advice.whole()[len(advice.slips()) :]:
        say(f"  hint    {text}")
    wrong_way = advice.warning()
    if wrong_way:
        say(f"  warning it can be assembled wrong: {wrong_way[0]}")
        say(f"          fix: {wrong_way[1]}")


def _too_small(c: Comparison, wrong: Wrong) -> str:
    """The holes of a pair that do not pass the fastener, with their size, and what to drill instead."""
    from ledger.words.connections import drill_words

    of, group = next(
        (f, g)
        for f, g in zip(c.case.fastenings, c.groups, strict=True)
        if wrong.a in {h.label for h in f.a.holes}
    )
    size = of.fastener_mm
    sides = (("A", wrong.a, of.a.holes), ("B", wrong.b, of.b.holes))
    small = [
        f"{h.label} of {side} is {h.diameter_mm:.3f} mm"
        for side, label, holes in sides
        for h in holes
        if h.label == label and h.diameter_mm < size
    ]
    drills = drill_words(group.fastener)
    return f"{', '.join(small)}; {group.fastener} needs at least {size:.3f} mm{f': drill {drills}' if drills else ''}"
