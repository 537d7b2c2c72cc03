"""The interface of a part as it is now, for the act that freezes it."""

from __future__ import annotations

from sqlmodel import Session

from ledger.acts.base import make, newest_part
from ledger.acts.connections import FreezeInterface, connection_named
from ledger.domain.digest import interface
from ledger.domain.errors import UnknownName
from ledger.store import facts as read


def freeze_act(facts: Session, connection: str, number: str) -> FreezeInterface:
    """The act that freezes what a part shows to a connection, as it is now. Raises UnknownName."""
    found = read.connection(facts, connection_named(facts, connection))
    ply = next((p for p in found.plies if p.part == number), None)
    if ply is None:
        raise UnknownName(f"ply of {connection}", number, [p.part for p in found.plies])
    shown = interface(read.part(facts, newest_part(facts, number)), ply, found)
    return make(FreezeInterface, connection=connection, part=number, interface=shown)
