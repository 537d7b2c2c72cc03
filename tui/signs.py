"""
How things look in text: signs with their words, colours by the theme's own names, data as plain text.

A *sign* is a glyph that stands beside a word; without UTF-8 it is an ASCII letter. Whatever comes from records
or files goes through `said`: control characters are shown as escapes, and nothing is ever read as markup.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rich.errors import StyleSyntaxError
from rich.style import Style
from rich.text import Text

from ledger.domain.cause import Following, grouped
from ledger.domain.errors import visible
from ledger.domain.todo import todo_of

if TYPE_CHECKING:
    from textual.app import App

    from ledger.domain.finding import Finding

_LONGEST = 2000
_WORDS = {"warning": "warn", "note": "note"}


@dataclass(frozen=True, slots=True)
class Signs:
    """The glyphs of one terminal."""

    go: str
    no_go: str
    locked: str
    warning: str
    note: str
    chosen: str
    wait: str
    braille: bool


PLAIN = Signs("+", "x", "#", "!", "-", "*", "...", braille=False)
RICH = Signs("✓", "✗", "▣", "!", "·", "●", "…", braille=True)


def signs_for(environ: Mapping[str, str] = os.environ) -> Signs:
    """
    The signs that a terminal can show, by its locale and kind.

    Python itself sets LC_CTYPE to C.UTF-8 under a plain C locale; where LANG says otherwise, LANG is believed.
    """
    ctype, lang = environ.get("LC_CTYPE", ""), environ.get("LANG", "")
    if ctype == "C.UTF-8" and lang:
        ctype = ""
    named = environ.get("LC_ALL") or ctype or lang
    utf8 = not named or "utf" in named.lower()
    return RICH if utf8 and environ.get("TERM") != "linux" else PLAIN


def tone(app: App[object] | App[None], name: str) -> Style:
    """A colour of the theme by its token (success, error, warning, primary); no colour where it has none."""
    try:
        return Style.parse(app.theme_variables.get(name, ""))
    except StyleSyntaxError:
        return Style.null()


def said(text: object, style: str | Style = "", *, most: int = _LONGEST) -> Text:
    """Anything from a record as plain text, safe for the terminal."""
    return Text(visible(str(text), most=most), style=style)


def verdict_words(signs: Signs, *, go: bool) -> str:
    """A verdict as glyph and word."""
    return f"{signs.go} GO" if go else f"{signs.no_go} NO-GO"


def finding_texts(
    app: App[object] | App[None], signs: Signs, findings: Iterable[Finding]
) -> Iterator[tuple[Text, Finding | None]]:
    """Each finding as text; what only follows from one is a line behind it, and no finding."""
    for shown in grouped(findings):
        if isinstance(shown, Following):
            yield said(f"    {shown.text}"), None
        else:
            yield finding_text(app, signs, shown), shown


def finding_lines(
    app: App[object] | App[None], signs: Signs, findings: Iterable[Finding], *, first_fix: bool = False
) -> Iterator[tuple[Text, Finding | None]]:
    """Each finding as one line, what only follows from one as a line behind it; at the first one also its fix."""
    for shown in grouped(findings):
        if isinstance(shown, Following):
            yield said(f"    {shown.text}"), None
            continue
        text = finding_line(app, signs, shown)
        if first_fix and shown.first_fix and shown.severity != "note":
            text.append("\n").append_text(said(shown.first_fix, "italic"))
        first_fix = False
        yield text, shown


def finding_line(app: App[object] | App[None], signs: Signs, finding: Finding) -> Text:
    """One line: a sign, what it asks for (fix, wait, sign, or that it is a warning or a note), and the headline."""
    sign, colour = {
        "stop": (signs.no_go, "error"),
        "warning": (signs.warning, "warning"),
        "note": (signs.note, "primary"),
    }[finding.severity]
    word = todo_of(finding) if finding.severity == "stop" else _WORDS[finding.severity]
    text = Text().append(f"{sign} {word:<5} ", style=tone(app, colour) + Style(bold=True))
    return text.append_text(said(finding.headline, "bold" if finding.severity == "stop" else ""))


def known_of(finding: Finding) -> Text:
    """What is known of a finding beside its headline: the message, every fix, the sum, code and place."""
    lines = [finding.message] if finding.message != finding.headline else []
    if finding.fix:
        lines += [f"fix: {finding.first_fix}", *(f" or: {way}" for way in finding.other_fixes)]
    lines += [*finding.sum, f"[{finding.code}]{f' at {finding.where}' if finding.where else ''}"]
    return Text("\n").join(said(line) for line in lines)


def finding_text(app: App[object] | App[None], signs: Signs, finding: Finding, *, full: bool = False) -> Text:
    """A finding as its headline, with the first fix below it; in `full` its whole text with every fix."""
    sign, word, colour = {
        "stop": (signs.no_go, "STOP", "error"),
        "warning": (signs.warning, "warning", "warning"),
        "note": (signs.note, "note", "primary"),
    }[finding.severity]
    text = Text().append(f"{sign} {word} ", style=tone(app, colour) + Style(bold=True))
    if full:
        where = f" [{finding.where}]" if finding.where else ""
        text.append_text(said(finding.code, "bold")).append_text(said(f"{where}: {finding.message}"))
    else:
        text.append_text(said(finding.headline, "bold" if finding.severity == "stop" else ""))
        text.append_text(said(f"  [{finding.code}]"))
    fix = finding.fix if full else finding.first_fix
    if fix and (full or finding.severity != "note"):
        text.append("\n    fix: ").append_text(said(fix))
    return text
