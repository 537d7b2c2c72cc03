"""
Words and tables as HTML that does nothing: no script, no address, no word that is taken for markup.

*Said* is a word from the record: control characters are shown, the rest is escaped. Everything else that these
functions are given is markup already.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from ledger.domain.errors import visible

_MOST = 10_000
# The policy keeps a browser from fetching or running anything, should a word ever slip through.
_HEAD = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1">
"""
_STYLE = """<style>
:root { color-scheme: light dark; --ink: #1d2327; --ground: #ffffff; --line: #9aa3ab; --head: #eef1f4;
  --go: #00613f; --stop: #a3260f; --link: #0a4f8f; }
@media (prefers-color-scheme: dark) { :root { --ink: #e6e9ec; --ground: #15191d; --line: #5b6670; --head: #232a31;
  --go: #62d6a5; --stop: #ff9b85; --link: #8cc4ff; } }
body { font: 15px/1.45 system-ui, sans-serif; color: var(--ink); background: var(--ground); max-width: 72rem;
  margin: 1.5rem auto; padding: 0 1rem; overflow-wrap: anywhere; }
table { border-collapse: collapse; margin: 0.4rem 0 1rem; width: 100%; }
th, td { border: 1px solid var(--line); padding: 0.2rem 0.5rem; text-align: left; vertical-align: top; }
th { background: var(--head); font-weight: 600; }
tr > th[scope=row] { width: 12rem; }
section { border-top: 2px solid var(--line); margin-top: 1.5rem; }
h4 { margin: 0.8rem 0 0.2rem; }
figure { margin: 0.5rem 0; }
figure svg { display: block; width: 100%; max-height: 26rem; border: 1px solid var(--line); }
a { color: var(--link); }
.go { color: var(--go); } .stop { color: var(--stop); }
@media print {
  :root { color-scheme: light; --ink: #000; --ground: #fff; --line: #777; --head: #eee; --go: #000; --stop: #000;
    --link: #000; }
  body { font-size: 9.5pt; max-width: none; margin: 0; padding: 0; }
  section { break-before: page; } tr, figure, h3, h4 { break-inside: avoid; } h3, h4 { break-after: avoid; }
  thead { display: table-header-group; }
}
</style>
"""


def said(words: str) -> str:
    """Words from the record: nothing in them is markup, and nothing is hidden."""
    return escape(visible(words, most=_MOST), quote=True)


def element(tag: str, inner: str) -> str:
    """One element around markup."""
    return f"<{tag}>{inner}</{tag}>\n"


def listing(items: Sequence[str]) -> str:
    """A list, or the word none."""
    return element("ul", "".join(element("li", item) for item in items)) if items else element("p", "none")


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table under its heads; without heads the first cell of each row is one. Without rows the word none."""
    lines = [_row(row, lead=not heads) for row in rows]
    if not lines:
        return element("p", "none")
    top = f"<thead><tr>{_heads(heads)}</tr></thead>" if heads else ""
    return f"<table>{top}<tbody>\n{''.join(lines)}</tbody></table>\n"


def document(title: str, body: Iterable[str]) -> bytes:
    """A whole page; `title` is words, `body` markup."""
    whole = [_HEAD, element("title", said(title)), _STYLE, "</head>\n<body>\n", *body, "</body>\n</html>\n"]
    return "".join(whole).encode("utf-8")


def _row(cells: Sequence[str], *, lead: bool) -> str:
    first = [f'<th scope="row">{cells[0]}</th>'] if lead else []
    return f"<tr>{''.join([*first, *(f'<td>{cell}</td>' for cell in cells[len(first) :])])}</tr>\n"


def _heads(heads: Sequence[str]) -> str:
    return "".join(f'<th scope="col">{head}</th>' for head in heads)
