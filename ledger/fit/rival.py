"""
Another position that explains the holes better than the one that is shown.

Two drawings of one pattern agree *closely*, far within what the holes allow, or exactly. Where some holes of such a
pattern are drawn wrong, another position may let more fasteners through by chance: turned by half a turn, say, on a
regular pitch. And a mirrored drawing may still let some of them through. So beside the position with the most passing
holes are sought: the one in which more holes agree closely, and with the other side up the one in which more pass.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from ledger.fit.candidates import Table
from ledger.fit.case import WAYS_UP, Rival, TurnedOver
from ledger.fit.chance import CLOSE_MM, FEWEST
from ledger.fit.effort import Effort
from ledger.fit.joint import Real
from ledger.fit.pairing import MOST_REFINED, Pairs, Plates, find_pairings
from ledger.fit.trial import Trial, fitted, try_pairing

MOST_TRIED: Final = 8
EXACT_MM: Final = (
    0.05  # what two drawings of one pattern agree to, rounding of units included; common practice
)
# how closely holes agree, and how many more of them do where another position explains the holes better
_CLOSER: Final = ((CLOSE_MM, 2), (EXACT_MM, 1))


@dataclass(frozen=True, slots=True)
class _Beside:
    """The shown trial, and with what effort others are sought beside it."""

    table: Table
    shown: Trial
    turned_over: TurnedOver
    effort: Effort

    @property
    def fewer(self) -> int:
        return min(len(self.table.a), len(self.table.b))

    @property
    def other_side(self) -> tuple[bool, ...]:
        """The side up that is not allowed, while it could let more holes through."""
        other = tuple(f for f in (False, True) if f not in WAYS_UP[self.turned_over])
        return other if len(self.shown.pairs) < self.fewer else ()


def close_mm(table: Table, trial: Trial) -> Real:
    """How closely the pairs of a trial agree, whatever their holes allow: where shown or by least squares."""
    return np.minimum(
        table.pairs_mm(trial.pose, trial.pairs), table.pairs_mm(fitted(table, trial), trial.pairs)
    )


def rival_of(table: Table, shown: Trial, turned_over: TurnedOver, effort: Effort) -> Rival | None:
    """The position that explains the holes better than the shown one; None where none is found with this effort."""
    beside = _Beside(table, shown, turned_over, effort)
    closer = (_closer(beside, close, more) for close, more in _CLOSER)
    return _turned_over(beside) or next((found for found in closer if found), None)


def _turned_over(beside: _Beside) -> Rival | None:
    """With the other side up more holes pass."""
    ways_up, least = beside.other_side, max(FEWEST, len(beside.shown.pairs) + 1)
    if not ways_up or least > beside.fewer:
        return None
    take_up, astray = beside.table.reach()
    found = _tried(beside, take_up, astray, ways_up, least)
    return _told(beside.table, found) if found else None


def _closer(beside: _Beside, close: float, more: int) -> Rival | None:
    """So many more holes agree so closely, two thirds of the smaller plate at least, but not all of them pass."""
    shown = beside.shown
    agree = int((close_mm(beside.table, shown) <= close).sum())
    least = max(FEWEST, math.ceil(2 * beside.fewer / 3), agree + more)
    if least > beside.fewer:
        return None
    take_up, astray = beside.table.reach()
    slots = beside.table.middles()[2]
    tight = np.where(beside.table.take_up >= 0, close, beside.table.take_up) + slots
    ways_up = (*WAYS_UP[beside.turned_over], *beside.other_side)
    found = _tried(beside, np.asarray(np.minimum(tight, np.maximum(take_up, close))), astray, ways_up, least)
    if found is None or int((close_mm(beside.table, found) <= close).sum()) < least:
        return None  # near enough to be looked at, but no closer than where shown
    if shown.displaced and len(found.pairs) + len(found.displaced) <= len(shown.pairs) + len(shown.displaced):
        return None  # no hole meets a counterpart there that it does not meet where shown
    allowed = found.turned_over in WAYS_UP[beside.turned_over]
    if allowed and not found.displaced and len(found.pairs) >= len(shown.pairs):
        return None  # one more way in which they go together
    return _told(beside.table, found)


def _tried(
    beside: _Beside, take_up: Real, astray: Real, ways_up: tuple[bool, ...], least: int
) -> Trial | None:
    """The first of the best pairings at these takes up in which so many holes pass."""
    a, b, _ = beside.table.middles()
    slotted = bool(beside.table.middles()[2].any())
    most = MOST_REFINED // 5 if slotted else MOST_REFINED
    search = find_pairings(Plates(a, b, take_up, astray), ways_up, least, most)
    beside.effort.short |= slotted and not search.complete
    for found in search.pairings[:MOST_TRIED]:
        if beside.effort.spent:
            beside.effort.short = True
            return None
        trial = try_pairing(
            beside.table, found.pairs, turned_over=found.turned_over, least=least, effort=beside.effort
        )
        if trial is not None:
            return trial
    return None


def _told(table: Table, trial: Trial) -> Rival:
    off = table.pairs_mm(trial.pose, trial.displaced) if trial.displaced else np.zeros(1)
    return Rival(trial.pose, len(trial.pairs), _labelled(table, trial.displaced), float(off.max()))


def _labelled(table: Table, pairs: Pairs) -> tuple[tuple[str, str], ...]:
    return tuple((table.a[i].label, table.b[k].label) for i, k in pairs)
