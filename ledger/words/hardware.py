"""Hardware on hand in one line, and the list of what is to be bought."""

from __future__ import annotations

import re
from collections.abc import Iterator

from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.needed import ITEMS, MOST, WASHER, WITH_LENGTH, HardwareList, Needed, named
from ledger.domain.plural import counted
from ledger.standards.fasteners import fastener
from ledger.standards.hardware import washer_size
from ledger.words.forms import HARDWARE
from ledger.words.line import Line, above_zero, reads

_COUNTED = re.compile(r"\s*(?P<count>[0-9]{1,9})\s*(?:x\s+)?(?P<rest>\S.*)", re.DOTALL)
_LONG = re.compile(r"\s+x\s+", re.IGNORECASE)


@reads(HARDWARE)
def hardware_line(text: str) -> Line:
    """`12 bolt M8 x 30 mm`: how many are on hand. Raises BadInput, UnknownName."""
    found = _COUNTED.fullmatch(text)
    if found is None or int(found["count"]) > MOST:
        raise BadInput(f"expected {HARDWARE.hint}")
    item, rest = _item(found["rest"])
    size, *length = _LONG.split(rest, maxsplit=1)
    bolt = fastener(size)
    if length and item not in WITH_LENGTH:
        raise BadInput(f"a {item} has no length; expected such as '40 {item} {bolt.designation}'")
    if not length and item in WITH_LENGTH:
        raise BadInput(f"how long is the {item}? expected such as '12 {item} {bolt.designation} x 30 mm'")
    written = above_zero("length", length[0]) if length else ""
    fields = {"item": item, "length": written, "count": int(found["count"])}
    fields["size"] = washer_size(bolt) if item == WASHER else bolt.designation
    return Line(
        fields,
        f"{counted(int(found['count']), 'piece')} of {named(item, str(fields['size']), written)} on hand",
    )


def hardware_lines(found: HardwareList) -> Iterator[str]:
    """The list in lines: how many to buy of what, where they go, and what could not be counted."""
    for line in found.lines:
        yield f"{line.to_buy:>6}  {hardware_words(line)}"
        yield f"        {uses_words(line) or 'not needed'}"
        for remark in line.remarks:
            yield f"        {remark}"
    for part in found.bought:
        count = "?" if part.quantity is None else str(part.quantity)
        yield f"{count:>6}  {part.number}{f': {part.title}' if part.title else ''} (bought part)"
    if not (found.lines or found.bought or found.not_counted):
        yield "no hardware: no connection is bolted"
    if found.not_counted:
        yield f"not counted: {counted(len(found.not_counted), 'connection')}"
        yield from (f"  {one.words}" for one in found.not_counted)


def uses_words(line: Needed) -> str:
    """Where the pieces of a line go: `TURN-BASE 4, ARM-BASE 8 (2 x 4)`."""
    return ", ".join(
        f"{u.connection} {u.count}" + (f" ({u.times} x {u.count // u.times})" if u.times > 1 else "")
        for u in line.uses
    )


def hardware_words(line: Needed) -> str:
    """`bolt M8 x 30 mm  (8 needed, 1 spare, 5 on hand)`."""
    said = [f"{line.count} needed"] if line.count and (line.spares or line.on_hand) else []
    said += [f"{counted(line.spares, 'spare')}"] if line.spares else []
    said += [f"{line.on_hand} on hand"] if line.on_hand else []
    return f"{line.name}  ({', '.join(said)})" if said else line.name


def _item(text: str) -> tuple[str, str]:
    """The item that words begin with, in the singular or plural, and the rest. Raises UnknownName."""
    words = text.split()
    for n in (2, 1):
        named_so = " ".join(words[:n]).lower()
        for item in ITEMS:
            if named_so in (item, f"{item}s"):
                return item, " ".join(words[n:])
    raise UnknownName("item of hardware", visible(words[0]), ITEMS)
