"""
How many pieces of a lot are inspected, and how many of them may be bad.

A *plan* is a sample of n pieces that accepts the lot with up to Ac bad ones (single sampling, normal inspection). It
follows from the size of the lot, the inspection level, and the acceptable quality level, which is the worst share of
bad pieces, in percent, that is to be accepted nearly always. An arrow of the table leads to another sample size. What
a plan does with a lot is exact (hypergeometric), since the lots of a fabricator are small.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from math import comb, fsum
from typing import Any

from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.standards.table import source_of, table

LEVELS = ("I", "II", "III")
_LARGEST_LOT = 500_000


@dataclass(frozen=True, slots=True)
class Plan:
    """`sample` pieces of `lot` are inspected; it is accepted with up to `accept` bad ones, refused with one more."""

    lot: int
    letter: str
    sample: int
    accept: int
    source: str

    @property
    def whole_lot(self) -> bool:
        """Whether every piece is inspected."""
        return self.sample >= self.lot

    @property
    def refuse(self) -> int:
        """From so many bad pieces on the lot is refused."""
        return self.accept + 1

    def odds(self, bad: int) -> Fraction:
        """The chance that the lot is accepted although so many of it are bad."""
        return odds_of_lot(self.lot, self.sample, self.accept, bad)

    def may_pass(self, risk: Fraction = Fraction(1, 10)) -> int:
        """The most bad pieces with which the lot is accepted more often than `risk`."""
        passing = (bad for bad in range(self.lot, -1, -1) if self.odds(bad) > risk)
        return next(passing, 0)


def plan(lot: int, aql: str, level: str = "II") -> Plan:
    """
    The plan for a lot by an acceptable quality level such as `1.0` (percent).

    A sample not smaller than the lot means every piece. Raises BadInput, UnknownName.
    """
    if not 0 < lot <= _LARGEST_LOT:
        raise BadInput(f"a lot of {lot} pieces; expected 1 to {_LARGEST_LOT}")
    if level not in LEVELS:
        raise UnknownName("inspection level", level, LEVELS)
    data = table("sampling")
    up_to: Sequence[int] = data["lots"]["up_to"]
    letter = data["lots"]["levels"][level][next(k for k, most in enumerate(up_to) if lot <= most)]
    size, accept = _followed(data["plans"], letter, _level_place(data["plans"]["levels"], aql))
    sources = "; ".join(source_of("sampling", data[part]) for part in ("lots", "plans"))
    return Plan(lot, letter, min(size, lot), accept if size < lot else 0, sources)


def every_piece(lot: int) -> Plan:
    """Every piece is inspected, and none may be bad. Raises BadInput."""
    if lot <= 0:
        raise BadInput(f"a lot of {lot} pieces; expected at least 1")
    return Plan(lot, "", lot, 0, "every piece")


def odds_of_lot(lot: int, sample: int, accept: int, bad: int) -> Fraction:
    """
    The chance of up to `accept` bad pieces among `sample` of `lot`, of which `bad` are bad: hypergeometric, exactly.

    Raises BadInput for counts that cannot be.
    """
    if not (0 <= bad <= lot and 0 <= sample <= lot and accept >= 0):
        raise BadInput(f"{sample} pieces of {lot}, {bad} of them bad: there is no such lot")
    ways = sum(comb(bad, k) * comb(lot - bad, sample - k) for k in range(min(accept, sample) + 1))
    return Fraction(ways, comb(lot, sample))


def odds_of_many(sample: int, accept: int, share: float) -> float:
    """The same where the lot is far larger than the sample and a share of it is bad (binomial)."""
    return fsum(
        comb(sample, k) * share**k * (1 - share) ** (sample - k) for k in range(min(accept, sample) + 1)
    )


def smallest_sample(lot: int, bad: int, risk: Fraction = Fraction(1, 10)) -> int:
    """The fewest pieces, all to be good, with which a lot with so many bad ones is accepted no oftener than `risk`."""
    return next((n for n in range(lot + 1) if odds_of_lot(lot, n, 0, bad) <= risk), lot)


def _level_place(known: Sequence[str], aql: str) -> int:
    try:
        asked = Decimal(aql.strip().rstrip("%").strip())
    except InvalidOperation as fault:
        raise BadInput(
            f"read {visible(aql)!r}; expected an acceptable quality level such as 1.0 %"
        ) from fault
    for place, written in enumerate(known):
        if asked == Decimal(written):
            return place
    raise UnknownName("acceptable quality level", visible(aql), known, near=known)


def _followed(plans: dict[str, Any], letter: str, level: int) -> tuple[int, int]:
    """Sample size and acceptance number of a letter, arrows followed."""
    place: int = plans["letters"].index(letter)
    accept: Sequence[int | str] = plans["accept"]
    while True:
        on_diagonal = place + level - plans["zero"]
        cell = "down" if on_diagonal < 0 else accept[on_diagonal] if on_diagonal < len(accept) else "up"
        if isinstance(cell, int):
            return plans["sizes"][place], cell
        place += 1 if cell == "down" else -1
