"""
Orders: what was sent to a vendor, of which revision, how many, due when, and what came back.

Each piece that comes back has a number of its own among the pieces of its part: BASE#1, BASE#2.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

MOST_PIECES: Final = 1_000_000


@dataclass(frozen=True, slots=True)
class OrderLine:
    """A locked revision of a part, and how many pieces of it."""

    part: str
    revision: str
    quantity: int

    @property
    def words(self) -> str:
        """`4 x BASE A`."""
        return f"{self.quantity} x {self.part} {self.revision}"


@dataclass(frozen=True, slots=True)
class Receipt:
    """Pieces of one part that came back: how many, the number of the first, on what day, in what state, by whom."""

    part: str
    revision: str
    count: int
    first: int
    day: str
    state: str
    by: str

    @property
    def pieces(self) -> tuple[str, ...]:
        """The pieces by name."""
        return tuple(f"{self.part}#{n}" for n in range(self.first, self.first + self.count))

    @property
    def words(self) -> str:
        """`2027-05-14: BASE#1..BASE#4, one edge scratched (Mira)`."""
        names = self.pieces
        span = names[0] if len(names) == 1 else f"{names[0]}..{names[-1]}"
        state = f", {self.state}" if self.state else ""
        return f"{self.day}: {span}{state} ({self.by})"


@dataclass(frozen=True, slots=True)
class Order:
    """One order. `due` is empty where nobody said and the vendor has no lead time; `canceled` is the reason."""

    ident: str
    vendor: str
    sent: str
    due: str
    lines: tuple[OrderLine, ...]
    reference: str = ""
    price: str = ""
    canceled: str = ""
    receipts: tuple[Receipt, ...] = ()

    def received(self, part: str) -> int:
        """How many pieces of a part came back."""
        return sum(r.count for r in self.receipts if r.part == part)

    @property
    def missing(self) -> tuple[OrderLine, ...]:
        """What has not come back yet; nothing of a canceled order."""
        left = (OrderLine(x.part, x.revision, x.quantity - self.received(x.part)) for x in self.lines)
        return () if self.canceled else tuple(line for line in left if line.quantity)

    def overdue(self, today: str) -> bool:
        """Whether something is missing that was due before today."""
        return bool(self.missing) and bool(self.due) and self.due < today

    def state(self, today: str) -> str:
        """How it stands, in words."""
        if self.canceled:
            return f"canceled: {self.canceled}"
        if not self.missing:
            return "received"
        some = "in part received, " if self.receipts else ""
        if not self.due:
            return f"{some}no due day"
        return f"{some}{f'OVERDUE since {self.due}' if self.overdue(today) else f'due {self.due}'}"

    def to_json(self, today: str) -> dict[str, Any]:
        """Plain values."""
        lines = [
            {
                "part": x.part,
                "revision": x.revision,
                "quantity": x.quantity,
                "received": self.received(x.part),
            }
            for x in self.lines
        ]
        receipts = [
            {"part": r.part, "pieces": list(r.pieces), "day": r.day, "state": r.state, "by": r.by}
            for r in self.receipts
        ]
        return {
            "order": self.ident, "vendor": self.vendor, "sent": self.sent, "due": self.due or None, "lines": lines,
            "reference": self.reference, "price": self.price, "canceled": self.canceled or None,
            "overdue": self.overdue(today), "state": self.state(today), "receipts": receipts,
        }  # fmt: skip
