"""
Hardware of every connection, counted: what each joint takes, how often the connection occurs, spares, what is on hand.

A connection occurs as often as the part of it that there are most of; where the same holes of a part take several
connections, its pieces are shared among these. Counted are the holes of the groups that the connection
names, else those that the fit pairs. Nothing is guessed: what cannot be counted is told with what is missing.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final

from ledger.cases.connections import ConnectionCase
from ledger.checks._seats import bolted_holes, usual_washers, washers
from ledger.checks.bolt_length import bolt_needed
from ledger.domain.connection import Also, Connection
from ledger.domain.errors import BadInput, visible
from ledger.domain.needed import (
    BOLT,
    CAPTIVE_NUT,
    COUNTERSUNK,
    ITEMS,
    NUT,
    PIN,
    STUD,
    WASHER,
    WITH_LENGTH,
    BoughtPart,
    HardwareList,
    Needed,
    NotCounted,
    Use,
)
from ledger.domain.quantity import plain, show_mm
from ledger.domain.record import Part
from ledger.judge.verdicts import Judging
from ledger.standards.fasteners import Fastener, fastener
from ledger.standards.hardware import washer_size
from ledger.standards.lengths import next_length
from ledger.store import facts as read
from ledger.store.hardware import on_hand
from ledger.store.tables import ConnectionFact

MOST_SPARES: Final = 1000
Key = tuple[str, str, str]  # item, size, length in mm
_TAKES: Final[Mapping[str, tuple[str, ...]]] = {  # beside washers
    "through": (BOLT, NUT),
    "drilled on site": (BOLT, NUT),
    "tapped": (BOLT,),
    "stud": (STUD, NUT),
    "captive nut": (BOLT, CAPTIVE_NUT),
    "dowel": (PIN,),
    "countersunk": (COUNTERSUNK, NUT),
    "countersunk tapped": (COUNTERSUNK,),
}
_STICKS_OUT: Final = "the length is what sticks out"
_NOT_ENTERED: Final = "length not entered"


def hardware_list(judging: Judging, spares_percent: int = 0) -> HardwareList:
    """
    The hardware of all bolted connections with the open revisions where there are any, and the bought parts.

    `spares_percent` of each come on top, rounded up. Raises BadInput for a share below 0 or above MOST_SPARES.
    """
    if not 0 <= spares_percent <= MOST_SPARES:
        raise BadInput(f"read {spares_percent} % of spares; expected 0 to {MOST_SPARES}")
    with judging.store.reading() as facts, judging.kept():
        lines = read.part_lines(facts)
        bench = judging.bench(facts, [line.number for line in lines if not line.locked], kept=True)
        parts = {line.number: bench.part(bench.records.newest(line.number)) for line in lines}
        connections = [
            bench.records.connection(row.name)
            for row in read.rows(facts, ConnectionFact)
            if row.kind == "bolted"
        ]
        cases = [bench.connection_case(connection) for connection in connections]
        return _added_up(cases, parts, spares_percent, on_hand(facts))


def _added_up(
    cases: Iterable[ConnectionCase],
    parts: Mapping[str, Part],
    spares_percent: int,
    stock: Mapping[tuple[str, str, str], tuple[int, str]],
) -> HardwareList:
    cases = tuple(cases)
    shared = _shared(c.connection for c in cases)
    found: dict[Key, _Line] = {}
    missing: list[NotCounted] = []
    for case in cases:
        name = case.connection.name
        try:
            taken = tuple(_takes(case))
        except BadInput as why:
            missing.append(NotCounted(name, str(why)))
            continue
        times = _times(case.connection, parts, shared)
        for item, bolt, length, each in taken:
            line = found.setdefault(_key(item, bolt, length), _Line(item, bolt, length.written))
            line.uses.append(Use(name, each * times, times))
            line.remarks |= {length.remark: None} if length.remark else {}
    for (item, size, mm), (count, written) in stock.items():
        if count:
            found.setdefault((item, size, mm), _Line(item, fastener(size), written))
    keys = sorted(found, key=lambda k: (*found[k].place, float(k[2] or 0)))
    lines = (found[k].needed(k[1], spares_percent, stock.get(k, (0, ""))[0]) for k in keys)
    bought = (BoughtPart(p.number, p.title, p.quantity) for p in parts.values() if p.form == "bought")
    return HardwareList(tuple(lines), tuple(bought), tuple(missing))


@dataclass(frozen=True, slots=True)
class _Length:
    """A length as written and in mm, both empty where an item has none or it is not known; what is to be said of it."""

    written: str = ""
    mm: str = ""
    remark: str = ""


@dataclass
class _Line:
    """A line of the list while it is added up."""

    item: str
    bolt: Fastener
    written: str
    uses: list[Use] = field(default_factory=list)
    remarks: dict[str, None] = field(default_factory=dict)

    @property
    def place(self) -> tuple[int, str, float]:
        """Bolts first, by system of threads and diameter."""
        return ITEMS.index(self.item), self.bolt.system, self.bolt.diameter_mm

    def needed(self, size: str, spares_percent: int, on_hand: int) -> Needed:
        spares = math.ceil(sum(use.count for use in self.uses) * spares_percent / 100)
        return Needed(self.item, size, self.written, tuple(self.uses), spares, on_hand, tuple(self.remarks))


Taken = tuple[str, Fastener, _Length, int]  # an item, for which thread, how long, how many each time


def _key(item: str, bolt: Fastener, length: _Length) -> Key:
    return item, washer_size(bolt) if item == WASHER else bolt.designation, length.mm


def _shared(connections: Iterable[Connection]) -> Counter[tuple[str, str]]:
    """How many connections take the same holes of a part."""
    return Counter(
        (ply.part, ply.group) for c in connections for ply in {p.part: p for p in c.plies}.values()
    )


def _times(connection: Connection, parts: Mapping[str, Part], shared: Mapping[tuple[str, str], int]) -> int:
    """How often a connection occurs: as often as the part of it that there are most of."""
    return max(math.ceil(_pieces(parts[p.part]) / shared[p.part, p.group]) for p in connection.plies)


def _pieces(part: Part) -> int:
    """How many of a part are put in, spares apart."""
    if part.per_assembly is not None:
        return max(part.per_assembly * (part.assemblies or 1), 1)
    return max((part.quantity or 1) - (part.spares or 0), 1)


def _takes(case: ConnectionCase) -> Iterator[Taken]:
    """What one occurrence of a connection takes. Raises BadInput for what cannot be counted."""
    connection = case.connection
    own, unknown = fastener(connection.fastener), _Length(remark=_NOT_ENTERED)
    there = connection.joint == "stud" and case.plies[-1].part.form != "cut"
    items = tuple(i for i in _TAKES[connection.joint] if not (there and i == STUD))  # studs that are there
    length = unknown if connection.joint == "dowel" else _length(case, own, connection.joint)
    yield from _items(items, own, length, _count(case), washers(case))
    for other in connection.also:
        bolt, count = fastener(other.fastener), _count_of(case, other)
        yield from _items(_TAKES[other.joint], bolt, unknown, count, usual_washers(other.joint))


def _items(
    items: Iterable[str], bolt: Fastener, length: _Length, count: int, on_each: int
) -> Iterator[Taken]:
    for item in items:
        yield item, bolt, length if item in WITH_LENGTH else _Length(), count
    if on_each:
        yield WASHER, bolt, _Length(), count * on_each


def _count(case: ConnectionCase) -> int:
    """How many fasteners of its own a connection has. Raises BadInput where its holes are not known."""
    undrawn = [p.part.number for p in case.plies if not p.holes]
    if undrawn and case.connection.joint != "drilled on site":
        raise BadInput(f"no holes known of {visible(' and '.join(dict.fromkeys(undrawn)))}")
    two = len(case.plies) == 2  # noqa: PLR2004 - the first laid on the second
    counts = [
        len(bolted_holes(case, p) if two and not p.ply.group else p.holes) for p in case.plies if p.holes
    ]
    if not counts or not min(counts):
        raise BadInput("no holes known that its fasteners go through")
    return min(counts)


def _count_of(case: ConnectionCase, other: Also) -> int:
    counts = [len(p.holes_of(group)) for p, group in zip(case.plies, other.groups, strict=True)]
    if not all(counts):
        raise BadInput(f"no holes known for its {visible(other.fastener)}")
    return min(counts)


def _length(case: ConnectionCase, bolt: Fastener, joint: str) -> _Length:
    """The length as it is ordered: as entered, else the next stock length."""
    entered = case.connection.bolt_length
    if entered is not None:
        return _Length(entered.written, plain(entered.mm), _STICKS_OUT if joint == "stud" else "")
    needed = bolt_needed(case)
    if needed is None:
        return _Length(remark=f"{_NOT_ENTERED}, and a thickness or a table for the stack is missing")
    sold = next_length(bolt, needed)
    if joint == "stud" or sold is None:
        return _Length(remark=f"{_NOT_ENTERED}; at least {show_mm(needed, 2)}")
    return _Length(
        f"{sold:g} mm", f"{sold:g}", f"{_NOT_ENTERED}: next stock length above {show_mm(needed, 2)}"
    )
