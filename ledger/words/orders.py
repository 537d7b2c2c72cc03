"""Orders and receipts in one line, and how orders stand."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Any

from ledger.domain.errors import BadInput, visible
from ledger.domain.moment import day
from ledger.domain.order import MOST_PIECES, Order
from ledger.words.forms import ORDER, RECEIPT
from ledger.words.line import Line, reads

_TO = re.compile(r"(?P<ident>.+?)\s+to\s+(?P<vendor>.+)", re.DOTALL)
_COUNTED = re.compile(r"(?P<part>\S+)(?:\s+(?:x\s*)?(?P<count>[0-9]{1,7}))?")


@reads(ORDER)
def order_line(text: str) -> Line:
    """`O1 to Kerf & Son: BASE 2, TURN; due 2027-05-17; ref 4711; price 120 EUR`. Raises BadInput."""
    head, colon, rest = (piece.strip() for piece in text.partition(":"))
    named = _TO.fullmatch(head)
    listed, *more = (piece.strip() for piece in rest.split(";"))
    if named is None or not (colon and listed):
        raise BadInput(f"expected {ORDER.hint}")
    fields: dict[str, Any] = {**named.groupdict(), "parts": _counted(listed)}
    for piece in filter(None, more):
        fields |= _piece(piece)
    return Line(fields, _reading(fields))


@reads(RECEIPT)
def receipt_line(text: str) -> Line:
    """`O1: BASE 2, TURN 1; one edge scratched; on 2027-05-14`. Raises BadInput."""
    ident, colon, rest = (piece.strip() for piece in text.partition(":"))
    listed, *more = (piece.strip() for piece in rest.split(";"))
    if not (colon and ident and listed):
        raise BadInput(f"expected {RECEIPT.hint}")
    parts = _counted(listed)
    bare = [part for part, count in parts.items() if count is None]
    if bare:
        raise BadInput(f"how many of {visible(bare[0])}? expected such as {visible(bare[0])} 2")
    fields: dict[str, Any] = {"ident": ident, "parts": parts}
    said = []
    for piece in filter(None, more):
        if piece.lower().startswith("on ") and re.fullmatch(r"[0-9-]+", piece[3:].strip()):
            fields["day"] = day(piece[3:].strip()).isoformat()
        else:
            said.append(piece)
    fields |= {"state": "; ".join(said)} if said else {}
    words = ", ".join(f"{count} x {part}" for part, count in parts.items())
    on, state = fields.get("day", "today"), fields.get("state", "")
    return Line(fields, f"order {ident}, {on}: {words}{f'; {state}' if state else ''}")


def order_lines(found: Sequence[Order], today: str) -> Iterator[str]:
    """How orders stand: overdue ones first, then by the day that they are due, canceled and received ones last."""
    for order in by_urgency(found):
        yield f"{order.ident} to {order.vendor}: {order.state(today)}"
        yield f"  {', '.join(line.words for line in order.lines)}"
        left = order.missing
        if order.receipts and left:
            yield f"  missing: {', '.join(line.words for line in left)}"
    if not found:
        yield 'no order recorded; fitup order "O1 to Kerf & Son: BASE 2" records one'


def order_in_full(order: Order, today: str) -> Iterator[str]:
    """All that is known of one order."""
    yield from order_lines([order], today)
    sent = [f"sent {order.sent}", f"due {order.due}" if order.due else "no due day"]
    sent += [f"reference {order.reference}"] if order.reference else []
    sent += [f"price {order.price}"] if order.price else []
    yield f"  {'; '.join(sent)}"
    yield from (f"  {receipt.words}" for receipt in order.receipts)


def by_urgency(found: Sequence[Order]) -> list[Order]:
    """Open orders first, by the day that they are due."""
    return sorted(found, key=lambda o: (not o.missing, o.due or "9999", o.sent, o.ident))


def overdue_lines(found: Sequence[Order], today: str) -> Iterator[str]:
    """A line for every order that is overdue."""
    for order in by_urgency(found):
        if order.overdue(today):
            parts = ", ".join(line.words for line in order.missing)
            yield f"order {order.ident} is overdue since {order.due}: {parts} from {order.vendor}"


def _counted(text: str) -> dict[str, int | None]:
    """Parts with how many of each, `BASE 2, TURN`. Raises BadInput."""
    found: dict[str, int | None] = {}
    for piece in (p.strip() for p in text.split(",")):
        read = _COUNTED.fullmatch(piece)
        if read is None:
            raise BadInput(f"read {visible(piece)!r}; expected a part and how many, such as BASE 2")
        count = int(read["count"]) if read["count"] else None
        if count is not None and not 0 < count <= MOST_PIECES:
            raise BadInput(f"read {visible(piece)!r}; expected 1 to {MOST_PIECES} pieces")
        if read["part"] in found:
            raise BadInput(f"{visible(read['part'])} is named twice; expected each part once")
        found[read["part"]] = count
    return found


def _piece(piece: str) -> dict[str, str]:
    word, _, value = (p.strip() for p in piece.partition(" "))
    if word.lower() in ("due", "sent") and value:
        return {word.lower(): day(value).isoformat()}
    if word.lower() in ("ref", "reference") and value:
        return {"reference": value}
    if word.lower() == "price" and value:
        return {"price": value}
    raise BadInput(f"read {visible(piece)!r}; expected due, sent, ref or price, such as due 2027-05-17")


def _reading(fields: dict[str, Any]) -> str:
    parts = ", ".join(f"{count or 'as recorded'} x {part}" for part, count in fields["parts"].items())
    more = [f"{name} {fields[name]}" for name in ("sent", "due", "reference", "price") if name in fields]
    return "; ".join([f"order {fields['ident']} to {fields['vendor']}: {parts}", *more])
