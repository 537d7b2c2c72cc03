"""
A TOML text as plain values, and where in it each stands.

A statement of TOML is a header or `key = value`, and begins on a line of its own; what is inside a value stands where
its statement does. Standard: TOML 1.0.0.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

import tomlkit
from tomlkit.exceptions import ParseError, TOMLKitError

from ledger.domain.errors import BadInput, visible

MOST_BYTES: Final = 5_000_000
Path = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Text:
    """What a text says, and the line and column, from 1, at which each of its keys stands."""

    values: Mapping[str, Any]
    places: Mapping[Path, tuple[int, int]]

    def at(self, path: Path) -> str:
        """`line 12, column 3`: where a key stands, or what it stands in."""
        while path and path not in self.places:
            path = path[:-1]
        line, column = self.places.get(path, (1, 1))
        return f"line {line}, column {column}"


def read_text(data: bytes) -> Text:
    """The values of a TOML text in UTF-8, with or without a mark in front. Raises BadInput with line and column."""
    if len(data) > MOST_BYTES:
        raise BadInput(f"the file has {len(data)} bytes; expected the text of a job, {MOST_BYTES} at most")
    try:
        text = data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as fault:
        line = data[: fault.start].count(b"\n") + 1
        raise BadInput(f"line {line}: this is no UTF-8; save the file as UTF-8") from fault
    places: dict[Path, tuple[int, int]] = {}
    for path, line, column in _keys(text):
        if path in places:
            was = places[path][0]
            raise BadInput(
                f"line {line}, column {column}: {visible('.'.join(path))} stands in line {was} already; keep one"
            )
        places[path] = (line, column)
    try:
        return Text(tomlkit.parse(text).unwrap(), places)
    except ParseError as fault:
        raise BadInput(f"line {fault.line}, column {fault.col}: this is no TOML ({_said(fault)})") from fault
    except (TOMLKitError, ValueError, RecursionError) as fault:
        raise BadInput(f"this is no TOML ({_said(fault)})") from fault


def _said(fault: Exception) -> str:
    return visible(str(fault).split(" at line ")[0][:120]) or "it cannot be read"


def _keys(text: str) -> Iterator[tuple[Path, int, int]]:
    """Every key of a text with its line and column; a text that does not read ends it."""
    header: Path = ()
    lines = text.split("\n")
    number = 0
    while number < len(lines):
        start, line = number, lines[number]
        number += 1
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        found = _parsed(line)
        while found is None and number < len(lines) and number - start < _MOST_LINES:
            line += "\n" + lines[number]
            number += 1
            found = _parsed(line)
        if found is None:
            return
        head = line.lstrip()
        column = len(line) - len(head) + 1
        path = _path(head.lstrip("["))
        if head.startswith("["):
            header = path
            yield path, start + 1, column
        else:
            yield header + path, start + 1, column


_MOST_LINES: Final = 500  # of one statement
_PIECE: Final = re.compile(r"""\s*(?:([A-Za-z0-9_-]+)|("(?:[^"\\]|\\.)*")|('[^']*'))\s*""")


def _parsed(line: str) -> dict[str, Any] | None:
    try:
        return tomlkit.parse(line + "\n").unwrap()
    except (TOMLKitError, ValueError, RecursionError):
        return None


def _path(text: str) -> Path:
    """The key that a text begins with, piece by piece."""
    found: list[str] = []
    while piece := _PIECE.match(text):
        bare, basic, literal = piece.groups()
        found.append(bare or (tomlkit.parse(f"k = {basic}")["k"].unwrap() if basic else literal[1:-1]))
        text = text[piece.end() :]
        if not text.startswith("."):
            break
        text = text[1:]
    return tuple(found)
