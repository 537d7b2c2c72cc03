"""
What the rules about connections look at: a connection alone, or with one kind of surroundings; and a part in its rings.

A rule is given one argument, a plain value, and sees nothing else; so what it says is known by its argument. Each kind
of surroundings is a type of its own, so that a rule is not run again for what it does not look at.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ledger.cases.build import Build
from ledger.cases.connections import ConnectionCase
from ledger.cases.parts import PartCase, SurroundedPart
from ledger.domain.record import Dimension, Standing


@dataclass(frozen=True, slots=True)
class SurroundedConnection:
    """A connection with what lies around it: the other connections of its parts, by name."""

    case: ConnectionCase
    around: tuple[ConnectionCase, ...] = ()


@dataclass(frozen=True, slots=True)
class JoinedConnection:
    """
    A connection with the bolted ones that are one question with it, by name: the same parts, or the same holes.
    """

    case: ConnectionCase
    joined: tuple[ConnectionCase, ...] = ()


@dataclass(frozen=True, slots=True)
class AssembledPart:
    """A part with the rings that it is in: of each the bolted connections that are fitted at once, by name."""

    number: str
    rings: tuple[tuple[ConnectionCase, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class BuiltPart:
    """A part with everything that hangs together with it by bolts."""

    number: str
    build: Build


@dataclass(frozen=True, slots=True)
class CountedConnection:
    """
    A connection as the verdict of the part `viewed_from` sees it, with the other connections of its parts.

    Of each ply, why its revision counts (`standings`), and the dimensions that are measured on its drawing.
    """

    case: ConnectionCase
    standings: tuple[Standing, ...]
    viewed_from: str = ""
    dimensions: tuple[tuple[Dimension, ...], ...] = ()
    around: tuple[ConnectionCase, ...] = ()


OF_PARTS: Final = (PartCase, SurroundedPart, AssembledPart, BuiltPart)
OF_CONNECTIONS: Final = (ConnectionCase, SurroundedConnection, JoinedConnection, CountedConnection)
OfPart = PartCase | SurroundedPart | AssembledPart | BuiltPart
OfConnection = ConnectionCase | SurroundedConnection | JoinedConnection | CountedConnection
