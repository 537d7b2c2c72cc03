"""
Two DXF files side by side, section by section, as they are written: what differs besides the shape?

A *section* is what stands between SECTION and ENDSEC (HEADER, TABLES, ENTITIES …). The *header* holds variables such
as $INSUNITS, each a name and its values. Comments (group code 999) count as nothing.
"""

from __future__ import annotations

from ledger.domain.errors import FitupError, visible
from ledger.profile.tokens import Tag, tags, word

_COMMENT, _NAME, _VARIABLE = 999, 2, 9
_FEW = 6


def written_otherwise(old: bytes, new: bytes) -> str:
    """What differs between two files of other bytes, in words; those that do not read differ throughout."""
    if old.replace(b"\r\n", b"\n") == new.replace(b"\r\n", b"\n"):
        return "only its line ends differ"
    try:
        a, b = _sections(old), _sections(new)
    except (FitupError, ValueError):
        return "it is written otherwise throughout"
    odd = [name for name in dict.fromkeys((*a, *b)) if a.get(name) != b.get(name)]
    if not odd:
        return "only spacing or comments differ"
    if odd == ["HEADER"]:
        return f"only its header differs: {_header_words(a.get('HEADER', []), b.get('HEADER', []))}"
    return f"these of its sections are written otherwise: {', '.join(map(visible, odd))}"


def _sections(data: bytes) -> dict[str, list[Tag]]:
    found: dict[str, list[Tag]] = {}
    name, begun = "", False
    for tag in tags(data):
        if tag[0] == _COMMENT:
            continue
        if tag[0] == 0 and word(tag[1]) == "SECTION":
            begun = True
        elif begun and tag[0] == _NAME:
            name, begun = word(tag[1]), False
            found.setdefault(name, [])
        else:
            found.setdefault(name, []).append(tag)
    return found


def _header_words(old: list[Tag], new: list[Tag]) -> str:
    a, b = _variables(old), _variables(new)
    odd = [n for n in dict.fromkeys((*a, *b)) if a.get(n) != b.get(n)]
    said = [f"{visible(n)} {_value(a.get(n))} became {_value(b.get(n))}" for n in odd[:_FEW]]
    return "; ".join(said) + (f"; and {len(odd) - _FEW} more" if len(odd) > _FEW else "")


def _variables(section: list[Tag]) -> dict[str, list[Tag]]:
    found: dict[str, list[Tag]] = {}
    name = ""
    for tag in section:
        if tag[0] == _VARIABLE:
            name = word(tag[1])
            found[name] = []
        elif name:
            found[name].append(tag)
    return found


def _value(of: list[Tag] | None) -> str:
    return "nothing" if of is None else visible(" ".join(word(value) for _code, value in of), most=40)
