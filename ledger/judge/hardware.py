"""
Hardware of every connection, counted: what each joint takes, how often the connection occurs, spares, what is on hand.

A connection occurs as often as the part of it that there are most of; where the same holes of a part take several
connections, its pieces are shared among these. Counted are the holes of the groups that the connection
names, else those that the fit pairs. Nothing is guessed: what cannot be counted is told with what is missing.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from ledger.cases.connections import ConnectionCase
from ledger.checks._seats import bolted_holes, washers
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
    BoughtPart,
    HardwareList,
    Needed,
    Use,
)
from ledger.domain.quantity import plain, show_mm
from ledger.domain.record import Part
from ledger.judge.verdicts import Judging
from ledger.standards.bolts import parted
from ledger.standards.fasteners import Fastener, fastener
from ledger.standards.lengths import next_length
from ledger.store import facts as read
from ledger.store.hardware import on_hand
from ledger.store.tables import ConnectionFact

MOST_SPARES: Final = 1000
Key = tuple[str, str, str, str]  # item, size, length as written, length in mm
Taken = tuple[Key, int, str]  # how many of an item each time, and a remark
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
    uses: defaultdict[Key, list[Use]] = defaultdict(list)
    remarks: defaultdict[Key, dict[str, None]] = defaultdict(dict)
    missing: list[str] = []
    for case in cases:
        name = case.connection.name
        try:
            taken = tuple(_takes(case))
        except BadInput as why:
            missing.append(f"{visible(name)}: {why}")
            continue
        times = _times(case.connection, parts, shared)
        for key, each, remark in taken:
            same = next((k for k in uses if (k[0], k[1], k[3]) == (key[0], key[1], key[3])), key)
            uses[same].append(Use(name, each * times, times))
            remarks[same] |= {remark: None} if remark else {}
    there = {(item, size, length): count for (item, size, length), (count, _) in stock.items() if count}
    for (item, size, length), (count, written) in stock.items():
        if count and not any((k[0], k[1], k[3]) == (item, size, length) for k in uses):
            uses[item, size, written, length] = []
    lines = [
        Needed(
            *key[:3],
            uses=tuple(uses[key]),
            spares=math.ceil(sum(u.count for u in uses[key]) * spares_percent / 100),
            on_hand=there.get((key[0], key[1], key[3]), 0),
            remarks=tuple(remarks[key]),
        )
        for key in sorted(uses, key=_place)
    ]
    bought = (BoughtPart(p.number, p.title, p.quantity) for p in parts.values() if p.form == "bought")
    return HardwareList(tuple(lines), tuple(bought), tuple(missing))


def _place(key: Key) -> tuple[int, str, float, float]:
    """Bolts first, by thread and length."""
    item, size, _, length = key
    return ITEMS.index(item), size[:1], _diameter(size), float(length or 0)


def _diameter(size: str) -> float:
    return fastener(size).diameter_mm


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
    own = fastener(connection.fastener)
    holder = case.plies[-1].part
    if connection.joint == "stud" and holder.form != "cut":
        items = tuple(i for i in _TAKES["stud"] if i != STUD)  # the studs are there
    else:
        items = _TAKES[connection.joint]
    count = _count(case)
    on_each = 0 if connection.joint == "dowel" else washers(case)
    length = _length(case, own, connection.joint) if connection.joint != "dowel" else ("", "", _NOT_ENTERED)
    yield from _items(items, own, count, on_each, length)
    for other in connection.also:
        usual = 0 if other.joint == "dowel" else _washers_of(other)
        yield from _items(
            _TAKES[other.joint],
            fastener(other.fastener),
            _count_of(case, other),
            usual,
            ("", "", _NOT_ENTERED),
        )


def _items(
    items: Iterable[str], bolt: Fastener, count: int, on_each: int, length: tuple[str, str, str]
) -> Iterator[Taken]:
    written, mm, remark = length
    thread = fastener(parted(bolt.designation)[0]).designation if not bolt.make.words else bolt.designation
    for item in items:
        if item in (NUT, CAPTIVE_NUT):
            yield (item, thread, "", ""), count, ""
        else:
            yield (item, bolt.designation, written, mm), count, remark
    if on_each:
        size = bolt.designation if bolt.make.washer else bolt.size
        yield (WASHER, size, "", ""), count * on_each, ""


def _washers_of(other: Also) -> int:
    """Washers on a fastener of which nobody says how many it has: one under the head, one under the nut."""
    return {"through": 2, "drilled on site": 2, "countersunk tapped": 0}.get(other.joint, 1)


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


def _length(case: ConnectionCase, bolt: Fastener, joint: str) -> tuple[str, str, str]:
    """The length as it is ordered, as written and in mm, and what is to be said of it."""
    entered = case.connection.bolt_length
    stud = _STICKS_OUT if joint == "stud" else ""
    if entered is not None:
        return entered.written, plain(entered.mm), stud
    needed = bolt_needed(case)
    if needed is None:
        return "", "", f"{_NOT_ENTERED}, and a thickness or a table for the stack is missing"
    sold = next_length(bolt, needed)
    if joint == "stud" or sold is None:
        return "", "", f"{_NOT_ENTERED}; at least {show_mm(needed, 2)}"
    return (
        f"{sold:g} mm",
        f"{sold:g}",
        f"{_NOT_ENTERED}: next stock length above {show_mm(needed, 2)}",
    )
