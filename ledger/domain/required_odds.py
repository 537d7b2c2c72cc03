"""
The odds that a job requires of holes that do not go together with every limit at once.

*Odds* are the share of lots that go together, in percent, as a plain decimal ("99"). *Worst case* in their place
requires every limit at once: the smallest holes, the largest fastener, every position out.
"""

from __future__ import annotations

import math
from decimal import Decimal, InvalidOperation
from typing import Final

from ledger.domain.errors import BadInput, visible
from ledger.domain.number_text import plain

USUAL: Final = "99"  # common practice, no source
WORST_CASE: Final = "worst case"
LEAST, MOST = Decimal(50), Decimal("99.9")


def read_odds(text: str) -> str:
    """What was written as odds: "99", "99.5 %" or "worst case". Raises BadInput."""
    said = text.strip()
    if said.lower().replace("-", " ") == WORST_CASE:
        return WORST_CASE
    number = said.removesuffix("%").strip()
    try:
        percent = Decimal(number) if number.isascii() and len(number) <= 12 else None  # noqa: PLR2004 - no odds are longer
    except InvalidOperation:
        percent = None
    if percent is None or not percent.is_finite() or not LEAST <= percent <= MOST:
        raise BadInput(
            f"odds {visible(text)}: expected a percentage from {LEAST} to {MOST}, such as 99, or 'worst case' to "
            f"require every limit at once"
        )
    return plain(percent)


def odds_words(odds: str) -> str:
    """What is required, in words."""
    return "every limit at once" if odds == WORST_CASE else f"{odds} %"


def share_of(odds: str) -> float | None:
    """The share of lots that must go together; None where every limit at once is required."""
    return None if odds == WORST_CASE else float(Decimal(odds) / 100)


def percent(share: float) -> str:
    """A share rounded down to a hundredth of a percent: a claim is never rounded up."""
    return f"{math.floor(share * 10_000 + 1e-9) / 100:.2f} %"
