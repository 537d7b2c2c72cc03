"""
Digests of what checks are given: equal where the argument is, different where anything of it differs.

An argument is a plain value, so its digest is made of everything in it, by its type; nothing is named by hand that
could be forgotten. The program build is part of it, because another build may rule otherwise.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, fields
from typing import Any

from ledger.cases.build import Build
from ledger.cases.connections import ConnectionCase, PlacedPly
from ledger.cases.parts import PartCase
from ledger.cases.surroundings import OF_CONNECTIONS, OF_PARTS
from ledger.domain.record import Part
from ledger.judge.build import build

_LAID_OUT = (*OF_PARTS, *OF_CONNECTIONS, PlacedPly)
_OFTEN = (Part, PartCase, ConnectionCase, Build)  # part of many arguments


@dataclass
class Digests:
    """Digests of arguments in one reading. Of parts and cases that stand in many of them each is worked out once."""

    _known: dict[int, tuple[Any, str]] = field(
        default_factory=dict, repr=False
    )  # the value is held with its id

    def of(self, argument: Any) -> str:
        """The digest of what a check is given, or of a part of it."""
        if not isinstance(argument, _OFTEN):
            return _digest(self._pieces(argument))
        if id(argument) not in self._known:
            self._known[id(argument)] = argument, _digest(self._pieces(argument))
        return self._known[id(argument)][1]

    def _pieces(self, value: Any) -> Iterator[str]:
        yield type(value).__name__
        if isinstance(value, Part):
            yield from (f"{name} {said}" for name, said in part_pieces(value))
        else:
            for of in fields(value):
                yield of.name
                yield from self._said(getattr(value, of.name))

    def _said(self, value: Any) -> Iterator[str]:
        if isinstance(value, _OFTEN):
            yield self.of(value)
        elif isinstance(value, _LAID_OUT):
            yield from self._pieces(value)
        elif isinstance(value, tuple):
            yield f"{len(value)} of them"
            for one in value:
                yield from self._said(one)
        else:
            yield repr(value)


def part_pieces(part: Part) -> Iterator[tuple[str, str]]:
    """Everything of a part by the names of its fields, as text that differs where they do; a drawing by its bytes."""
    for of in fields(part):
        if of.name != "taken":
            yield of.name, repr(getattr(part, of.name))
    taken = part.taken
    drawn = taken and (taken.kept_file or repr(taken.profile))
    rest = taken and [drawn, *(getattr(taken, f.name) for f in fields(taken) if f.name != "profile")]
    yield "taken", repr(rest)


def _digest(pieces: Iterable[str]) -> str:
    return hashlib.sha256("\0".join((build(), *pieces)).encode()).hexdigest()[:32]
