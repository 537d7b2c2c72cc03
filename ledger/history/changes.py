"""
What differs between two states of a part and of everything that its signatures stand for.

A *state* is the part with its connections, the interfaces that each connection reads, the policy, and its twin of the
other hand: what a subject is made of. States are compared, not entries listed, so a thing changed and changed back is
no change.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ledger.domain.connection import Clearance, Connection, Ply
from ledger.domain.record import Part
from ledger.domain.required_odds import odds_words
from ledger.domain.verdict import Policy
from ledger.history.changes_of_part import Change, changed_fields, differing, interface_changes, part_changes

__all__ = ["Change", "PlyState", "State", "changes"]

_SHORT = 12


@dataclass(frozen=True, slots=True)
class PlyState:
    """A ply of a connection, the revision that counted in it, and the interface it showed."""

    ply: Ply
    part: Part
    interface: str


@dataclass(frozen=True, slots=True)
class State:
    """A part at one time, with all that a signature for it stands for."""

    part: Part
    policy: Policy
    connections: tuple[tuple[Connection, tuple[PlyState, ...]], ...] = ()
    twin: Part | None = None


def changes(before: State, after: State) -> tuple[Change, ...]:
    """Everything that differs, the part first, then its connections, then what the job asks for."""
    return (
        *part_changes(before.part, after.part),
        *_connections(before, after),
        *_twin(before.twin, after.twin),
        *_policy(before.policy, after.policy),
    )


def _connections(before: State, after: State) -> Iterator[Change]:
    old, new = ({m.name: (m, plies) for m, plies in s.connections} for s in (before, after))
    for name in dict.fromkeys((*old, *new)):
        if name not in old or name not in new:
            yield from differing(
                "connection", *({name: _connection_line(s[name][0])} if name in s else {} for s in (old, new))
            )
            continue
        yield from _one_connection(old[name][0], new[name][0])
        yield from _faces(name, before.part.number, old[name][1], new[name][1])


def _one_connection(old: Connection, new: Connection) -> Iterator[Change]:
    own = ({f"connection {n}": v for n, v in _connection_fields(m).items()} for m in (old, new))
    yield from changed_fields(*own, name=old.name)
    before, after = ({c.name: c for c in m.clearances} for m in (old, new))
    for name in dict.fromkeys((*before, *after)):
        yield from changed_fields(
            _clearance(before.get(name)), _clearance(after.get(name)), name=f"{old.name}/{name}"
        )
    frozen = ({part: interface[:_SHORT] for part, interface in m.frozen_interfaces} for m in (old, new))
    yield from differing("frozen interface", *frozen, of=old.name)


def _faces(
    connection: str, own: str, old: tuple[PlyState, ...], new: tuple[PlyState, ...]
) -> Iterator[Change]:
    """What the other plies show now; a new letter or a note of theirs is no change here."""
    before = {p.ply.part: p for p in old}
    for now in new:
        then = before.get(now.ply.part)
        if then is None or now.ply.part == own or then.interface == now.interface:
            continue
        where = f"{connection}/{now.ply.part}"
        told = [
            Change(f"partner's {c.what}", f"{where} {c.name}".strip(), c.before, c.after)
            for c in interface_changes(then.part, now.part)
        ]
        yield from told or [
            Change("partner's interface", where, then.interface[:_SHORT], now.interface[:_SHORT])
        ]


def _twin(old: Part | None, new: Part | None) -> Iterator[Change]:
    """Of the other hand only the drawn geometry counts."""
    drawn = [t.taken.geometry if t and t.taken else "" for t in (old, new)]
    if drawn[0] != drawn[1]:
        number = (new or old).number if new or old else ""  # type: ignore[union-attr]  # one of them is there
        yield Change("drawing of the other hand", number, drawn[0][:_SHORT], drawn[1][:_SHORT])


def _policy(old: Policy, new: Policy) -> Iterator[Change]:
    told = (
        {
            "roles that sign": ", ".join(p.roles),
            "warnings that stop": ", ".join(p.raised),
            "odds required of holes": odds_words(p.odds),
        }
        for p in (old, new)
    )
    yield from changed_fields(*told)


def _connection_line(connection: Connection) -> str:
    fields = _connection_fields(connection)
    return ", ".join(
        f"{name} {value}" if name != "kind" else str(value) for name, value in fields.items() if value
    )


def _connection_fields(connection: Connection) -> dict[str, object]:
    return {
        "kind": connection.kind,
        "joint": connection.joint,
        "fastener": connection.fastener,
        "plies": " on ".join(_ply(p) for p in connection.plies),
        "turned_over": connection.turned_over if connection.turned_over != "no" else "",
        "position": connection.position_written,
        "also": ", ".join(f"{a.fastener} {a.joint} {' on '.join(a.groups)}" for a in connection.also),
        "gap": connection.gap,
        "weld side": connection.weld_side,
        "weld class": connection.weld_class,
        "holes across the weld": connection.holes_made,
        "bolt length": connection.bolt_length,
        "washers": None if connection.washers is None else str(connection.washers),
    }


def _ply(ply: Ply) -> str:
    group = f":{ply.group}" if ply.group else ""
    return ply.part + group + (f" ({ply.face_up} up)" if ply.face_up != "top" else "")


def _clearance(clearance: Clearance | None) -> dict[str, object]:
    if clearance is None:
        return {}
    reading = clearance.reading
    return {
        "clearance required": clearance.required.written + (", critical" if clearance.critical else ""),
        "clearance measured": f"{reading.words}, {reading.by} {reading.when}" if reading else "",
    }
